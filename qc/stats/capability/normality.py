"""Do values look normal? The Anderson-Darling test with its p-value."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr, ndtr

from qc.stats.checks import Floats, finite_array
from qc.stats.deviation import standard_deviation

FEWEST_VALUES = 8
"""The p-value formula holds from this many values (D'Agostino & Stephens 1986)."""

WIDEST_STEP = 2.0
"""Values written in steps of more than this many sigma show no shape at all."""

LEVEL = 0.05
"""A p-value below this speaks against a normal distribution."""

SAME = 1e-9
"""Values closer than this share of the range are one value computed in two ways."""

TEST = "Anderson-Darling, mean and sigma estimated"


class NormalityCaution(Enum):
    """What a reader must know before using the test; the value is the sentence to show."""

    TOO_FEW_VALUES = f"fewer than {FEWEST_VALUES} values: whether they are normal cannot be told"
    NO_VARIATION = "all values are equal: whether they are normal cannot be told"
    ROUNDED = (
        "the values are rounded, and the plain normality test takes their steps for a shape that is"
        " not normal; with the rounding allowed for, nothing speaks against a normal shape"
    )
    TOO_COARSE = "the values are rounded too coarsely to show whether they are normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Normality:
    """Anderson-Darling A squared, the same adjusted to n, and its p-value; nan where unknown.

    ``p_value_spread`` : of the same test with values tied by rounding spread over their step; the
    one to decide by. Equal to ``p_value`` without ties.
    """

    test: str
    statistic: float
    adjusted: float
    p_value: float
    p_value_spread: float
    n: int
    cautions: tuple[NormalityCaution, ...]


def anderson_darling(values: npt.ArrayLike) -> Normality:
    """Test whether values come from a normal distribution of unknown mean and sigma.

    Parameters
    ----------
    values : n finite values in any order, n >= 1

    Returns
    -------
    Normality; statistic and p-value nan without variation, p-value nan below 8 values.

    Raises
    ------
    ValueError
        No value, one that is not finite, or values too far apart (or close) to compute with.

    Notes
    -----
    A^2 = -n - sum (2i - 1)(log F(x_i) + log(1 - F(x_n+1-i))) / n with sigma of divisor n - 1;
    the p-value comes from A^2 (1 + 0.75 / n + 2.25 / n^2) by a piecewise formula, 0 above 13.
    Values must be independent. With thousands of values a departure of no consequence counts, and
    so does the rounding of the values: at n (step / sigma)^2 above about 5 the plain test rejects
    what is normal. Spread ties (each step's values evenly over the probability of the step, sigma
    less step^2 / 12) reject at most 5 % for steps up to 1.5 sigma (simulated, n = 30 to 5000).

    Source
    ------
    Anderson & Darling (1954), J. Amer. Stat. Assoc. 49, 765-769; Stephens (1974), the same 69,
    730-737; p-values: D'Agostino & Stephens (1986), Goodness-of-Fit Techniques, table 4.9.
    """
    x = np.sort(finite_array("values", values))
    n, nan = len(x), math.nan
    few = (NormalityCaution.TOO_FEW_VALUES,) if n < FEWEST_VALUES else ()
    sigma = standard_deviation(x)
    if sigma == 0:
        return _normality(nan, nan, nan, n, (NormalityCaution.NO_VARIATION, *few))
    mean = float(x.mean())
    statistic = a_squared_of(log_ndtr((x - mean) / sigma), log_ndtr((mean - x) / sigma))
    if few:
        return _normality(statistic, nan, nan, n, few)
    plain, spread = p_value_of(_adjusted(statistic, n)), _p_value_spread(x, mean, sigma)
    return _normality(statistic, plain, plain if spread is None else spread, n,
                      _rounding_cautions(plain, spread))


def _p_value_spread(x: Floats, mean: float, sigma: float) -> float | None:
    """The p-value with ties spread over their step; nan where it is too wide, None if no ties."""
    steps = steps_of(x)
    if steps.n_each.max() == 1:
        return None
    if steps.width > WIDEST_STEP * sigma:
        return math.nan
    inner = math.sqrt(sigma**2 - steps.width**2 / 12)  # Sheppard: rounding added the rest
    low, high = (steps.low - mean) / inner, (steps.high - mean) / inner
    below = spread_ties(ndtr(low), ndtr(high), steps.n_each)
    above = spread_ties(ndtr(-low), ndtr(-high), steps.n_each)
    with np.errstate(divide="ignore"):  # a value 40 sigma out: the statistic is infinite
        return p_value_of(_adjusted(a_squared_of(np.log(below), np.log(above)), len(x)))


def _rounding_cautions(plain: float, spread: float | None) -> tuple[NormalityCaution, ...]:
    if spread is None:
        return ()
    if math.isnan(spread):
        return (NormalityCaution.TOO_COARSE,)
    return (NormalityCaution.ROUNDED,) if plain < LEVEL <= spread else ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Steps:
    """What sorted values were rounded to: each step's ends, its width, and how many are on it."""

    low: Floats
    high: Floats
    width: float
    n_each: npt.NDArray[np.int64]


def steps_of(x: Floats) -> Steps:
    """The steps of sorted values: as wide as the smallest gap between two that differ."""
    gaps = np.diff(x)
    new = np.flatnonzero(gaps > SAME * (x[-1] - x[0]))  # decimals differ in their last bit
    width = float(gaps[new].min())
    first = np.r_[0, new + 1]
    return Steps(low=x[first] - width / 2, high=x[first] + width / 2, width=width,
                 n_each=np.diff(np.r_[first, len(x)]))


def spread_ties(at_low: Floats, at_high: Floats, n_each: npt.NDArray[np.int64]) -> Floats:
    """Probabilities evenly between both ends of each step, one for each value on it."""
    n = int(n_each.sum())
    place = np.arange(n) - np.repeat(np.cumsum(n_each) - n_each, n_each)
    share = (place + 0.5) / np.repeat(n_each, n_each)
    spread: Floats = (np.repeat(at_low, n_each) * (1 - share)
                      + np.repeat(at_high, n_each) * share)
    return spread


def a_squared_of(log_below: Floats, log_above: Floats) -> float:
    """A squared from log F and log(1 - F) of the sorted values."""
    n = len(log_below)
    weight = 2 * np.arange(1, n + 1) - 1
    return float(-n - (weight * (log_below + log_above[::-1])).sum() / n)


def p_value_of(adjusted: float) -> float:
    """P-value of A squared adjusted to n, mean and sigma estimated."""
    a = adjusted
    if a < 0.2:
        return 1 - math.exp(-13.436 + 101.14 * a - 223.73 * a**2)
    if a < 0.34:
        return 1 - math.exp(-8.318 + 42.796 * a - 59.938 * a**2)
    if a < 0.6:
        return math.exp(0.9177 - 4.279 * a - 1.38 * a**2)
    return math.exp(1.2937 - 5.709 * a + 0.0186 * a**2) if a <= 13 else 0.0


def _adjusted(statistic: float, n: int) -> float:
    return statistic * (1 + 0.75 / n + 2.25 / n**2)


def _normality(
    statistic: float, p_value: float, spread: float, n: int,
    cautions: tuple[NormalityCaution, ...],
) -> Normality:
    return Normality(test=TEST, statistic=statistic, adjusted=_adjusted(statistic, n),
                     p_value=p_value, p_value_spread=spread, n=n, cautions=cautions)
