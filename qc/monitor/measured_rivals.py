"""Which level of which factor explains a shift best, and whether it has gone back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.measured_streams import ALL_LENGTHS, KNOWN, LENGTHS, SEVERAL, Sums, shifts, windows
from qc.monitor.measured_stretch import Stretch

PRIOR_OF = {
    "setting": {"press": 0.0, "operator": -0.7, "fabric": -1.5, "transfer": -1.5, "job": 0.0,
                "shop": -2.5},
    "placement": {"operator": 0.0, "press": -0.7, "station": -1.2, "location": -1.5, "size": -1.5,
                  "job": 0.0, "shop": -2.5},
}
"""Log prior of each factor being the cause, shared out over its levels; a job, of which there are
many, has it for itself. Proposed starting values, no source."""

TAIL_DEGREES = 8.0
"""Explanations are compared with the tails of a t of so many degrees of freedom: whether a visit
is ten or eleven sigmas off must not decide between a press and a person. Proposed, no source."""

MOST_AGAINST = 1.0
"""Log likelihood that a visit of few measurements may speak against an explanation."""

COVERED = 0.5
"""Part of an alarm's excess that an explanation of it must cover."""

N_RIVALS = 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rival:
    """One level of a factor as the explanation of a shift. ``start`` is a reading."""

    factor: str
    level: int
    stream: int
    start: int
    shift: Floats
    t2: float
    score: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Alarms:
    """Windows beyond their limit: entry they end at, entry they begin at, limits overrun by."""

    entry: Ints
    begin: Ints
    excess: Floats
    shift: Floats


def alarms(stretch: Stretch, sums: Sums, at: Ints, least: Floats) -> Alarms:
    """Windows that end at these entries and are beyond the limit, the widest margin first."""
    limit = stretch.limit[stretch.layout.factor[stretch.layout.stream[at]]]
    found = windows(sums, at, LENGTHS)
    rows = np.flatnonzero(found.t2.max(axis=1, initial=-1.0) > limit)
    moved = shifts(sums, at[rows], found.begin[rows])
    matters = (np.abs(moved) >= least).any(axis=2)
    t2 = np.where(matters, found.t2[rows], -1.0)
    best = t2.argmax(axis=1)
    row = np.arange(len(rows))
    excess = t2[row, best] / limit[rows]
    beyond = np.flatnonzero(excess > 1.0)
    beyond = beyond[np.argsort(-excess[beyond], kind="stable")]
    return Alarms(
        entry=at[rows[beyond]], begin=found.begin[rows[beyond], best[beyond]],
        excess=excess[beyond], shift=moved[beyond, best[beyond]],
    )


def rivals(
    stretch: Stretch, sums: Sums, share: Bools, *, n_seen: int, latest: int, kind: str,
    least: Floats,
) -> list[Rival]:
    """Explanations in the streams of the readings ``share``, best first.

    Each is the best shift of its stream that goes on to reading ``n_seen`` and began no later
    than reading ``latest``.
    """
    layout = stretch.layout
    streams = np.unique(layout.stream[share[layout.reading]])
    visible = layout.reading < n_seen
    count = np.bincount(layout.stream[visible], minlength=len(layout.level))[streams]
    at = (layout.first[streams] + count - 1)[count > 0]
    found = windows(sums, at, ALL_LENGTHS)
    moved = shifts(sums, at, found.begin)
    allowed = (np.abs(moved) >= least).any(axis=2)
    allowed &= layout.reading[found.begin] <= latest
    t2 = np.where(allowed, found.t2, -1.0)
    best = t2.argmax(axis=1)
    rows = np.flatnonzero(t2.max(axis=1, initial=-1.0) > 0)
    best = best[rows]
    begin, size = found.begin[rows, best], moved[rows, best]
    gain = np.minimum(
        robust_gain(stretch, sums, at[rows], begin, size), 0.5 * t2[rows, best]
    )
    out = []
    for row, stream in enumerate(layout.stream[at[rows]]):
        factor = layout.names[layout.factor[stream]]
        out.append(Rival(
            factor=factor, level=int(layout.level[stream]), stream=int(stream),
            start=int(layout.reading[begin[row]]), shift=size[row],
            t2=float(t2[rows[row], best[row]]),
            score=float(gain[row]) + prior_of(stretch, factor, kind),
        ))
    return sorted(out, key=lambda rival: -rival.score)


