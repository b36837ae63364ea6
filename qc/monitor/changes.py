"""What has been found so far: changes of a stream's rate, kept while the records come in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from qc.monitor.attribution import Candidate
from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import Stream

END_GAIN = 5.0
"""Gain in log likelihood of "it has ended" before a change is called ended."""

N_JOBS_A_CHANGE = 4
"""Jobs that the pieces after an end are taken to come from, at the least: they clump."""


@dataclass(slots=True, eq=False)
class Change:
    """One change of rate. ``first`` is the stream it was signalled as (its identity never
    changes); ``stream`` what explains it best now, with ``rivals``. Slots are numbers."""

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

    What came after must speak for the usual rate even against half the rise, since a rise is
    overestimated when it is first seen.
    """
    slot, seen, expected = inside(state, change)
    half = 1.0 + (change.ratio - 1.0) / 2.0
    if len(slot) == 0 or half <= 1.05:
        return False
    width = int(slot.max()) - change.start + 1
    after_seen, after_mean = (
        np.append(np.cumsum(sum_by(slot - change.start, array, width)[::-1])[::-1], 0.0)[1:]
        for array in (seen, expected)
    )
    gain = (half - 1.0) * after_mean - after_seen * np.log(half)
    gain = gain / (1.0 + clump_variance * after_mean / N_JOBS_A_CHANGE)
    best = int(gain.argmax())
    if gain[best] < END_GAIN:
        return False
    change.end = change.start + best
    return True
