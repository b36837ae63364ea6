"""Where levels sit and how far jobs spread, fitted to readings that may hold slips."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.readings import Readings

BETWEEN_LEVELS = 0.5
"""Honest spread between levels, in sigmas of a reading; proposed starting value, no source."""

WITHOUT_OFFSET = ("job", "shop", "station")
"""Factors whose levels are not fitted: a station lies within its press."""

SWEEPS = 2
FAR = 3.0
NORMAL_DRAWN_IN = 0.9950
"""Mean square of a standard normal drawn in to 3 sigmas, computed."""

HONEST = 2.5
"""Sigmas beyond which a reading does not pull the usual."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """Readings to learn from: ``value`` without shifts and ``n``, (readings, d); ``job`` numbered
    from 0 with the measurements ``in_job``, (jobs, d); ``level`` and number of levels ``size`` of
    each factor that is fitted."""

    value: Floats
    n: Floats
    job: Ints
    in_job: Floats
    level: Mapping[str, Ints]
    size: Mapping[str, int]

    @classmethod
    def of(cls, readings: Readings, value: Floats, part: slice) -> Seen:
        n = readings.n[part]
        job = np.unique(readings.job[part], return_inverse=True)[1]
        names = [name for name in readings.level if name not in WITHOUT_OFFSET]
        return cls(
            value=value[part], n=n, job=job, in_job=sums_by(job, n, 0),
            level={name: readings.level[name][part] for name in names},
            size={name: int(readings.level[name].max(initial=-1)) + 1 for name in names},
        )

    def job_means(self, left: Floats) -> Floats:
        """Mean of each job, (jobs, d)."""
        return sums_by(self.job, left * self.n, 0) / np.maximum(self.in_job, 1.0)

    def by_level(self, name: str, weight: Floats) -> Floats:
        """Sums of weights by level of a factor, (levels, d)."""
        return sums_by(self.level[name] + 1, weight, self.size[name] + 1)[1:]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """``centre`` (d,) and ``offset`` (levels, d) of each factor; what is ``left`` of the readings;
    how many jobs' worth of freedom they have ``used`` up, (d,)."""

    centre: Floats
    offset: dict[str, Floats]
    left: Floats
    used: Floats


def fit_levels(seen: Seen, within: Floats, between: Floats) -> Fit:
    """Centre and offsets of all levels together, each drawn to 0.

    A job counts once, however many readings it is spread over.
    """
    in_job = np.maximum(seen.in_job[seen.job], 1.0)
    weight = seen.n / in_job / (between + within / in_job)
    reach = HONEST * np.sqrt(between + within / np.maximum(seen.n, 1.0))
    middle = _middle(seen.value, seen.n)
    pulled = (weight * np.clip(seen.value - middle, -reach, reach)).sum(axis=0)
    centre = middle + pulled / np.maximum(weight.sum(axis=0), 1e-12)
    left = seen.value - centre
    precision = 1.0 / (BETWEEN_LEVELS**2 * typical_variance(between, within, seen.in_job))
    mass = {name: seen.by_level(name, weight) for name in seen.level}
    offset = {name: np.zeros_like(m) for name, m in mass.items()}
    for _ in range(SWEEPS):
        for name, codes in seen.level.items():
            before = of_level(offset[name], codes)
            pull = weight * (np.clip(left, -reach, reach) + before)
            offset[name] = seen.by_level(name, pull) / (mass[name] + precision)
            left = left + before - of_level(offset[name], codes)
    used = 1.0 + sum(((m / (m + precision)).sum(axis=0) for m in mass.values()), 0.0 * centre)
    return Fit(centre=centre, offset=offset, left=left, used=used)


def of_level(offset: Floats, level: Ints) -> Floats:
    """Offsets of levels; none where the level is not recorded."""
    return np.concatenate([offset, np.zeros((1, offset.shape[1]))])[level]


def sums_by(group: Ints, weight: Floats, size: int) -> Floats:
    """Sums of the columns of weights by group number."""
    if weight.shape[1] == 1:
        return sum_by(group, weight[:, 0], size)[:, None]
    return np.stack([sum_by(group, w, size) for w in weight.T], axis=1)


def first_between(seen: Seen, floor: Floats) -> Floats:
    """A variance between readings to begin with, by their median distance."""
    gap = np.abs(seen.value - _middle(seen.value, seen.n))
    return np.maximum((1.4826 * _middle(gap, seen.n)) ** 2, floor)


def _middle(value: Floats, n: Floats) -> Floats:
    """Median of each direction over the readings that have it."""
    if len(n) and (n > 0).all():
        return np.asarray(np.median(value, axis=0))
    return np.array([_median(v[m > 0]) for v, m in zip(value.T, n.T, strict=True)])


def _median(values: Floats) -> float:
    return float(np.median(values)) if len(values) else 0.0


def typical_variance(between: Floats, within: Floats, in_job: Floats) -> Floats:
    """Variance of the mean of a job of middling size."""
    middling = np.array([_median(n[n > 0]) for n in in_job.T])
    variance: Floats = between + within / np.maximum(middling, 1.0)
    return variance


def between_jobs(
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
