"""Points of several variables in plotted order, with the mean and covariance they rest on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import mean_of
from qc.stats.charts.baselines import Baseline, BaselineLike, BasePoints, base_points, neighbours
from qc.stats.charts.chart import FEW_POINTS, Caution, rounding
from qc.stats.charts.spread import gathered
from qc.stats.checks import Floats, read_only

SINGULAR = 1e-10
"""Correlations with an eigenvalue below this are taken for dependent but for rounding."""

_ROWS_AT_ONCE = 1 << 14


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownVectors:
    """Mean (p) and covariance (p, p) that are given instead of estimated."""

    mean: npt.ArrayLike | None = None
    covariance: npt.ArrayLike | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Vectors:
    """What a chart of several variables is made from; arrays are read-only.

    ``points`` : (k, p), single rows or subgroup means. ``size`` : rows in each subgroup, None
    for single rows. ``mean`` : (p). ``covariance`` : (p, p), of a single row. ``n_mean`` : rows
    the mean rests on, infinite where it is known. ``degrees`` : degrees of freedom of the
    covariance; infinite where it is known, nan where it comes from steps. ``base`` : the points
    estimates come from; ``baseline`` is None where nothing was estimated.
    """

    points: Floats
    size: Floats | None
    mean: Floats
    covariance: Floats
    n_mean: float
    degrees: float
    base: BasePoints
    baseline: Baseline | None
    cautions: tuple[Caution, ...]

    @property
    def n_variables(self) -> int:
        """p."""
        return len(self.mean)

    def distances(self) -> Floats:
        """Squared distance of each point from the mean, in the covariance of a single row."""
        return squared_distances(self.points, self.mean, self.covariance)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """Subgroup means, and each row's distance from its own; None for single rows."""

    points: Floats
    size: Floats | None = None
    within: Floats | None = None


def plotted_vectors(
    values: npt.ArrayLike, subgroup: npt.ArrayLike | None, known: KnownVectors,
    baseline: BaselineLike, *, from_steps: bool = False,
) -> Vectors:
    """Points to plot, with their mean and covariance: known, or estimated from the baseline.

    Parameters
    ----------
    values : (n, p), rows in time order, finite
    subgroup : label of each row's subgroup, in order of first appearance; None: single rows
    known : mean, covariance, both or neither
    baseline : plotted points that estimates come from; all
    from_steps : covariance of single rows from the steps between neighbours instead of the
        sample covariance: a lasting shift inside the baseline hardly widens it

    Raises
    ------
    ValueError
        A value is not finite, shapes do not fit, or the covariance cannot be had: too few rows
        for so many variables, one that does not vary, or one that follows from others.

    Notes
    -----
    Subgroups: pooled within. Single rows about a known mean: squares about it, divisor n. Steps:
    half their mean product, as the moving range does for one variable.

    Source
    ------
    Alt (1985), Encyclopedia of Statistical Sciences 6, 110-122; steps: Holmes and Mergen (1993),
    Quality Engineering 5, 619-625.
    """
    x = finite_table("values", values)
    rows = _Rows(points=x) if subgroup is None else _grouped(x, subgroup)
    base = base_points(baseline, len(rows.points))
    mean, n_mean = _mean(rows, base, known)
    covariance, degrees = _covariance(rows, base, known, about=mean, from_steps=from_steps)
    estimated = not (np.isinf(n_mean) and np.isinf(degrees))
    few = estimated and base.n < FEW_POINTS
    return Vectors(
        points=read_only(rows.points), size=rows.size, mean=read_only(mean),
        covariance=read_only(regular(covariance, mean)), n_mean=n_mean, degrees=degrees,
        base=base, baseline=base.baseline if estimated else None,
        cautions=(Caution.TOO_FEW_POINTS,) if few else (),
    )


def finite_table(name: str, values: npt.ArrayLike) -> Floats:
    """A two-dimensional float64 copy of ``values``, finite, at least one row and one column."""
    table = np.array(values, dtype=np.float64, order="C")
    if table.ndim != 2:
        raise ValueError(
            f"{name} has {table.ndim} dimensions; it must have two: points and variables"
        )
    if not table.size:
        raise ValueError(f"{name} has {table.shape[0]} points of {table.shape[1]} variables;"
                         " it needs at least one of each")
    if not np.isfinite(table).all():
        row, column = np.argwhere(~np.isfinite(table))[0]
        raise ValueError(f"{name} is {table[row, column]} at position {row + 1}, variable"
                         f" {column + 1}; it must be a finite number")
    return table


