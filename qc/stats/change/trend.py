"""Trends of noisy points: a robust slope, and whether there is a trend at all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.stats import norm

from qc.stats.change.pair_order import count_descents
from qc.stats.change.pair_slopes import PairSlopes
from qc.stats.checks import Floats, finite_array, inside_unit, same_length

MOST_POINTS = 10_000_000
"""More points than this are refused: they would need hours and many gigabytes."""
MOST_EXACT = 50
"""Up to this many points without ties the p-value is exact."""
FEW = 10


class TrendCaution(Enum):
    """What a reader must know before using the estimate; the value is the sentence to show."""

    TOO_FEW_FOR_CONFIDENCE = "too few points for the confidence asked: the interval is the range"
    NO_VARIATION = "all values are equal: nothing to judge a trend by"
    ROUGH = "few points with ties among them: the p-value is rough"


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """A robust line y = intercept + slope x. ``low``, ``high`` are the interval of the slope."""

    slope: float
    low: float
    high: float
    intercept: float
    n: int
    confidence: float
    cautions: tuple[TrendCaution, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class MonotoneTrend:
    """Mann-Kendall test. ``s`` above 0 is a rise, ``p_value`` two-sided by ``method``.

    ``tau`` is Kendall's tau-b with time: 1 a rise at every step, -1 a fall, nan without variation.
    ``z`` is the normal deviate with continuity correction, whichever way p was found.
    """

    s: int
    tau: float
    variance: float
    z: float
    p_value: float
    n: int
    method: str
    cautions: tuple[TrendCaution, ...]


def theil_sen(x: npt.ArrayLike, y: npt.ArrayLike, confidence: float = 0.95) -> Slope:
    """Median of the slopes between all pairs of points, with its distribution-free interval.

    Parameters
    ----------
    x, y : n finite values each, n from 2 to ten million; x may have ties but not all equal
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        Lengths differ, a value is not finite, too few or too many points, or x does not vary.

    Notes
    -----
    Pairs with equal x are left out. The interval comes from the null distribution of Kendall's S
    (normal, with ties). The intercept is median(y) - slope median(x). Up to 29 % of the points may
    be wild without spoiling the slope. Points must be independent around the line; a step is not a
    slope. Time grows with n log n, memory with n: see `PairSlopes`.

    Source
    ------
    Theil (1950); Sen (1968), J. Amer. Stat. Assoc. 63, 1379-1389, checked against its example.
    """
    at, value = finite_array("x", x, at_least=2), finite_array("y", y, at_least=2)
    same_length("x", at, "y", value)
    _not_too_many("x", at)
    slopes = PairSlopes(at, value)
    n_pairs = slopes.n_pairs
    if n_pairs == 0:
        raise ValueError(f"x is {at[0]:g} at every point; a slope needs x to vary")
    spread = math.sqrt(max(_s_variance(at, value), 0.0))
    reach = float(norm.ppf(0.5 + inside_unit("confidence", confidence) / 2)) * spread
    first, last = round((n_pairs - reach) / 2) - 1, round((n_pairs + reach) / 2)
    short = first < 0 or last > n_pairs - 1
    low, *middle, high = slopes.at([
        max(first, 0), (n_pairs - 1) // 2, n_pairs // 2, min(last, n_pairs - 1)])
    slope = float(np.mean(middle))
    return Slope(
        slope=slope, low=float(low), high=float(high),
        intercept=float(np.median(value) - slope * np.median(at)), n=len(at),
        confidence=confidence, cautions=_cautions(value, short=short),
    )


def mann_kendall(y: npt.ArrayLike) -> MonotoneTrend:
    """Does a series rise or fall more than chance would have it?

    Parameters
    ----------
    y : n finite values in time order, n from 3 to ten million; ties allowed

    Raises
    ------
    ValueError
        A value is not finite, or too few or too many points.

    Notes
    -----
    S counts rising pairs less falling ones. Without ties and up to 50 points p is exact: twice
    the smaller tail over all orders of the values. Else z = (S - sign S) / sqrt(var S), the
    variance corrected for ties. Values must be independent.

    Source
    ------
    Mann (1945), Econometrica 13, 245-259; Kendall (1975), Rank Correlation Methods.
    """
    value = finite_array("y", y, at_least=3)
    _not_too_many("y", value)
    n, ties = len(value), _ties(value)
    tied = int((ties * (ties - 1)).sum()) // 2
    n_pairs, n_falling = n * (n - 1) // 2, count_descents(value)
    s = n_pairs - tied - 2 * n_falling
    variance = _s_variance(np.arange(n, dtype=np.float64), value)
    z = float((s - np.sign(s)) / math.sqrt(variance)) if variance > 0 else 0.0
    exact = tied == 0 and n <= MOST_EXACT
    return MonotoneTrend(
        s=s, variance=variance, z=z, n=n,
        tau=s / math.sqrt(n_pairs * (n_pairs - tied)) if n_pairs > tied else math.nan,
        p_value=_exact_p(n, n_falling) if exact else float(2 * norm.sf(abs(z))),
        method="exact" if exact else "normal, continuity corrected",
        cautions=_cautions(value, rough=n < FEW and not exact),
    )


def _exact_p(n: int, n_falling: int) -> float:
    """Twice the smaller tail of the number of falling pairs over all orders of n values."""
    chance = np.ones(1)
    for k in range(2, n + 1):  # the k-th value falls below 0 to k - 1 earlier ones, each as likely
        chance = np.convolve(chance, np.full(k, 1 / k))
    fewer = min(n_falling, len(chance) - 1 - n_falling)  # both tails are alike
    return float(min(1.0, 2 * chance[: fewer + 1].sum()))


def _not_too_many(name: str, values: Floats) -> None:
    if len(values) > MOST_POINTS:
        raise ValueError(
            f"{name} has {len(values)} values; at most {MOST_POINTS}: take means over time first"
        )


def _s_variance(x: Floats, y: Floats) -> float:
    """Variance of Kendall's S without a trend, ties in either series taken off."""
    n = len(x)
    return (_term(np.array([n])) - _term(_ties(x)) - _term(_ties(y))) / 18


def _ties(values: Floats) -> npt.NDArray[np.int64]:
    counts = np.unique(values, return_counts=True)[1]
    return counts[counts > 1]


def _term(counts: npt.NDArray[np.int64]) -> float:
    t = counts.astype(np.float64)  # whole numbers would overflow beyond two million points
    return float((t * (t - 1) * (2 * t + 5)).sum())


def _cautions(
    y: Floats, *, short: bool = False, rough: bool = False
) -> tuple[TrendCaution, ...]:
    flat = bool(np.ptp(y) == 0)
    pairs = ((short, TrendCaution.TOO_FEW_FOR_CONFIDENCE), (flat, TrendCaution.NO_VARIATION),
             (rough and not flat, TrendCaution.ROUGH))
    return tuple(caution for applies, caution in pairs if applies)
