"""What has been found so far: changes of a stream's rate, kept while the records come in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from qc.monitor.attribution import Candidate
from qc.monitor.detection import log_likelihood_ratio
from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import Stream

END_GAIN = 5.0
"""Gain in log likelihood of "it has ended" before a change is called ended."""

LOST_GAIN = 1.5
"""Gain below which a whole stretch has lost its evidence."""

N_JOBS = 4
"""Jobs that the pieces of a change are taken to come from, at the least: they clump."""


@dataclass(slots=True, eq=False)
class Change:
    """One change of rate. ``alarm`` is the window that gave the signal and ``first`` the stream it
    was then explained by (its identity never changes); ``stream`` what explains it best now, with
    ``rivals``. Slots are numbers."""

    alarm: Candidate
    first: Stream
    stream: Stream
    start: int
    signalled: int
    rivals: list[Candidate]
    ratio: float = 1.0
    end: int | None = None
    attributed: int = field(default=0)

    @property
    def kind(self) -> int:
        return self.stream.kind


def touched_by(state: StreamCounts, change: Change) -> Bools:
    """Blocks (also those yet to come) that the change explains."""
    b = state.blocks
    inside = (b.level[change.stream.factor] == change.stream.level) & (b.pressed >= change.start)
    if change.end is not None:
        inside &= b.pressed <= change.end
    return inside


def explains_alarm(state: StreamCounts, change: Change, candidate: Candidate) -> bool:
    """Does a candidate account for most of the excess that gave the signal?

    The expectation must not contain the change when this is asked.
    """
    b, alarm, kind = state.blocks, change.alarm, change.kind
    level = b.level[alarm.stream.factor][: state.n_visible]
    pressed = b.pressed[: state.n_visible]
    mine = (level == alarm.stream.level) & (pressed >= alarm.start)
    at = np.flatnonzero(mine & (pressed <= change.signalled))
    excess = state.block_y[at, kind] - state.block_expected(at, np.array([kind]))[:, 0]
    covered = b.level[candidate.stream.factor][at] == candidate.stream.level
    covered &= pressed[at] >= candidate.start
    return bool(excess[covered].sum() >= 0.5 * excess.sum())


def fold_in(state: StreamCounts, changes: list[Change], kind: int) -> None:
    """Make the expectation of a kind contain every change found in it."""
    state.multiplier[:, kind] = 1.0
    for key in [key for key in state.zone_multiplier if key[0] == kind]:
        del state.zone_multiplier[key]
    for change in changes:
        if change.kind != kind:
            continue
        factor = np.where(touched_by(state, change), change.ratio, 1.0)
        zone = change.stream.zone
        if zone is None:
            state.multiplier[:, kind] *= factor
        else:
            so_far = state.zone_multiplier.get((kind, zone), 1.0)
            state.zone_multiplier[(kind, zone)] = so_far * factor
    state.rebuild(np.array([kind]))


def inside(state: StreamCounts, change: Change) -> tuple[Ints, Floats, Floats]:
    """Visible blocks of the change: slot, observed, and expected without the change itself."""
    at = np.flatnonzero(touched_by(state, change)[: state.n_visible])
    kind, zone, factor = change.kind, change.stream.zone, change.stream.factor
    if zone is None:
        seen = state.block_y[at, kind]
        base = state.block_expected(at, np.array([kind]), factor=factor)[:, 0]
    else:
        seen = state.block_z[at, kind, zone] if state.block_z is not None else np.zeros(len(at))
        base = state.block_zone_expected(at, kind, zone, factor=factor)
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

    Either what came after speaks for the usual rate even against half the rise (a rise is
    overestimated when it is first seen), or the whole stretch has lost its evidence and a shorter
    one keeps it.
    """
    slot, seen, expected = inside(state, change)
    if len(slot) == 0:
        return False
    width = int(slot.max()) - change.start + 1
    count, mean = (
        np.cumsum(sum_by(slot - change.start, array, width)) for array in (seen, expected)
    )
    back = _back_gain(change.ratio, count[-1] - count, mean[-1] - mean, clump_variance)
    if back.max() >= END_GAIN:
        change.end = change.start + int(back.argmax())
        return True
    gain = log_likelihood_ratio(count, mean, np.asarray(clump_variance / N_JOBS))
    if gain[-1] < LOST_GAIN and gain.max() - gain[-1] >= END_GAIN / 2:
        change.end = change.start + int(gain.argmax())
        return True
    return False


def _back_gain(ratio: float, seen: Floats, mean: Floats, clump_variance: float) -> Floats:
    """Gain of the usual rate over half the rise, for what came after each slot."""
    half = 1.0 + (ratio - 1.0) / 2.0
    if half <= 1.05:
        return np.zeros_like(seen)
    gain = (half - 1.0) * mean - seen * np.log(half)
    return gain / (1.0 + clump_variance * mean / N_JOBS)
