"""What is usual for readings: where each level sits, and how far readings of a job spread.

Learnt from what had been seen by then, without the shifts found so far.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Floats
from qc.monitor.measured_fit import (
    BETWEEN_LEVELS,
    HONEST,
    WITHOUT_OFFSET,
    Fit,
    Seen,
    between_jobs,
    first_between,
    fit_levels,
    of_level,
    typical_variance,
)
from qc.monitor.readings import Characteristic, Readings

VISIT_SHARE = 0.25
"""Part of the variance between jobs that is between the slots of one job: what was set or laid
on anew after a break. Proposed starting value, no source."""

EFFICIENCY = 0.9
"""What a job says about the sigma when far ones are drawn in, against the best way."""


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
            out += of_level(offset, readings.level[name][part])
        return out


def learn_usual(
    readings: Readings, value: Floats, characteristics: tuple[Characteristic, ...], part: slice
) -> Usual:
    """What is usual in a part of the readings; ``value`` is without the shifts found."""
    seen = Seen.of(readings, value, part)
    floor = np.array([c.floor for c in characteristics]) ** 2
    within = _within(seen.n, readings.squares[part])
    fit = fit_levels(seen, within, first_between(seen, floor))
    mean = seen.job_means(fit.left)
    between = between_jobs(mean, seen.in_job, within, floor, fit.used)
    fit = fit_levels(seen, within, between)
    mix, share = _mix(mean, seen.in_job, within, between)
    unmix: Floats = np.asarray(np.linalg.inv(mix), dtype=np.float64)
    within = within * share
    between = between_jobs(mean @ unmix.T, seen.in_job, within, floor * share, fit.used)
    n_jobs = float((seen.in_job > 0).any(axis=1).sum())
    return Usual(
        centre=fit.centre, offset=fit.offset, mix=mix, unmix=unmix, within=within,
        between=between, degrees=max(EFFICIENCY * (n_jobs - fit.used.max()), 3.0),
        spread=_spread(seen, fit, unmix, within, between)
        | {"job": between * fit.used / max(n_jobs, 1.0)},
        sigma=np.sqrt((mix**2) @ typical_variance(between, within, seen.in_job)),
    )


def _within(n: Floats, squares: Floats) -> Floats:
    """Variance of a measurement about its reading."""
    degrees = np.maximum(n - 1, 0).sum(axis=0)
    return squares.sum(axis=0) / np.maximum(degrees, 1)


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
    seen: Seen, fit: Fit, unmix: Floats, within: Floats, between: Floats
) -> dict[str, Floats]:
    """Variance of honest levels, in parts: the default, or what the levels show if it is more."""
    middling = np.maximum(np.median(seen.n, axis=0), 1.0)
    default = BETWEEN_LEVELS**2 * (between + within / middling)
    out = dict.fromkeys(WITHOUT_OFFSET, default)
    weight = (seen.n > 0) / (between + within / np.maximum(seen.n, 1.0))
    for name, codes in seen.level.items():
        parts = (fit.left + of_level(fit.offset[name], codes)) @ unmix.T
        sums, mass = seen.by_level(name, weight * parts), seen.by_level(name, weight)
        out[name] = np.maximum(_shown(sums, mass), default)
    return out


def _shown(sums: Floats, mass: Floats) -> Floats:
    known = np.flatnonzero((mass > 0).all(axis=1))
    if len(known) < 3:
        return np.zeros(mass.shape[1])
    mean, own = sums[known] / mass[known], 1.0 / mass[known]
    shown: Floats = np.median(mean**2, axis=0) / 0.4549 - np.median(own, axis=0)
    return shown
