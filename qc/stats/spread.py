"""Short-term standard deviation: from moving ranges of single values, or from within subgroups."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.baselines import BasePoints, neighbours
from qc.stats.checks import Floats, read_only, same_length
from qc.stats.constants import c4, d2

LARGEST_FOR_RANGE = 10
"""Above this size the range wastes too much of a subgroup and the standard deviation serves."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Subgroups:
    """Values gathered into subgroups in order of first appearance; read-only arrays.

    ``size``, ``mean``, ``spread_range``, ``deviation`` : float64, one for each subgroup;
    ``deviation`` (divisor n - 1) is nan where a subgroup has one value.
    """

    size: Floats
    mean: Floats
    spread_range: Floats
    deviation: Floats

    def chosen(self, base: BasePoints) -> Subgroups:
        """The subgroups of a baseline."""
        return Subgroups(
            size=self.size[base.at], mean=self.mean[base.at],
            spread_range=self.spread_range[base.at], deviation=self.deviation[base.at],
        )


def subgroups(values: Floats, member_of: npt.ArrayLike) -> Subgroups:
    """Size, mean, range and standard deviation of each subgroup.

    Parameters
    ----------
    values : float64, one for each value
    member_of : label of each value's subgroup (any hashable type, no blanks)

    Raises
    ------
    ValueError
        The two have different lengths.
    """
    labels = np.asarray(member_of)
    same_length("values", values, "subgroup", labels)
    _, first, code = np.unique(labels, return_index=True, return_inverse=True)
    code = np.argsort(np.argsort(first))[code]
    size = np.bincount(code).astype(np.float64)
    mean = np.bincount(code, weights=values) / size
    squares = np.bincount(code, weights=(values - mean[code]) ** 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        deviation = np.sqrt(squares / (size - 1))
    order = np.argsort(code, kind="stable")
    starts = np.r_[0, np.cumsum(size[:-1])].astype(np.int64)
    ordered = values[order]
    spread_range = np.maximum.reduceat(ordered, starts) - np.minimum.reduceat(ordered, starts)
    return Subgroups(
        size=read_only(size), mean=read_only(mean), spread_range=read_only(spread_range),
        deviation=read_only(deviation),
    )


def moving_range_sigma(values: Floats, base: BasePoints) -> float:
    """MR-bar / d2(2) of the baseline's single values in time order.

    Raises
    ------
    ValueError
        No two neighbours are in the baseline.

    Notes
    -----
    A moving range never reaches over a point that was left out.

    Source
    ------
    ISO 7870-2:2013, individuals and moving range.
    """
    at = neighbours(base)
    ranges = np.diff(values[base.at]) if isinstance(at, slice) else values[at] - values[at - 1]
    if len(ranges) == 0:
        points = "1 point" if base.n == 1 else f"{base.n} points, no two of them neighbours"
        raise ValueError(f"baseline has {points}; a moving range needs at least 2 in a row")
    np.abs(ranges, out=ranges)
    return float(ranges.mean()) / d2(2)


def subgroup_sigma(groups: Subgroups) -> float:
    """R-bar / d2 up to `LARGEST_FOR_RANGE` values a subgroup, s-bar / c4 above.

    Notes
    -----
    Each subgroup's range is divided by its own factor before averaging, so sizes may differ;
    subgroups of one value say nothing and are left out. nan when no subgroup has two values.

    Source
    ------
    ISO 7870-2:2013, mean with range (n up to 10) and mean with standard deviation.
    """
    several = groups.size > 1
    if not several.any():
        return float("nan")
    size = groups.size[several]
    if size.max() <= LARGEST_FOR_RANGE:
        return float((groups.spread_range[several] / _factor_each(size, use_range=True)).mean())
    return float((groups.deviation[several] / _factor_each(size, use_range=False)).mean())


def _factor_each(size: Floats, *, use_range: bool) -> Floats:
    factor = d2 if use_range else c4
    sizes, code = np.unique(size, return_inverse=True)
    each: Floats = np.array([factor(int(n)) for n in sizes])[code]
    return each
