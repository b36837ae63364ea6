"""Looking over every stream that worked in a slot for windows beyond their threshold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.monitor.attribution import Candidate, judge
from qc.monitor.budget import (
    LONGEST_ALPHA,
    WEEKS_OF_WORTH,
    AlarmBudget,
    family_share,
    length_share,
    slots_per_week,
    stream_worth,
)
from qc.monitor.detection import upper_tail
from qc.monitor.dispersion import FITTED_SD
from qc.monitor.evidence import Floats, Ints
from qc.monitor.factors import FACTORS, LOT_FACTORS, ZONED_FACTORS
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import (
    GEOMETRIC_LENGTHS,
    Spread,
    Stream,
    WindowFit,
    fit_windows,
    fit_zone_windows,
    window_starts,
)

TRIED = 4
"""Windows of a stream that are looked at closely in one slot."""

FIRST_RECORDS_US = 10 * DAY_US
LEAST_PAST = 5.0
"""A level of the first days needs a past of so many expected faults before a change is seen."""

LEAST_OWN_PAST = 8.0
"""The same of a fabric, a transfer or a place: their own past is all they can be held against, and
a lucky first week is none."""

LEAST_FAULTS = 4
"""Fewer faults than this in a window never make a flag: one person's bad hour is not a trend."""

WORTH_A_LOOK = 2.5
"""Gain in log likelihood below which no threshold of a sensible budget can be reached."""


def alarms(
    state: StreamCounts, rows: Ints, spread: Spread, thresholds: Thresholds, kinds: Ints
) -> list[Candidate]:
    """Streams beyond their threshold at the end of a slot, the least likely by luck first.

    ``rows`` are those that worked or had new faults in it; only they are looked at.
    """
    found: dict[Stream, Candidate] = {}
    tried: Counter[Stream] = Counter()
    for stream, start in _suspects(state, rows, spread, kinds, thresholds):
        if stream in found or tried[stream] == TRIED:
            continue
        tried[stream] += 1
        judged = judge(state, stream, start, int(thresholds.n_levels[stream.row]), spread)
        if is_signal(state, judged, thresholds):
            found[stream] = judged
    return sorted(found.values(), key=lambda c: c.tail)


def is_signal(
    state: StreamCounts, judged: Candidate, thresholds: Thresholds, *, part: float = 1.0
) -> bool:
    """Is a stream so far beyond what luck gives that the budget, or a part of it, lets it raise a
    flag?"""
    stream, length = judged.stream, state.n_slots - judged.start
    alpha = thresholds.alpha(np.array([stream.kind]), np.array([stream.row]), np.array([length]),
                             zoned=stream.zone is not None)
    enough = judged.observed >= LEAST_FAULTS and _is_a_change(state, judged)
    return bool(judged.tail < part * alpha and enough)


def _is_a_change(state: StreamCounts, judged: Candidate) -> bool:
    """Is there a before? What differs since the first records may always have been so: that is
    for the ranking to show. A lot, and whoever came later, may be bad from the first piece on."""
    row = judged.stream.row
    factor = state.factor(row)
    least = LEAST_OWN_PAST if factor in FITTED_SD else LEAST_PAST
    if factor in LOT_FACTORS or judged.past >= least:
        return True
    known_us = state.slot_start_us[state.first_slot[row]] - state.slot_start_us[0]
    return known_us > FIRST_RECORDS_US


def watched_families(state: StreamCounts) -> list[tuple[str, bool]]:
    """Families of streams that are looked at: each factor, and with zones where it has them."""
    there = [FACTORS[f] for f in np.unique(state.row_factor)]
    zoned = [(name, True) for name in there if name in ZONED_FACTORS and state.has_zones]
    return [(name, False) for name in there] + zoned


class Thresholds:
    """Tail probability at which a stream of each kind and row may alarm at the end of this slot."""

    def __init__(self, state: StreamCounts, rows: Ints, budget: AlarmBudget) -> None:
        pace = slots_per_week(np.array(state.slot_start_us))
        families = watched_families(state)
        monthly = state.kind_total * (WEEKS_OF_WORTH * pace / state.n_slots)
        at_work = np.bincount(state.row_factor[rows], minlength=len(FACTORS))
        self.n_levels = at_work[state.row_factor]
        self._alpha = {zoned: np.zeros((len(state.kinds), len(FACTORS))) for zoned in (False, True)}
        for name, zoned in families:
            f = FACTORS.index(name)
            n_streams = max(int(at_work[f]), 1) * (len(ZONES) if zoned else 1)
            worth = stream_worth(monthly / n_streams) * (state.kind_total > 0)
            share = family_share(name, families, zoned=zoned)
            self._alpha[zoned][:, f] = budget.per_stream(pace, share, worth) / n_streams
        self._factor = state.row_factor

    def alpha(self, kinds: Ints, rows: Ints, lengths: Ints, *, zoned: bool) -> Floats:
        """Of windows of these lengths; kinds, rows and lengths broadcast."""
        of_slot = self._alpha[zoned][kinds, self._factor[rows]]
        shared = of_slot * length_share(lengths, len(GEOMETRIC_LENGTHS))
        return np.asarray(np.minimum(shared, LONGEST_ALPHA))


def _suspects(
    state: StreamCounts, rows: Ints, spread: Spread, kinds: Ints, thresholds: Thresholds
) -> Iterator[tuple[Stream, int]]:
    starts = window_starts(state, GEOMETRIC_LENGTHS)
    lengths = state.n_slots - starts
    fit = fit_windows(state, rows, starts, kinds, spread)
    alpha = thresholds.alpha(kinds[:, None, None], rows[:, None], lengths, zoned=False)
    for kind, row, start in _beyond(fit, alpha):
        yield Stream(kind=int(kinds[kind]), row=int(rows[row])), int(starts[start])
    rows = state.zoned_rows(rows)
    if len(rows) == 0:
        return
    fit = fit_zone_windows(state, rows, starts, kinds, spread)
    alpha = thresholds.alpha(kinds[:, None, None, None], rows[:, None, None], lengths, zoned=True)
    for kind, row, zone, start in _beyond(fit, alpha):
        yield Stream(kind=int(kinds[kind]), row=int(rows[row]), zone=zone), int(starts[start])


def _beyond(fit: WindowFit, alpha: Floats) -> Iterator[tuple[int, ...]]:
    """Positions (kind, row, zone if any, start) of the windows beyond alpha, of as many axes, the
    least likely first."""
    worth = (fit.gain > WORTH_A_LOOK) & (fit.observed >= LEAST_FAULTS)
    at = np.nonzero(worth)
    if len(at[0]) == 0:
        return
    tail: Floats = upper_tail(fit.observed[at], fit.mean[at], fit.variance[at])
    below = np.flatnonzero(tail < np.broadcast_to(alpha, worth.shape)[at])
    for i in below[np.argsort(tail[below], kind="stable")]:
        yield tuple(int(axis[i]) for axis in at)
