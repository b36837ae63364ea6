"""Every level of every factor as a stream of visits, in one long array, with running sums.

A visit is what a stream saw of one job in one slot. Visits of one job move together: what a
further one adds to what its job has said already (the innovation) has a weight and a weighted sum
of its own, uncorrelated with all before. So any window of a stream is a difference of two running
sums, with its exact variance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Bools, Floats, Ints
from qc.monitor.measured_usual import Usual
from qc.monitor.readings import Readings

LONGEST = 120
"""Visits a window may reach back over."""

LENGTHS = np.array([1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 20, 26, 34, 44, 58, 76, 100, LONGEST])
"""Lengths of window that are looked at for an alarm; a shift that falls between loses little."""

ALL_LENGTHS = np.arange(1, LONGEST + 1)
SEVERAL = 5
"""Measurements in a visit from which they are no slip, however far off they are."""

SLIP_SIGMAS = 3.0
"""How far fewer may be off: two slips in a row are then still below any limit."""

KNOWN = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """Where the visits of each stream stand: in order of stream, then of time.

    ``atom`` : readings in that order, ``atom_begin`` the first of each visit. ``reading`` (first
    of the visit), ``stream``, ``begin`` (first visit of the stream) by visit; ``first`` visit,
    ``factor`` (number in ``names``) and ``level`` by stream. ``by_job`` sorts visits by stream
    and job, ``job_begin`` is where a job begins in that order.
    """

    names: tuple[str, ...]
    atom: Ints
    atom_begin: Ints
    reading: Ints
    stream: Ints
    begin: Ints
    first: Ints
    factor: Ints
    level: Ints
    by_job: Ints
    job_begin: Ints
    slot_last: Bools

    def visits(self, stream: int) -> slice:
        """Visits of one stream."""
        return slice(int(self.first[stream]), int(self.first[stream + 1]))

    def gathered(self, value: Floats) -> Floats:
        """Sums over the readings of each visit, (visits, d)."""
        if len(self.atom) == 0:
            return np.zeros((0, value.shape[1]))
        sums: Floats = np.add.reduceat(value[self.atom], self.atom_begin, axis=0)
        return sums


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Order:
    """The order of all readings in all streams, from which the layout of some is taken."""

    names: tuple[str, ...]
    atom: Ints
    visit: Ints
    stream: Ints
    job: Ints
    slot: Ints
    factor: Ints
    level: Ints

    @classmethod
    def of(cls, readings: Readings) -> Order:
        """Readings by stream, then by visit in order of the visit's first reading."""
        names = tuple(readings.level)
        codes = [readings.level[name] for name in names]
        sizes = [int(c.max(initial=-1)) + 1 for c in codes]
        before = np.cumsum([0, *sizes])
        known = [np.flatnonzero(c >= 0) for c in codes]
        atom = np.concatenate(known)
        stream = np.concatenate(
            [c[k] + b for c, k, b in zip(codes, known, before[:-1], strict=True)]
        )
        job = np.unique(readings.job, return_inverse=True)[1]
        slot = np.unique(readings.seen_slot, return_inverse=True)[1]
        order = np.argsort(stream, kind="stable")
        atom, stream = atom[order], stream[order]
        key = (stream * (int(slot.max(initial=0)) + 1) + slot[atom]) * (
            int(job.max(initial=0)) + 1) + job[atom]
        first, visit = np.unique(key, return_index=True, return_inverse=True)[1:]
        order = np.argsort(first[visit], kind="stable")
        atom = atom[order]
        return cls(
            names=names, atom=atom, visit=first[visit][order], stream=stream[order],
            job=job[atom], slot=slot[atom], factor=np.repeat(np.arange(len(names)), sizes),
            level=np.concatenate([np.arange(size) for size in sizes]),
        )

    def between(self, low: int, high: int) -> Layout:
        """The layout of readings ``low`` to ``high``, that one not included."""
        kept = np.flatnonzero((self.atom >= low) & (self.atom < high))
        begin = np.flatnonzero(_new(self.visit[kept]))
        head = kept[begin]
        stream, slot = self.stream[head], self.slot[head]
        by_job = np.lexsort((self.job[head], stream))
        new_job = _new(stream[by_job]) | _new(self.job[head][by_job])
        place = np.arange(len(head))
        first = np.searchsorted(stream, np.arange(len(self.factor) + 1))
        last = np.ones(len(head), dtype=bool)
        last[:-1] = (stream[1:] != stream[:-1]) | (slot[1:] != slot[:-1])
        return Layout(
            names=self.names, atom=self.atom[kept], atom_begin=begin, reading=self.atom[head],
            stream=stream, begin=first[stream], first=first, factor=self.factor,
            level=self.level, by_job=by_job,
            job_begin=np.maximum.accumulate(np.where(new_job, place, 0)), slot_last=last,
        )


