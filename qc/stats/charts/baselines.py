"""Which plotted points limits come from, and which of them are left out for a stated reason."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.checks import read_only


@dataclass(frozen=True, slots=True, kw_only=True)
class Excluded:
    """A point of the baseline that estimates leave out. ``at`` is its 1-based position."""

    at: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Baseline:
    """First and last plotted point (1-based, inclusive) limits come from, less ``excluded``."""

    first: int
    last: int
    excluded: tuple[Excluded, ...] = ()


BaselineLike = Baseline | tuple[int, int] | None
"""What a chart function takes: first and last point will do; None means all points."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BasePoints:
    """The points of a baseline in a form that indexes arrays.

    ``at`` : a slice, or where points are left out their 0-based positions, so that ``x[base.at]``
    serves both. ``n`` : how many. ``baseline`` : the record of them.
    """

    at: slice | npt.NDArray[np.int64]
    n: int
    baseline: Baseline

    def holds(self, position: int) -> bool:
        """Whether the point at this 1-based position is one of them."""
        inside = self.baseline.first <= position <= self.baseline.last
        return inside and all(position != left.at for left in self.baseline.excluded)


def base_points(baseline: BaselineLike, n_points: int) -> BasePoints:
    """The plotted points that limits come from.

    Parameters
    ----------
    baseline : points to use; None for all
    n_points : number of plotted points, 1 and up

    Raises
    ------
    ValueError
        The baseline is not inside 1..n_points or ends before it begins; a point left out is not
        in it, is left out twice or without a reason; or none remains.
    """
    wanted = _as_baseline(baseline, n_points)
    if not 1 <= wanted.first <= wanted.last <= n_points:
        raise ValueError(
            f"baseline is {wanted.first}:{wanted.last}; it must lie inside 1:{n_points}"
        )
    if not wanted.excluded:
        span = slice(wanted.first - 1, wanted.last)
        return BasePoints(at=span, n=wanted.last - wanted.first + 1, baseline=wanted)
    kept = _kept(wanted)
    return BasePoints(at=read_only(kept), n=len(kept), baseline=wanted)


def neighbours(base: BasePoints) -> npt.NDArray[np.int64] | slice:
    """Positions (0-based) of the points whose forerunner is in the baseline too.

    What compares a point with the one before must not reach over a point left out.
    """
    if isinstance(base.at, slice):
        return slice(base.at.start + 1, base.at.stop)
    return base.at[1:][np.diff(base.at) == 1]


def _as_baseline(baseline: BaselineLike, n_points: int) -> Baseline:
    if baseline is None:
        return Baseline(first=1, last=n_points)
    if isinstance(baseline, Baseline):
        return baseline
    first, last = baseline
    return Baseline(first=first, last=last)


def _kept(wanted: Baseline) -> npt.NDArray[np.int64]:
    keep = np.ones(wanted.last - wanted.first + 1, dtype=bool)
    for left in wanted.excluded:
        _check_excluded(left, wanted)
        if not keep[left.at - wanted.first]:
            raise ValueError(f"excluded names point {left.at} twice; once is enough")
        keep[left.at - wanted.first] = False
    if not keep.any():
        raise ValueError("excluded leaves no point of the baseline; at least one must remain")
    return np.flatnonzero(keep) + (wanted.first - 1)


def _check_excluded(left: Excluded, wanted: Baseline) -> None:
    if not wanted.first <= left.at <= wanted.last:
        raise ValueError(f"excluded has point {left.at}; it must lie inside the baseline"
                         f" {wanted.first}:{wanted.last}")
    if not left.reason.strip():
        raise ValueError(f"excluded gives no reason for point {left.at}; a point is left out only"
                         " for a cause that was found")
