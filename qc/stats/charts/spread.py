"""Short-term standard deviation: from moving ranges of single values, or from within subgroups."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import BLOCK, blocks
from qc.stats.charts.baselines import BasePoints, neighbours
from qc.stats.charts.constants import c4, d2
from qc.stats.checks import Floats, read_only, same_length

LARGEST_FOR_RANGE = 10
"""Above this size the range wastes too much of a subgroup and the standard deviation serves."""

SMALL = 64
"""Subgroups up to this size, all equal, are summed up as a table."""


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

    def scaled(self, zero: Floats | float, unit: Floats | float) -> Subgroups:
        """The subgroups of (value - zero) / unit, one of each for every subgroup."""
        return Subgroups(
            size=self.size, mean=(self.mean - zero) / unit,
            spread_range=self.spread_range / unit, deviation=self.deviation / unit,
        )


def subgroups(values: Floats, member_of: npt.ArrayLike) -> Subgroups:
    """Size, mean, range and standard deviation of each subgroup.

    Parameters
    ----------
    values : float64, one for each value
    member_of : label of each value's subgroup (any type that can be told apart, no blanks)

    Raises
    ------
    ValueError
        The two have different lengths, or a label is missing.

    """
    return _summaries(*gathered(values, member_of))


def gathered(
    values: npt.NDArray[Any], member_of: npt.ArrayLike, name: str = "subgroup"
) -> tuple[npt.NDArray[Any], npt.NDArray[np.int64]]:
    """Values (or rows of values) with the members of each subgroup together; where each begins.

    Parameters and errors as for `subgroups`; ``name`` is what the labels are called in an error.

    Notes
    -----
    Subgroups stand in order of first appearance. Where members stand together already, as they
    mostly come, nothing is sorted or copied.
    """
    labels = _labels(member_of, name)
    same_length("values", values, name, labels)
    starts = _run_starts(labels)
    if _each_once(labels[starts]):
        return values, starts
    by_label = np.argsort(labels, kind="stable")
    starts = _run_starts(labels[by_label])
    first = np.argsort(by_label[starts])  # labels in order of first appearance
    size = np.diff(starts, append=len(labels))[first]
    new_starts = np.cumsum(size) - size
    order = by_label[np.arange(len(labels)) + np.repeat(starts[first] - new_starts, size)]
    return values[order], new_starts


def equal_subgroups(values: Floats) -> Subgroups:
    """As `subgroups`, of a table with a row of values for each subgroup."""
    n_subgroups, size = values.shape
    return _summaries(values.ravel(), np.arange(0, n_subgroups * size, size))


def _labels(member_of: npt.ArrayLike, name: str) -> npt.NDArray[Any]:
    """The labels in one dimension, as numbers where they have no order of their own."""
    labels = np.asarray(member_of)
    if labels.ndim != 1:
        raise ValueError(f"{name} has {labels.ndim} dimensions; it must be one-dimensional")
    missing = labels != labels  # nan and not-a-time are the labels that differ from themselves
    if labels.dtype == object:
        missing = missing | np.array([label is None for label in labels], dtype=bool)
    if np.any(missing):
        at = int(np.argmax(missing))
        raise ValueError(f"{name} is {labels[at]} at position {at + 1}; every value needs one")
    if labels.dtype != object:
        return labels
    numbers = {label: number for number, label in enumerate(dict.fromkeys(labels.tolist()))}
    return np.array([numbers[label] for label in labels.tolist()], dtype=np.int64)


def _run_starts(labels: npt.NDArray[Any]) -> npt.NDArray[np.int64]:
    """Where a label differs from the one before, the first position included."""
    return np.r_[0, np.flatnonzero(labels[1:] != labels[:-1]) + 1]


def _each_once(labels: npt.NDArray[Any]) -> bool:
    if labels.dtype.kind in "iufmM" and (labels[1:] > labels[:-1]).all():
        return True
    return len(np.unique(labels)) == len(labels)


def _summaries(values: Floats, starts: npt.NDArray[np.int64]) -> Subgroups:
    """The subgroups that begin at these positions, each up to the next."""
    size = np.diff(starts, append=len(values))
    small_and_equal = size[0] <= SMALL and (size == size[0]).all()
    mean, spread_range, squares = (np.empty(len(starts)) for _ in range(3))
    for part in _parts(starts):
        own, n = values[starts[part][0]:starts[part][-1] + size[part][-1]], size[part]
        summed = _of_table(own, n[0]) if small_and_equal else _of_runs(own, n)
        mean[part], spread_range[part], squares[part] = summed
    squares[spread_range == 0] = 0.0  # the mean of equal values may differ from them by rounding
    with np.errstate(invalid="ignore", divide="ignore"):
        deviation = np.sqrt(squares / (size - 1))
    return Subgroups(
        size=read_only(size.astype(np.float64)), mean=read_only(mean),
        spread_range=read_only(spread_range), deviation=read_only(deviation),
    )


def _of_table(own: Floats, n: int) -> tuple[Floats, Floats, Floats]:
    """Mean, range and sum of squares of subgroups of n values each."""
    rows = own.reshape(-1, n).T.copy()  # first members, second members...: added row by row
    mean = rows.sum(axis=0) / n
    spread_range = rows.max(axis=0) - rows.min(axis=0)
    rows -= mean
    rows *= rows
    return mean, spread_range, rows.sum(axis=0)


def _of_runs(own: Floats, n: npt.NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
    """As `_of_table`, of subgroups of these sizes."""
    at = np.cumsum(n) - n
    mean = np.add.reduceat(own, at) / n
    off = own - np.repeat(mean, n)
    off *= off
    spread_range = np.maximum.reduceat(own, at) - np.minimum.reduceat(own, at)
    return mean, spread_range, np.add.reduceat(off, at)


def _parts(starts: npt.NDArray[np.int64]) -> Iterator[slice]:
    # of about BLOCK values: what is computed of them stays in the processor's cache
    cuts = np.unique(np.searchsorted(starts, np.arange(0, starts[-1] + 1, BLOCK)))
    for first, last in zip(cuts, np.r_[cuts[1:], len(starts)], strict=True):
        yield slice(int(first), int(last))


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
    n = at.stop - at.start if isinstance(at, slice) else len(at)
    if n <= 0:
        points = "1 point" if base.n == 1 else f"{base.n} points, no two of them neighbours"
        raise ValueError(f"baseline has {points}; a moving range needs at least 2 in a row")
    return sum(_ranges_in(values, at, part) for part in blocks(n)) / n / d2(2)


def _ranges_in(values: Floats, at: slice | npt.NDArray[np.int64], part: slice) -> float:
    """Sum of the moving ranges of a part of the positions in ``at``."""
    if isinstance(at, slice):
        steps = np.diff(values[at.start + part.start - 1:at.start + part.stop])
    else:
        steps = values[at[part]] - values[at[part] - 1]
    return float(np.abs(steps, out=steps).sum())


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
        return range_sigma(groups.spread_range[several], size)
    return deviation_sigma(groups.deviation[several], size)


def range_sigma(spread_range: Floats, size: Floats) -> float:
    """R-bar / d2, each range over the factor of its own size (2 and up) before averaging."""
    return float((spread_range / factor_each(d2, size)).mean())


def deviation_sigma(deviation: Floats, size: Floats) -> float:
    """s-bar / c4, each deviation over the factor of its own size (2 and up) before averaging."""
    return float((deviation / factor_each(c4, size)).mean())


def factor_each(factor: Callable[[int], float], size: Floats) -> Floats | float:
    """A factor for each subgroup's size; one number where all have one size."""
    if size.min() == size.max():
        return factor(int(size[0]))
    n = size.astype(np.intp)
    there = np.flatnonzero(np.bincount(n))
    of_size = np.zeros(there[-1] + 1)
    of_size[there] = [factor(int(k)) for k in there]
    each: Floats = of_size[n]
    return each