def _new(value: Ints) -> Bools:
    """Where a sorted column takes a new value."""
    out = np.ones(len(value), dtype=bool)
    out[1:] = value[1:] != value[:-1]
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weights:
    """What visits weigh, (visits, d), in parts.

    ``n`` measurements; ``alone`` : precision of a visit by itself; ``visit`` : of a visit about
    its job; ``before``, ``after`` : of its job's mean without and with it; ``so_far`` : running
    sum of ``visit`` in the job. The last four in order of job.
    """

    n: Floats
    alone: Floats
    visit: Floats
    before: Floats
    after: Floats
    so_far: Floats


def weights_of(layout: Layout, usual: Usual, readings: Readings) -> Weights:
    """The weights of all visits."""
    n = layout.gathered(readings.n)
    visit = np.where(n > 0, 1.0 / usual.visit_variance(n), 0.0)
    alone = np.where(n > 0, 1.0 / usual.variance(n), 0.0)
    visit = visit[layout.by_job]
    so_far = _running(visit, layout.job_begin)
    return Weights(
        n=n, alone=alone, visit=visit, so_far=so_far, after=usual.job_precision(so_far),
        before=usual.job_precision(so_far - visit),
    )


def _running(value: Floats, begin: Ints) -> Floats:
    """Running sums within groups that begin at ``begin``."""
    total = _from_zero(value)
    sums: Floats = total[1:] - total[begin]
    return sums


def _from_zero(value: Floats) -> Floats:
    """Running sums with a zero in front."""
    out = np.zeros((len(value) + 1, value.shape[1]))
    np.cumsum(value, axis=0, out=out[1:])
    return out


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sums:
    """Running sums over all visits, (visits + 1, d), in parts.

    ``weight``, ``total`` : of innovations, for the statistic; ``plain_weight``, ``plain_total`` :
    of visits by themselves, for the size of a shift. ``precision`` (streams, d) : what is known
    of a stream's usual place before its first visit.
    """

    layout: Layout
    usual: Usual
    weight: Floats
    total: Floats
    plain_weight: Floats
    plain_total: Floats
    precision: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """Windows ending at some visits, (rows, lengths): ``begin`` is their first visit.

    ``t2`` : the statistic, -1 where a stream is too short.
    """

    begin: Ints
    t2: Floats


