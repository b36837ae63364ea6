"""What is usual for readings: where each level sits, and how far readings of a job spread.

Learnt from what had been seen by then, without the shifts found so far.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.readings import Characteristic, Readings

BETWEEN_LEVELS = 0.5
"""Honest spread between levels, in sigmas of a reading; proposed starting value, no source."""

WITHOUT_OFFSET = ("job", "shop", "station")
"""Factors whose levels are not fitted: a station lies within its press."""

VISIT_SHARE = 0.25
"""Part of the variance between jobs that is between the slots of one job: what was set or laid
on anew after a break. Proposed starting value, no source."""

SWEEPS = 2
REFITS = 1
EFFICIENCY = 0.9
"""What a job says about the sigma when far ones are drawn in, against the best way."""

FAR = 3.0
NORMAL_DRAWN_IN = 0.9950
"""Mean square of a standard normal drawn in to 3 sigmas, computed."""

HONEST = 2.5
"""Sigmas beyond which a reading does not pull the usual."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Usual:
    """What is usual, for d directions.

    ``centre`` (d,); ``offset`` : (levels, d) of each factor, on top of it. ``mix`` (d, d), unit
    lower triangular: deviations are ``mix`` times parts that do not move together.
    ``within``, ``between`` (d,) : variances of those parts, of one measurement in its job and of
    a job. ``spread`` : variance of levels of each factor, (d,). ``degrees`` of freedom.
    """

    centre: Floats
    offset: Mapping[str, Floats]
    mix: Floats
    unmix: Floats
    within: Floats
    between: Floats
    spread: Mapping[str, Floats]
    degrees: float
    sigma: Floats

    def variance(self, n: Floats) -> Floats:
        """Variance of the mean of n measurements of one job in one slot, in parts; n may be 0."""
        return self.between + self.within / np.maximum(n, 1.0)

    def visit_variance(self, n: Floats) -> Floats:
        """The same about the job's own mean over all its slots."""
        return VISIT_SHARE * self.between + self.within / np.maximum(n, 1.0)

    def job_precision(self, visits: Floats) -> Floats:
        """Precision of a job's mean from the summed precision of its visits, which may be 0."""
        known = visits > 1e-12
        variance = (1.0 - VISIT_SHARE) * self.between + 1.0 / np.where(known, visits, 1.0)
        return np.where(known, 1.0 / variance, 0.0)

    def place(self, readings: Readings, part: slice) -> Floats:
        """Where some readings usually sit, by all their levels, (readings, d)."""
        out = np.tile(self.centre, (part.stop - part.start, 1))
        for name, offset in self.offset.items():
            out += _of_level(offset, readings.level[name][part])
        return out


def _of_level(offset: Floats, level: Ints) -> Floats:
    """Offsets of levels; none where the level is not recorded."""
    return np.concatenate([offset, np.zeros((1, offset.shape[1]))])[level]


def learn_usual(
    readings: Readings, value: Floats, characteristics: tuple[Characteristic, ...], seen: slice
) -> Usual:
    """What is usual in the readings ``seen``; ``value`` is without the shifts found."""
    value, n, job = value[seen], readings.n[seen], readings.job[seen]
    number = np.unique(job, return_inverse=True)[1]
    in_job = _per_job(number, n)
    floor = np.array([c.floor for c in characteristics]) ** 2
    within = _within(n, readings.squares[seen])
    names = [name for name in readings.level if name not in WITHOUT_OFFSET]
    level = {name: readings.level[name][seen] for name in names}
    size = {name: int(readings.level[name].max(initial=-1)) + 1 for name in names}
    between = _start_between(value, n, floor)
    centre, offset, left, used = _fit(value, n, level, size, number, within, between)
    for _ in range(REFITS):
        mean = _job_means(number, left, n, in_job)
        between = _between(mean, in_job, within, floor, used)
        centre, offset, left, used = _fit(value, n, level, size, number, within, between)
    mix, share = _mix(mean, in_job, within, between)
    unmix = np.linalg.inv(mix)
    parts = mean @ unmix.T
    between = _between(parts, in_job, within * share, floor * share, used)
    within = within * share
    variance = _typical(between, within, in_job)
    return Usual(
        centre=centre, offset=offset, mix=mix, unmix=unmix, within=within, between=between,
        spread=_spread(level, left, offset, n, unmix, within, between)
        | {"job": between * used / max(len(in_job), 1)},
        degrees=max(EFFICIENCY * float((in_job > 0).any(axis=1).sum() - used.max()), 3.0),
        sigma=np.sqrt((mix**2) @ variance),
    )


