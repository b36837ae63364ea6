"""Counts as one plotted statistic: value and size of each sample, centre, spread by chance."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri

from qc.stats.blocks import blocks
from qc.stats.charts.baselines import Baseline, BaselineLike, BasePoints, base_points
from qc.stats.charts.chart import FEW_POINTS, Caution, Signals, rounding
from qc.stats.charts.rules import RuleSet, patterns_on
from qc.stats.checks import Floats, given_amounts, given_counts, refuse_where, same_length

SURE = 0.001
"""Chance of calling ordinary counts too variable, and of calling them too alike."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Counted:
    """Counts over the size of their sample, and what chance alone makes of them.

    ``value`` : float64, count over size. ``size`` : of each sample, as it came; 1 where counts
    themselves are plotted. ``variance`` : of a sample of size 1; that of each is variance / size.
    ``most`` : the largest value there can be. ``known`` : whether the centre was given.
    """

    value: Floats
    size: Any
    centre: float
    variance: float
    most: float
    base: BasePoints
    known: bool

    @property
    def baseline(self) -> Baseline | None:
        """The points the centre comes from; None where it was given."""
        return None if self.known else self.base.baseline

    @property
    def least_expected(self) -> float:
        """What the smallest sample expects: the rarer of counted and not counted."""
        return float(np.min(self.size)) * min(self.centre, self.most - self.centre)

    def sigma(self) -> Floats | float:
        """Standard deviation of each point by chance alone; a float where all are alike."""
        if not np.ndim(self.size):
            return math.sqrt(self.variance / self.size)
        each: Floats = self.variance / self.size
        return np.sqrt(each, out=each)

    def scores(self) -> Floats:
        """Distance of each point from the centre in its own sigma, which is not 0."""
        z: Floats = self.value - self.centre
        z[np.abs(z) <= rounding(self.centre, max(z.max(), -z.min()))] = 0.0
        z /= self.sigma()
        return z

    def dispersion(self) -> float:
        """Sum of the squared scores of the baseline: chi-square where chance alone is at work."""
        total = 0.0
        for at in _pieces(self.base):
            distance = self.value[at] - self.centre
            weighted = distance * self.size[at] if np.ndim(self.size) else distance
            total += float(np.einsum("i,i->", weighted, distance))  # one thread, in the cache
        return total / self.variance


def shares(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, centre: float | None,
    baseline: BaselineLike,
) -> Counted:
    """Share of nonconforming pieces of each sample, about the pooled or the known share.

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, or an option is out of range.
    """
    d, n = nonconforming(n_defective, n_inspected)
    base = base_points(baseline, len(d))
    middle = _pooled(d, n, base) if centre is None else _known_share(centre)
    return Counted(
        value=np.divide(d, n, dtype=np.float64), size=n, centre=middle,
        variance=middle * (1 - middle), most=1.0, base=base, known=centre is not None,
    )


def rates(
    n_defects: npt.ArrayLike, n_units: npt.ArrayLike, *, centre: float | None,
    baseline: BaselineLike,
) -> Counted:
    """Nonconformities per unit of each sample, about the pooled or the known rate.

    Raises
    ------
    ValueError
        A count is not whole, a size not above 0, lengths differ, or an option is out of range.
    """
    c, n = given_counts("n_defects", n_defects), given_amounts("n_units", n_units)
    same_length("n_defects", c, "n_units", n)
    base = base_points(baseline, len(c))
    middle = _pooled(c, n, base) if centre is None else known_rate(centre)
    return Counted(
        value=np.divide(c, n, dtype=np.float64), size=n, centre=middle, variance=middle,
        most=np.inf, base=base, known=centre is not None,
    )


def nonconforming(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike
) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Checked numbers of nonconforming and of inspected pieces, as they came."""
    d = given_counts("n_defective", n_defective)
    n = given_counts("n_inspected", n_inspected, low=1)
    same_length("n_defective", d, "n_inspected", n)
    refuse_where("n_defective", d, d > n, "0 to the number inspected")
    return d, n


def known_rate(centre: float) -> float:
    """A finite number, 0 and up."""
    if not (np.isfinite(centre) and centre >= 0):
        raise ValueError(f"centre is {centre:g}; it must be a finite number, 0 and up")
    return float(centre)


def spread_cautions(counted: Counted, *, estimated: bool) -> tuple[Caution, ...]:
    """Too few points to estimate from, nothing counted, or counts that chance does not make.

    Notes
    -----
    Index of dispersion against chi-square, either side at `SURE`.

    Source
    ------
    Cochran (1954), Biometrics 10, 417-451.
    """
    found = []
    if estimated and counted.base.n < FEW_POINTS:
        found.append(Caution.TOO_FEW_POINTS)
    n_free = counted.base.n - (not counted.known)
    if counted.variance == 0:
        found.append(Caution.NO_VARIATION if counted.centre > 0 else Caution.NOTHING_COUNTED)
    elif n_free >= 1:
        found += _dispersed(counted.dispersion(), n_free)
    return tuple(found)


def three_sigma(
    counted: Counted, rules: RuleSet, *, widened: float = 1.0
) -> tuple[Floats | float, Floats | float, Signals | None]:
    """Lower and upper limit of each point, inside what there can be, and patterns in its sigma.

    ``widened`` : how many times as wide as chance alone the limits are.
    """
    own = counted.sigma()
    own *= widened
    patterns = patterns_on(counted.value, counted.centre, own, rules)
    own *= 3
    if isinstance(own, float):
        return max(counted.centre - own, 0.0), min(counted.centre + own, counted.most), patterns
    upper = counted.centre + own
    lower = np.subtract(counted.centre, own, out=own)  # no third array of this length
    return np.maximum(lower, 0.0, out=lower), np.minimum(upper, counted.most, out=upper), patterns


def _pieces(base: BasePoints) -> Iterator[slice | npt.NDArray[np.int64]]:
    for part in blocks(base.n):
        if isinstance(base.at, slice):
            yield slice(base.at.start + part.start, base.at.start + part.stop)
        else:
            yield base.at[part]


def _dispersed(dispersion: float, n_free: int) -> list[Caution]:
    if dispersion > chdtri(n_free, SURE):
        return [Caution.MORE_VARIATION]
    if dispersion < chdtri(n_free, 1 - SURE):
        return [Caution.LESS_VARIATION]
    return []


def _pooled(count: npt.NDArray[Any], size: npt.NDArray[Any], base: BasePoints) -> float:
    return float(count[base.at].sum() / size[base.at].sum())


def _known_share(centre: float) -> float:
    if not 0 <= centre <= 1:
        raise ValueError(f"centre is {centre:g}; it must be a share, 0..1")
    return float(centre)
