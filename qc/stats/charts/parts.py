"""Points of many parts in one series: what each part's own points say of its level and spread."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc

from qc.stats.charts.baselines import BasePoints
from qc.stats.charts.constants import d2
from qc.stats.charts.spread import Subgroups, gathered
from qc.stats.charts.subgroup_means import Within
from qc.stats.checks import Floats, given_values, same_length

Hits = npt.NDArray[np.bool_]
Points = Floats | Subgroups
"""Single values, or subgroups of them, as plotted."""

_SURE = 0.01  # chance of calling equal spreads unequal


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Parts:
    """Plotted points sorted by part.

    ``order`` : positions (0-based) part by part, in time order within each. ``starts`` : where
    each part begins in ``order``; parts come in order of first appearance. ``n`` : points of each.
    """

    labels: npt.NDArray[Any]
    order: npt.NDArray[np.int64]
    starts: npt.NDArray[np.int64]
    n: npt.NDArray[np.int64]

    def sums(self, of_point: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """The sum over the points of each part."""
        total: npt.NDArray[Any] = np.add.reduceat(of_point[self.order], self.starts)
        return total

    def at_points(self, of_part: Floats) -> Floats:
        """A figure of each part, put at each of its points."""
        of_point = np.empty(len(self.order))
        of_point[self.order] = np.repeat(of_part, self.n)
        return of_point


def parts_of(part: npt.ArrayLike) -> Parts:
    """The points of each part, from the label at each plotted point."""
    labels = np.asarray(part)
    order, starts = gathered(np.arange(len(labels)), labels, "part")
    return Parts(labels=labels[order[starts]], order=order, starts=starts,
                 n=np.diff(starts, append=len(labels)))


def each_number(name: str, given: npt.ArrayLike, x: Floats) -> Floats:
    """Finite numbers, one for each value; one alone is meant for all."""
    return given_values(name, each_label(name, given, x))


def each_label(name: str, given: npt.ArrayLike, x: Floats) -> npt.NDArray[Any]:
    """Labels of any type, one for each value; one alone is meant for all."""
    each = np.asarray(given)
    if not each.ndim:
        return np.broadcast_to(each, x.shape)
    if each.ndim > 1:
        raise ValueError(f"{name} has {each.ndim} dimensions; it must be one-dimensional")
    same_length("values", x, name, each)
    return each


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Of each part: points in the baseline, centre, and sigma of a single value."""

    n: npt.NDArray[np.int64]
    centre: Floats
    sigma: Floats


def levels_of(points: Points, within: Within, parts: Parts, base: BasePoints) -> Levels:
    """Centre and sigma of each part from its points in the baseline; nan where they are too few.

    The mean of all its values; from subgroups the mean of what each says of sigma, from single
    values MR-bar / d2. A moving range joins two values of one part with none of it between them,
    in the baseline or out of it.
    """
    if isinstance(points, Subgroups):
        return _levels_of_subgroups(points, within, parts, base)
    return _levels_of_values(points, parts, base)


def _levels_of_values(x: Floats, parts: Parts, base: BasePoints) -> Levels:
    kept = _kept(base, len(x))
    n = parts.sums(kept.astype(np.int64))
    ordered, both = x[parts.order], kept[parts.order]
    both[1:] &= both[:-1].copy()
    both[parts.starts] = False
    ranges = np.where(both, np.abs(np.diff(ordered, prepend=ordered[0])), 0.0)
    with np.errstate(invalid="ignore"):
        sigma = (np.add.reduceat(ranges, parts.starts)
                 / np.add.reduceat(both.astype(np.int64), parts.starts) / d2(2))
        centre = parts.sums(np.where(kept, x, 0.0)) / n
    return Levels(n=n, centre=centre, sigma=sigma)


def _levels_of_subgroups(
    groups: Subgroups, within: Within, parts: Parts, base: BasePoints
) -> Levels:
    kept = _kept(base, len(groups.mean))
    n = parts.sums(kept.astype(np.int64))
    with np.errstate(invalid="ignore"):
        centre = parts.sums(kept * groups.size * groups.mean) / parts.sums(kept * groups.size)
        sigma = parts.sums(kept * within.sigma_each(groups)) / n
    return Levels(n=n, centre=centre, sigma=sigma)


def spreads_differ(points: Points, parts: Parts, base: BasePoints) -> bool:
    """Whether parts vary about their own means more differently than chance lets them.

    Parts whose values are all equal are left out: readings too coarse say nothing of a spread.

    Source
    ------
    Bartlett (1937), Proc. Royal Society A 160, 268-282; it supposes normal values.
    """
    squares, free = _within_parts(points, parts, base)
    vary = squares > 0
    squares, free = squares[vary], free[vary]
    if len(free) < 2:
        return False
    total = free.sum()
    statistic = total * np.log(squares.sum() / total) - free @ np.log(squares / free)
    statistic /= 1 + ((1 / free).sum() - 1 / total) / (3 * (len(free) - 1))
    return bool(chdtrc(len(free) - 1, statistic) < _SURE)


def _within_parts(
    points: Points, parts: Parts, base: BasePoints
) -> tuple[Floats, Floats]:
    """Sum of squares and degrees of freedom of each part, within its subgroups if there are."""
    if isinstance(points, Subgroups):
        free = _kept(base, len(points.mean)) * (points.size - 1)
        return parts.sums(free * points.deviation**2), parts.sums(free)
    kept = _kept(base, len(points))
    n = parts.sums(kept.astype(np.float64))
    centre = parts.sums(np.where(kept, points, 0.0)) / np.maximum(n, 1)
    off = np.where(kept, points - parts.at_points(centre), 0.0)
    return parts.sums(off**2), n - 1


def _kept(base: BasePoints, n_points: int) -> Hits:
    kept = np.zeros(n_points, dtype=bool)
    kept[base.at] = True
    return kept
