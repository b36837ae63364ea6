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
    AlarmBudget,
    family_share,
    length_share,
    slots_per_week,
)
from qc.monitor.detection import upper_tail
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
LEAST_PAST = 2.0
"""A level of the first days needs a past of so many expected faults before a change is seen."""

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
    length, row = np.array([state.n_slots - judged.start]), np.array([judged.stream.row])
    alpha = thresholds.alpha(row, length, zoned=judged.stream.zone is not None)
    enough = judged.observed >= LEAST_FAULTS and _is_a_change(state, judged)
    return bool(judged.tail < part * alpha and enough)


def _is_a_change(state: StreamCounts, judged: Candidate) -> bool:
    """Is there a before? What differs since the first records may always have been so: that is
    for the ranking to show. A lot, and whoever came later, may be bad from the first piece on."""
    row = judged.stream.row
    if state.factor(row) in LOT_FACTORS or judged.past >= LEAST_PAST:
        return True
    known_us = state.slot_start_us[state.first_slot[row]] - state.slot_start_us[0]
    return known_us > FIRST_RECORDS_US


def watched_families(state: StreamCounts) -> list[tuple[str, bool]]:
    """Families of streams that are looked at: each factor, and with zones where it has them."""
    there = [FACTORS[f] for f in np.unique(state.row_factor)]
    zoned = [(name, True) for name in there if name in ZONED_FACTORS and state.has_zones]
    return [(name, False) for name in there] + zoned


class Thresholds:
    """Tail probability at which a stream of each row may alarm at the end of this slot."""

    def __init__(self, state: StreamCounts, rows: Ints, budget: AlarmBudget) -> None:
        pace = slots_per_week(np.array(state.slot_start_us))
        families = watched_families(state)
        n_kinds = int((state.kind_total > 0).sum())
        at_work = np.bincount(state.row_factor[rows], minlength=len(FACTORS))
        self.n_levels = at_work[state.row_factor]
        self._alpha = {
            zoned: np.array([
                budget.per_stream(
                    pace, family_share(name, families, zoned=zoned),
                    n_kinds * int(at_work[f]) * (len(ZONES) if zoned else 1),
                ) if (name, zoned) in families else 0.0
                for f, name in enumerate(FACTORS)
            ])[state.row_factor]
            for zoned in (False, True)
        }

    def alpha(self, rows: Ints, lengths: Ints, *, zoned: bool) -> Floats:
        """Of a row's windows of these lengths; rows and lengths broadcast."""
        shared = self._alpha[zoned][rows] * length_share(lengths, len(GEOMETRIC_LENGTHS))
        return np.asarray(np.minimum(shared, LONGEST_ALPHA))


def _suspects(
    state: StreamCounts, rows: Ints, spread: Spread, kinds: Ints, thresholds: Thresholds
) -> Iterator[tuple[Stream, int]]:
    starts = window_starts(state, GEOMETRIC_LENGTHS)
    lengths = state.n_slots - starts
    fit = fit_windows(state, rows, starts, kinds, spread)
    alpha = thresholds.alpha(rows[:, None], lengths, zoned=False)
    for kind, row, start in _beyond(fit, alpha):
        yield Stream(kind=int(kinds[kind]), row=int(rows[row])), int(starts[start])
    rows = state.zoned_rows(rows)
    if len(rows) == 0:
        return
    fit = fit_zone_windows(state, rows, starts, kinds, spread)
    alpha = thresholds.alpha(rows[:, None, None], lengths, zoned=True)
    for kind, row, zone, start in _beyond(fit, alpha):
        yield Stream(kind=int(kinds[kind]), row=int(rows[row]), zone=zone), int(starts[start])


def _beyond(fit: WindowFit, alpha: Floats) -> Iterator[tuple[int, ...]]:
    """Positions (kind, row, zone if any, start) of the windows beyond alpha, (rows, starts) or
    (rows, zones, starts), the least likely first."""
    worth = (fit.gain > WORTH_A_LOOK) & (fit.observed >= LEAST_FAULTS)
    at = np.nonzero(worth)
    if len(at[0]) == 0:
        return
    tail: Floats = upper_tail(fit.observed[at], fit.mean[at], fit.variance[at])
    below = np.flatnonzero(tail < np.broadcast_to(alpha, worth.shape[1:])[at[1:]])
    for i in below[np.argsort(tail[below], kind="stable")]:
        yield tuple(int(axis[i]) for axis in at)