def squared_distances(points: Floats, mean: Floats | float, covariance: Floats) -> Floats:
    """off' covariance^-1 off of each row of shape (k, p), off its distance from the mean."""
    whiten = np.linalg.inv(np.linalg.cholesky(covariance)).T
    found = np.empty(len(points))
    for first in range(0, len(points), _ROWS_AT_ONCE):
        white = (points[first:first + _ROWS_AT_ONCE] - mean) @ whiten
        np.einsum("ij,ij->i", white, white, out=found[first:first + _ROWS_AT_ONCE])
    return found


def regular(covariance: Floats, mean: Floats) -> Floats:
    """The covariance, if it can be inverted.

    Raises
    ------
    ValueError
        A variable does not vary, or some follow from each other; they are named by number.
    """
    deviation = np.sqrt(np.diag(covariance))
    varies = deviation > [rounding(centre, 0.0) for centre in mean.tolist()]
    if not varies.all():
        at = int(np.argmin(varies)) + 1
        raise ValueError(f"values do not vary in variable {at} of the baseline: its distance"
                         " from the mean has no measure; leave the variable out")
    size, direction = np.linalg.eigh(covariance / np.outer(deviation, deviation))
    if size[0] < SINGULAR:
        found = np.flatnonzero(np.abs(direction[:, 0]) > 1e-4) + 1
        names = ", ".join(map(str, found.tolist()))
        raise ValueError(f"values of the variables {names} follow from each other in the baseline"
                         " (their covariance is singular); leave one of them out")
    return covariance

def _grouped(x: Floats, subgroup: npt.ArrayLike) -> _Rows:
    """Means of subgroups; ``x``, a copy of its own, becomes the distances from them."""
    together, starts = gathered(x, subgroup)
    size = np.diff(starts, append=len(together)).astype(np.float64)
    if (size == 1).all():
        return _Rows(points=together)
    means = np.add.reduceat(together, starts, axis=0) / size[:, None]
    together -= np.repeat(means, size.astype(np.int64), axis=0)
    return _Rows(points=means, size=read_only(size), within=together)


def _mean(rows: _Rows, base: BasePoints, known: KnownVectors) -> tuple[Floats, float]:
    p = rows.points.shape[1]
    if known.mean is not None:
        mean = np.array(known.mean, dtype=np.float64)
        if mean.shape != (p,) or not np.isfinite(mean).all():
            raise ValueError(f"mean is {known.mean}; it must be {p} finite numbers")
        return mean, np.inf
    if rows.size is None:
        return np.array([mean_of(each) for each in rows.points[base.at].T]), float(base.n)
    weights = rows.size[base.at]
    return np.average(rows.points[base.at], axis=0, weights=weights), float(weights.sum())


def _covariance(
    rows: _Rows, base: BasePoints, known: KnownVectors, *, about: Floats, from_steps: bool
) -> tuple[Floats, float]:
    if known.covariance is not None:
        return _given(known.covariance, len(about)), np.inf
    if rows.within is not None and rows.size is not None:
        return _pooled(rows.within, rows.size, base)
    if from_steps:
        return _from_steps(rows.points, base), np.nan
    off = rows.points[base.at] - about
    degrees = base.n - (known.mean is None)
    if degrees < 1:
        raise ValueError("baseline has 1 point; a covariance needs at least 2")
    return off.T @ off / degrees, float(degrees)


def _given(covariance: npt.ArrayLike, p: int) -> Floats:
    given = np.array(covariance, dtype=np.float64)
    if given.shape != (p, p) or not np.isfinite(given).all():
        raise ValueError(f"covariance has shape {given.shape}; it must be finite numbers of shape"
                         f" ({p}, {p})")
    if not np.allclose(given, given.T, rtol=1e-9, atol=0):
        raise ValueError("covariance is not symmetric; the order of two variables cannot matter")
    if np.linalg.eigvalsh(given)[0] <= 0:
        raise ValueError("covariance is not positive definite; every mix of the variables must"
                         " have a variance above 0")
    return given


def _pooled(within: Floats, size: Floats, base: BasePoints) -> tuple[Floats, float]:
    chosen = np.zeros(len(size), dtype=np.bool_)
    chosen[base.at] = True
    degrees = float((size[base.at] - 1).sum())
    if degrees < 1:
        raise ValueError("subgroup has one row in each subgroup of the baseline; a covariance"
                         " needs two")
    off = within if chosen.all() else within[np.repeat(chosen, size.astype(np.int64))]
    return off.T @ off / degrees, degrees


def _from_steps(points: Floats, base: BasePoints) -> Floats:
    at = neighbours(base)
    if isinstance(at, slice):
        steps = np.diff(points[base.at], axis=0)
    else:
        steps = points[at] - points[at - 1]
    if len(steps) == 0:
        raise ValueError(
            f"baseline has {base.n} points, no two of them neighbours; a step needs two")
    return steps.T @ steps / (2 * len(steps))