def robust_gain(
    stretch: Stretch, sums: Sums, at: Ints, begin: Ints, shift: Floats
) -> Floats:
    """Log likelihood that windows gain by their shift, (rows,), visit by visit.

    A job counts once, its visits by what was measured in them.
    """
    longest = int((at - begin).max(initial=0)) + 1
    visit = begin[:, None] + np.arange(longest)
    inside = visit <= at[:, None]
    visit = np.minimum(visit, at[:, None])
    own = sums.layout.begin[at]
    past_w = sums.plain_weight[begin] - sums.plain_weight[own]
    past_w += sums.precision[sums.layout.stream[at]]
    usual = (sums.plain_total[begin] - sums.plain_total[own]) / past_w
    alone = stretch.weights.alone[visit]
    known = alone > KNOWN
    alone = np.where(known, alone, 1.0)
    value = (sums.plain_total[visit + 1] - sums.plain_total[visit]) / alone
    variance = 1.0 / alone + (1.0 / past_w)[:, None]
    gap, moved = value - usual[:, None], (shift @ sums.usual.unmix.T)[:, None]
    d = known.sum(axis=2)
    far = np.where(known, gap**2 / variance, 0.0).sum(axis=2)
    left = np.where(known, (gap - moved) ** 2 / variance, 0.0).sum(axis=2)
    gain = 0.5 * (TAIL_DEGREES + d) * (
        np.log1p(far / TAIL_DEGREES) - np.log1p(left / TAIL_DEGREES)
    )
    n = np.where(inside, stretch.weights.n[visit].max(axis=2), 0.0)
    gain = np.where(n < SEVERAL, np.maximum(gain, -MOST_AGAINST), gain)  # it may be drawn in
    job = stretch.readings.job[sums.layout.reading[visit]]
    total: Floats = (gain * _share_of_job(n, job)).sum(axis=1)
    return total


def _share_of_job(n: Floats, job: Ints) -> Floats:
    """Part of a job's measurements that a visit has, in each row: a job counts once."""
    row = np.arange(len(n))[:, None]
    number = np.unique(row * (int(job.max(initial=0)) + 1) + job, return_inverse=True)[1]
    number = number.reshape(n.shape)
    total: Floats = n / np.maximum(sum_by(number.ravel(), n.ravel())[number], 1.0)
    return total


def prior_of(stretch: Stretch, factor: str, kind: str) -> float:
    """Log prior of one level of a factor being the cause."""
    levels = stretch.n_levels[stretch.layout.names.index(factor)]
    shared = 0.0 if factor == "job" else float(np.log(max(levels, 1)))
    return PRIOR_OF[kind][factor] - shared


def stretch_of(
    stretch: Stretch, sums: Sums, stream: int, start: int, end: int | None, *, kind: str
) -> Rival | None:
    """A shift of a stream from one reading to another as an explanation; None if out of reach."""
    layout = stretch.layout
    mine = layout.visits(stream)
    reading = layout.reading[mine]
    first = int(np.searchsorted(reading, start))
    stop = len(reading) if end is None else int(np.searchsorted(reading, end, side="right"))
    if stop <= first:
        return None
    at = np.array([mine.start + stop - 1])
    found = windows(sums, at, np.array([stop - first]))
    size = shifts(sums, at, found.begin)[:, 0]
    factor = layout.names[layout.factor[stream]]
    gain = np.minimum(
        robust_gain(stretch, sums, at, found.begin[:, 0], size), 0.5 * found.t2[:, 0]
    )
    return Rival(
        factor=factor, level=int(layout.level[stream]), stream=stream, start=start, shift=size[0],
        t2=float(found.t2[0, 0]), score=float(gain[0]) + prior_of(stretch, factor, kind),
    )


def explaining(
    found: list[Rival], stretch: Stretch, sums: Sums, alarm: Alarms
) -> list[Rival]:
    """Those that cover most of what the first alarm rests on."""
    layout, shift = stretch.layout, alarm.shift[0]
    begin, entry = int(alarm.begin[0]), int(alarm.entry[0])
    inside = slice(begin, entry + 1)
    direction = sums.usual.unmix @ shift
    excess = np.diff(sums.total[begin : entry + 2], axis=0) @ direction
    reading = layout.reading[inside]
    out = []
    for rival in found:
        mine = stretch.readings.level[rival.factor][reading] == rival.level
        mine &= reading >= rival.start
        if excess[mine].sum() >= COVERED * excess.sum():
            out.append(rival)
    return out[:N_RIVALS]


def back_since(
    sums: Sums, at: Ints, first: int, shift: Floats
) -> tuple[Floats, Ints]:
    """Gain in log likelihood of "gone back to usual" over "goes on", at each entry ``at``.

    Parameters
    ----------
    at : entries of the stream, after the shift's first entry ``first``
    shift : (d,), already taken out of the sums

    Returns
    -------
    The best gain over all windows that end there, and the first entry of that window. The level
    of what goes on and the usual one are both estimates, with their own uncertainty.
    """
    layout = sums.layout
    stream = layout.stream[first]
    own = layout.begin[first]
    begin = np.maximum(at[:, None] + 1 - LENGTHS[None, :], first + 1)
    weight, sum_ = sums.plain_weight, sums.plain_total
    now_w = weight[at + 1][:, None] - weight[begin]
    known = now_w > KNOWN
    safe = np.where(known, now_w, 1.0)
    now = (sum_[at + 1][:, None] - sum_[begin]) / safe
    on_w = np.maximum(weight[begin] - weight[first], KNOWN)
    on = (sum_[begin] - sum_[first]) / on_w
    past_w = weight[first] - weight[own] + sums.precision[stream]
    usual = (sum_[first] - sum_[own]) / past_w - sums.usual.unmix @ shift
    v_on, v_back = 1.0 / safe + 1.0 / on_w, 1.0 / safe + 1.0 / past_w
    gain = (now - on) ** 2 / v_on + np.log(v_on) - (now - usual) ** 2 / v_back - np.log(v_back)
    total = 0.5 * np.where(known, gain, 0.0).sum(axis=2)
    best = total.argmax(axis=1)
    row = np.arange(len(at))
    return total[row, best], begin[row, best]
