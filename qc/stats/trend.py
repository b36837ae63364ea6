"""Trends of few, noisy points: a robust slope, and whether there is a trend at all."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.stats import norm

from qc.stats.checks import Floats, finite_array, inside_unit, same_length


class TrendCaution(Enum):
    """What a reader must know before using the estimate; the value is the sentence to show."""

    TOO_FEW_FOR_CONFIDENCE = "too few points for the confidence asked: the interval is the range"
    NO_VARIATION = "all values are equal: nothing to judge a trend by"


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
    """Mann-Kendall test. ``s`` above 0 is a rise; ``p_value`` two-sided, normal approximation."""

    s: int
    variance: float
    z: float
    p_value: float
    n: int
    cautions: tuple[TrendCaution, ...]


def theil_sen(x: npt.ArrayLike, y: npt.ArrayLike, confidence: float = 0.95) -> Slope:
    """Median of the slopes between all pairs of points, with its distribution-free interval.

    Parameters
    ----------
    x, y : n finite values each, n >= 2; x may have ties but not all equal
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        Lengths differ, a value is not finite, fewer than 2 points, or x does not vary.

    Notes
    -----
    Pairs with equal x are left out. The interval comes from the null distribution of Kendall's S
    (normal, with ties). The intercept is median(y) - slope median(x). Up to 29 % of the points may
    be wild without spoiling the slope. Points must be independent around the line; a step is not a
    slope. Time and memory grow with n squared.

    Source
    ------
    Theil (1950); Sen (1968), J. Amer. Stat. Assoc. 63, 1379-1389, checked against its example.
    """
    at, value = finite_array("x", x, at_least=2), finite_array("y", y, at_least=2)
    same_length("x", at, "y", value)
    slopes = _pair_slopes(at, value)
    if len(slopes) == 0:
        raise ValueError(f"x is {at[0]:g} at every point; a slope needs x to vary")
    spread = math.sqrt(max(_s_variance(at, value), 0.0))
    reach = float(norm.ppf(0.5 + inside_unit("confidence", confidence) / 2)) * spread
    first, last = round((len(slopes) - reach) / 2) - 1, round((len(slopes) + reach) / 2)
    short = first < 0 or last > len(slopes) - 1
    slope = float(np.median(slopes))
    return Slope(
        slope=slope, low=float(slopes[max(first, 0)]),
        high=float(slopes[min(last, len(slopes) - 1)]),
        intercept=float(np.median(value) - slope * np.median(at)), n=len(at),
        confidence=confidence, cautions=_cautions(value, short),
    )


def mann_kendall(y: npt.ArrayLike) -> MonotoneTrend:
    """Does a series rise or fall more than chance would have it?

    Parameters
    ----------
    y : n finite values in time order, n >= 3; ties allowed

    Raises
    ------
    ValueError
        A value is not finite, or fewer than 3 points.

    Notes
    -----
    S counts rising pairs less falling ones; z = (S - sign S) / sqrt(var S), the variance corrected
    for ties. Values must be independent. Below about 8 points the normal approximation is rough.

    Source
    ------
    Mann (1945), Econometrica 13, 245-259; Kendall (1975), Rank Correlation Methods.
    """
    value = finite_array("y", y, at_least=3)
    s = int(np.sign(value[None, :] - value[:, None])[np.triu_indices(len(value), 1)].sum())
    variance = _s_variance(np.arange(len(value), dtype=np.float64), value)
    z = (s - np.sign(s)) / math.sqrt(variance) if variance > 0 else 0.0
    return MonotoneTrend(
        s=s, variance=variance, z=float(z), p_value=float(2 * norm.sf(abs(z))), n=len(value),
        cautions=_cautions(value, False),
    )


def _pair_slopes(x: Floats, y: Floats) -> Floats:
    i, j = np.triu_indices(len(x), 1)
    run, rise = x[j] - x[i], y[j] - y[i]
    apart = run != 0
    slopes: Floats = np.sort(rise[apart] / run[apart])
    return slopes


def _s_variance(x: Floats, y: Floats) -> float:
    """Variance of Kendall's S without a trend, ties in either series taken off."""
    n = len(x)
    return (_term(np.array([n])) - _term(_ties(x)) - _term(_ties(y))) / 18


def _ties(values: Floats) -> npt.NDArray[np.int64]:
    counts = np.unique(values, return_counts=True)[1]
    return counts[counts > 1]


def _term(t: npt.NDArray[np.int64]) -> float:
    return float((t * (t - 1) * (2 * t + 5)).sum())


def _cautions(y: Floats, short: bool) -> tuple[TrendCaution, ...]:
    flat = np.ptp(y) == 0
    pairs = ((short, TrendCaution.TOO_FEW_FOR_CONFIDENCE), (flat, TrendCaution.NO_VARIATION))
    return tuple(caution for applies, caution in pairs if applies)
