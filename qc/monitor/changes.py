"""What has been found so far: changes of a stream's rate, kept while the records come in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from qc.monitor.attribution import Candidate
from qc.monitor.detection import log_likelihood_ratio
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import Stream

END_GAIN = 6.5
"""Gain in log likelihood of "it has ended" before a change is called ended."""

LEAST_RISE = 1.3
"""A rise is overestimated when it is first seen: so many standard errors are taken off it before
what follows is held against it."""

MOST_OF_ALARM = 1 / 3
"""Part of the excess that gave a signal which its cause accounts for at the least: the rest may be
luck, or of another cause. A proposed value, no source."""

LOST_GAIN = 1.5
"""Gain below which a whole stretch has lost its evidence."""

SLOTS_OF_A_JOB = 2
"""Slots that a level's job is taken to last; faults clump in jobs. A proposed value, no source."""

N_JOBS = 2
"""Jobs that some pieces are taken to come from, at the least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """What was known of a change from the end of a slot on."""

    slot: int
    start: int
    rivals: tuple[Candidate, ...]


@dataclass(slots=True, eq=False)
class Change:
    """One change of rate.

    ``alarm`` is the window that gave the signal and ``first`` the stream it was then explained by
    (its identity never changes); ``stream`` what explains it best now, with ``rivals`` (itself
    first); ``known`` what was said of it when; ``peak`` the most that ever spoke for it, and with
    the prior ``peak_score``; ``attributed`` when its cause was last asked for;
    ``part_of`` the change that it turned out to be. ``agreed``: it was meant, and counts as usual
    from the baseline decision on that followed it. Slots are numbers.
    """

    alarm: Candidate
    first: Stream
    stream: Stream
    start: int
    signalled: int
    rivals: list[Candidate]
    ratio: float = 1.0
    end: int | None = None
    attributed: int = 0
    peak: float = 0.0
    peak_score: float = 0.0
    agreed: bool = False
    part_of: Change | None = None
    known: list[Knowledge] = field(default_factory=list)

    @property
    def own(self) -> float:
        """Factor on the usual rates that the level's past speaks for."""
        return self.rivals[0].own

    @property
    def kind(self) -> int:
        return self.stream.kind

    @property
    def row(self) -> int:
        return self.stream.row

    @property
    def zone(self) -> int | None:
        return self.stream.zone

    def agree(self, slot: int) -> None:
        """Turn out to be meant: it ends here, and counts as usual."""
        self.agreed, self.ratio = True, 1.0
        self.end = slot if self.end is None else self.end

    def join(self, keeper: Change, slot: int) -> None:
        """Turn out to be the same as another change: it ends here, and explains no more."""
        self.stream, self.rivals, self.part_of = keeper.stream, keeper.rivals, keeper
        self.start, self.end, self.ratio = keeper.start, max(slot, keeper.start), 1.0


def explains_alarm(state: StreamCounts, change: Change, candidate: Candidate) -> bool:
    """Does a candidate account for enough of the excess that gave the signal?

    It must have begun before the signal. The expectation must not contain the change.
    """
    b, alarm, shop = state.blocks, change.alarm, int(state.row_factor[state.shop_row])
    mine = b.row[:, state.row_factor[alarm.stream.row]] == alarm.stream.row
    at = np.flatnonzero(mine & (b.pressed >= alarm.start) & (b.pressed <= change.signalled))
    excess = b.y[at, change.kind] - state.block_expected(at, change.kind, shop)
    row = candidate.stream.row
    if candidate.start > change.signalled:
        return False
    covered = b.row[at, state.row_factor[row]] == row
    covered &= b.pressed[at] >= candidate.start
    return bool(excess[covered].sum() >= MOST_OF_ALARM * excess.sum())


def inside(state: StreamCounts, change: Change) -> tuple[Ints, Floats, Floats]:
    """Blocks of the change: slot, observed, and expected without the change itself."""
    at = np.flatnonzero(state.touched(change))
    kind, zone, f = change.kind, change.zone, int(state.row_factor[change.row])
    if zone is None:
        seen, base = state.blocks.y[at, kind], state.block_expected(at, kind, f)
    else:
        seen = state.block_zoned(kind, zone)[at]
        base = state.block_zone_expected(at, kind, zone, f)
    return state.blocks.pressed[at], seen, base / change.ratio


def refresh_ratio(state: StreamCounts, change: Change) -> bool:
    """Fit the size of a change again; True if it moved enough to matter."""
    _, seen, expected = inside(state, change)
    ratio = max((float(seen.sum()) + 0.5) / (float(expected.sum()) + 0.5), 1.0)
    moved = abs(np.log(ratio / change.ratio)) > 0.08
    if moved:
        change.ratio = ratio
    return bool(moved)


def look_for_end(state: StreamCounts, change: Change, clump_variance: float) -> bool:
    """Has the rate come back? Sets ``end`` to the last slot of the change and says so.

    Either what came after speaks for the usual rate even against the least rise that what came
    before makes believable, or the whole stretch has lost its evidence and a shorter one keeps it.
    """
    slot, seen, expected = inside(state, change)
    if len(slot) == 0:
        return False
    width = int(slot.max()) - change.start + 1
    count, mean = (
        np.cumsum(sum_by(slot - change.start, array, width)) for array in (seen, expected)
    )
    mean = mean * change.own
    back = _back_gain(count, mean, clump_variance)
    if back.max() >= END_GAIN:
        change.end = change.start + int(back.argmax())
        return True
    gain = log_likelihood_ratio(count, mean, np.asarray(clump_variance / N_JOBS))
    if gain[-1] < LOST_GAIN and gain.max() - gain[-1] >= END_GAIN / 2:
        change.end = change.start + int(gain.argmax())
        return True
    return False


def _back_gain(count: Floats, mean: Floats, clump_variance: float) -> Floats:
    """Gain of the usual rate over the least rise that is believed, for an end after each slot.

    ``count`` and ``mean`` are seen and usual, summed from the start to each slot.
    """
    rise = (count + 0.5) / (mean + 0.5) * np.exp(-LEAST_RISE / np.sqrt(np.maximum(count, 1.0)))
    rise = np.maximum(rise, 1.0)
    after, usual = count[-1] - count, mean[-1] - mean
    gain = (rise - 1.0) * usual - after * np.log(rise)
    n_jobs = np.maximum((len(count) - 1 - np.arange(len(count))) / SLOTS_OF_A_JOB, N_JOBS)
    return np.asarray(gain / (1.0 + clump_variance * rise * usual / n_jobs))