def _within(n: Floats, squares: Floats) -> Floats:
    """Variance of a measurement about its reading."""
    degrees = np.maximum(n - 1, 0).sum(axis=0)
    return squares.sum(axis=0) / np.maximum(degrees, 1)


def _start_between(value: Floats, n: Floats, floor: Floats) -> Floats:
    gap = np.abs(value - _middle(value, n))
    sd = 1.4826 * np.array([_median(g[m > 0]) for g, m in zip(gap.T, n.T, strict=True)])
    return np.maximum(sd**2, floor)


def _middle(value: Floats, n: Floats) -> Floats:
    """Median of each direction over the readings that have it."""
    if (n > 0).all() and len(n):
        return np.asarray(np.median(value, axis=0))
    return np.array([_median(v[m > 0]) for v, m in zip(value.T, n.T, strict=True)])


def _median(values: Floats) -> float:
    return float(np.median(values)) if len(values) else 0.0


def _typical(between: Floats, within: Floats, in_job: Floats) -> Floats:
    """Variance of the mean of a job of middling size."""
    middling = np.array([_median(n[n > 0]) for n in in_job.T])
    variance: Floats = between + within / np.maximum(middling, 1.0)
    return variance


def _per_job(number: Ints, weight: Floats) -> Floats:
    return _sums_by(number, weight, 0)


def _sums_by(group: Ints, weight: Floats, size: int) -> Floats:
    """Sums of the columns of weights by group number."""
    if weight.shape[1] == 1:
        return sum_by(group, weight[:, 0], size)[:, None]
    return np.stack([sum_by(group, w, size) for w in weight.T], axis=1)


def _job_means(number: Ints, left: Floats, n: Floats, in_job: Floats) -> Floats:
    return _per_job(number, left * n) / np.maximum(in_job, 1.0)


def _fit(
    value: Floats, n: Floats, level: Mapping[str, Ints], size: Mapping[str, int], number: Ints,
    within: Floats, between: Floats,
) -> tuple[Floats, dict[str, Floats], Floats, Floats]:
    """Centre and offsets of all levels together, each drawn to 0; what is left of the readings.

    A job counts once, however many readings it is spread over. Last comes how many jobs' worth
    of freedom the centre and the offsets have used up, (d,).
    """
    in_job = _per_job(number, n)[number]
    weight = n / np.maximum(in_job, 1.0) / (between + within / np.maximum(in_job, 1.0))
    sigma = np.sqrt(between + within / np.maximum(n, 1.0))
    total = np.maximum(weight.sum(axis=0), 1e-12)
    middle = _middle(value, n)
    left = value - middle
    centre = middle + _honest_sum(left, sigma, weight) / total
    left = value - centre
    precision = 1.0 / (BETWEEN_LEVELS**2 * _typical(between, within, in_job))
    offset = {name: np.zeros((size[name], value.shape[1])) for name in level}
    freedom: dict[str, Floats] = {}
    masses = {
        name: _sums_by(codes + 1, weight, size[name] + 1)[1:] for name, codes in level.items()
    }
    for _ in range(SWEEPS):
        for name, codes in level.items():
            own = left + _of_level(offset[name], codes)
            pull = weight * np.clip(left, -HONEST * sigma, HONEST * sigma)
            pull += weight * (own - left)
            rows = size[name] + 1
            sums = _sums_by(codes + 1, pull, rows)[1:]
            mass = masses[name]
            offset[name] = sums / (mass + precision)
            left = own - _of_level(offset[name], codes)
            freedom[name] = (mass / (mass + precision)).sum(axis=0)
    used: Floats = 1.0 + np.sum([*freedom.values(), np.zeros_like(centre)], axis=0)
    return centre, offset, left, used