def running_sums(
    layout: Layout, usual: Usual, deviation: Floats, weights: Weights, n: Floats, *,
    put_back: Floats | None = None,
) -> Sums:
    """Sums of all visits.

    ``deviation`` : readings less what is usual and what shifts explain; ``n`` measurements each;
    ``put_back`` : shifts to add again, once slips have been told from what is left.
    """
    own = np.concatenate([_own_offset(usual, name, layout) for name in layout.names])
    count = np.maximum(weights.n, 1e-12)
    mean = _drawn_in(layout.gathered(deviation * n) / count, weights.n, usual)
    if put_back is not None:
        mean += layout.gathered(put_back * n) / count
    parts = (mean + own[layout.stream]) @ usual.unmix.T
    add = weights.visit * parts[layout.by_job]
    so_far = _running(add, layout.job_begin)
    after = so_far / np.maximum(weights.so_far, 1e-12)
    before = (so_far - add) / np.maximum(weights.so_far - weights.visit, 1e-12)
    weight, total = np.zeros_like(parts), np.zeros_like(parts)
    weight[layout.by_job] = weights.after - weights.before
    total[layout.by_job] = weights.after * after - weights.before * before
    precision = np.stack([1.0 / usual.spread[name] for name in layout.names])
    return Sums(
        layout=layout, usual=usual, precision=precision[layout.factor],
        weight=_from_zero(weight), total=_from_zero(total),
        plain_weight=_from_zero(weights.alone), plain_total=_from_zero(weights.alone * parts),
    )


def _own_offset(usual: Usual, name: str, layout: Layout) -> Floats:
    """Offsets of the factor's own levels: they belong to the stream's own past."""
    n_levels = int((layout.factor == layout.names.index(name)).sum())
    out = np.zeros((n_levels, len(usual.centre)))
    known = usual.offset.get(name)
    if known is not None:
        out[: len(known)] = known
    return out


def _drawn_in(mean: Floats, n: Floats, usual: Usual) -> Floats:
    """Visits, with those that few measurements stand behind drawn in: they may be slips."""
    reach = SLIP_SIGMAS * np.sqrt(usual.variance(n) @ (usual.mix**2).T)
    return np.where(n < SEVERAL, np.clip(mean, -reach, reach), mean)


def windows(sums: Sums, at: Ints, lengths: Ints) -> Windows:
    """T2 of windows of these lengths that end at these visits, against the stream's past."""
    layout = sums.layout
    begin, own, inside = _reach(layout, at, lengths)
    prior = sums.precision.take(layout.stream[at], axis=0)[:, None]
    now_w, now_t, past_w, past_t = _cut(sums.weight, sums.total, at, begin, own)
    past_w += prior
    known = now_w > KNOWN
    np.maximum(now_w, KNOWN, out=now_w)
    gap = now_t / now_w - past_t / past_w
    t2 = (known * gap * gap / (1.0 / now_w + 1.0 / past_w)).sum(axis=2)
    return Windows(begin=begin, t2=np.where(inside, t2, -1.0))


def shifts(sums: Sums, at: Ints, begin: Ints) -> Floats:
    """How far each window (rows, lengths) moved, (rows, lengths, d), in the directions measured."""
    layout = sums.layout
    own = layout.begin[at][:, None]
    prior = sums.precision.take(layout.stream[at], axis=0)[:, None]
    now_w, now_t, past_w, past_t = _cut(sums.plain_weight, sums.plain_total, at, begin, own)
    gap = now_t / np.maximum(now_w, KNOWN) - past_t / (past_w + prior)
    moved: Floats = np.where(now_w > KNOWN, gap, 0.0) @ sums.usual.mix.T
    return moved


def _reach(layout: Layout, at: Ints, lengths: Ints) -> tuple[Ints, Ints, Bools]:
    """First visits of windows, of their streams, and which windows lie inside."""
    begin = at[:, None] + 1 - lengths[None, :]
    own = layout.begin[at][:, None]
    return np.maximum(begin, own), own, begin >= own


def _cut(
    weight: Floats, total: Floats, at: Ints, begin: Ints, own: Ints
) -> tuple[Floats, Floats, Floats, Floats]:
    """Weights and totals of windows (rows, lengths, d), and of their streams before them."""
    cut_w, cut_t = weight.take(begin, axis=0), total.take(begin, axis=0)
    return (
        weight.take(at + 1, axis=0)[:, None] - cut_w, total.take(at + 1, axis=0)[:, None] - cut_t,
        cut_w - weight.take(own, axis=0), cut_t - total.take(own, axis=0),
    )