def _honest_sum(left: Floats, sigma: Floats, weight: Floats) -> Floats:
    pulled: Floats = (weight * np.clip(left, -HONEST * sigma, HONEST * sigma)).sum(axis=0)
    return pulled


def _between(
    mean: Floats, in_job: Floats, within: Floats, floor: Floats, used: Floats
) -> Floats:
    """Variance between jobs with which the drawn-in squares of their means are as they should.

    The jobs have been fitted to, which makes them look closer to the usual than the next ones
    will be: by (n - used) / n.
    """
    between = floor.copy()
    for k, known in enumerate((in_job > 0).T):
        if not known.any():
            continue
        gap, own = mean[known, k] ** 2, within[k] / in_job[known, k]
        grid = floor[k] * np.geomspace(1.0, max(40 * float(np.median(gap)) / floor[k], 2.0), 60)
        ratio = np.minimum(gap / (grid[:, None] + own), FAR**2).mean(axis=1)
        fitted = max(1.0 - used[k] / known.sum(), 0.25)
        between[k] = float(np.interp(-NORMAL_DRAWN_IN * fitted, -ratio, grid))
    return between


def _mix(
    mean: Floats, in_job: Floats, within: Floats, between: Floats
) -> tuple[Floats, Floats]:
    """How directions move together, and the share of each variance that is its own."""
    d = mean.shape[1]
    if d == 1:
        return np.ones((1, 1)), np.ones(1)
    all_known = (in_job > 0).all(axis=1)
    sd = np.sqrt(between + within / np.maximum(in_job, 1.0))[all_known]
    z = np.clip(mean[all_known] / sd, -HONEST, HONEST)
    n = len(z)
    if n < d + 2:
        return np.eye(d), np.ones(d)
    scale = np.sqrt(np.maximum((z**2).mean(axis=0), 1e-12))
    correlation = (z.T @ z) / n / np.outer(scale, scale) * (n / (n + 20.0))
    np.fill_diagonal(correlation, 1.0)
    root = np.linalg.cholesky(correlation)
    own = np.diag(root)
    size = np.sqrt(between + within)
    return (root / own) * size[:, None] / size[None, :], own**2


def _spread(
    level: Mapping[str, Ints], left: Floats, offset: Mapping[str, Floats], n: Floats,
    unmix: Floats, within: Floats, between: Floats,
) -> dict[str, Floats]:
    """Variance of honest levels, in parts: the default, or what the levels show if it is more."""
    default = BETWEEN_LEVELS**2 * (between + within / np.maximum(np.median(n, axis=0), 1.0))
    out = dict.fromkeys(WITHOUT_OFFSET, default)
    weight = (n > 0) / (between + within / np.maximum(n, 1.0))
    for name, codes in level.items():
        size = len(offset[name]) + 1
        parts = (left + _of_level(offset[name], codes)) @ unmix.T
        mass = _sums_by(codes + 1, weight, size)[1:]
        sums = _sums_by(codes + 1, weight * parts, size)[1:]
        out[name] = np.maximum(_shown(sums, mass), default)
    return out


def _shown(sums: Floats, mass: Floats) -> Floats:
    known: Bools = (mass > 0).all(axis=1)
    if known.sum() < 3:
        return np.zeros(mass.shape[1])
    mean, own = sums[known] / mass[known], 1.0 / mass[known]
    shown: Floats = np.median(mean**2, axis=0) / 0.4549 - np.median(own, axis=0)
    return shown
