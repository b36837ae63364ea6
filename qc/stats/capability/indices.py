"""Capability indices of a normal characteristic from mean and sigma, with their intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq
from scipy.special import chdtri, gammaln

from qc.stats.capability.noncentral import noncentrality
from qc.stats.capability.specification import Specification
from qc.stats.charts.constants import d2, d3

NEIGHBOURS = 2 * math.sqrt(3) / math.pi + 1 / 3 - 4 / math.pi
"""Covariance of two moving ranges that share a value, in sigma squared."""

CHI_SQUARE = "chi-square"
NONCENTRAL_T = "noncentral t, nearer limit"
BOYLES = "chi-square approximation of Boyles (1991)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Index:
    """An index with its two-sided interval and how that was made."""

    value: float
    low: float
    high: float
    method: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PointIndices:
    """Indices without their intervals; nan where a limit or target they need does not exist.

    ``c``: width over 6 sigma; ``lower``, ``upper``: room to one limit over 3 sigma; ``nearer``:
    the smaller of the two; ``k``: distance from the middle in half widths; ``cpm``: width over
    6 root mean square distances from the target.
    """

    c: float
    lower: float
    upper: float
    nearer: float
    k: float
    cpm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """An estimate of sigma and how sure it is.

    ``sigma`` over its true value is distributed as ``scale`` times sqrt(chi-square(df) / df).
    """

    sigma: float
    df: float
    scale: float
    method: str


def point_indices(mean: float, sigma: float, specification: Specification) -> PointIndices:
    """Indices of a normal characteristic with this mean and sigma (above 0).

    Source
    ------
    ISO 22514-2; Kane (1986), J. Quality Technology 18, 41-52 (Cpk, k); Chan, Cheng & Spiring
    (1988), J. Quality Technology 20, 162-175 (Cpm). Checked against NIST/SEMATECH e-Handbook,
    6.1.6.
    """
    low, high = specification.ends
    nan = math.nan
    two_sided, target = specification.two_sided, specification.target
    off_target = nan if target is None else math.hypot(sigma, mean - target)
    lower = nan if specification.lower is None else (mean - low) / (3 * sigma)
    upper = nan if specification.upper is None else (high - mean) / (3 * sigma)
    return PointIndices(
        c=(high - low) / (6 * sigma) if two_sided else nan, lower=lower, upper=upper,
        nearer=min(room for room in (lower, upper) if not math.isnan(room)),
        k=abs(mean - (low + high) / 2) / ((high - low) / 2) if two_sided else nan,
        cpm=(high - low) / (6 * off_target) if two_sided else nan,
    )


def width_index(value: float, spread: Spread, confidence: float) -> Index:
    """Cp or Pp with its interval.

    Notes
    -----
    value scale sqrt(chi-square(q; df) / df) at both q = (1 -+ confidence) / 2: exact where the
    sigma is a (pooled) sample standard deviation of normal values.

    Source
    ------
    Chou, Owen & Borrego (1990), J. Quality Technology 22, 223-229; Montgomery, Introduction to
    Statistical Quality Control, example of Cp with n = 20.
    """
    low, high = _chi_factors(spread.df, confidence)
    return Index(value=value, low=value * spread.scale * low, high=value * spread.scale * high,
                 method=CHI_SQUARE)


def nearer_index(value: float, n: int, spread: Spread, confidence: float) -> Index:
    """Cpk or Ppk of n values with its interval.

    Notes
    -----
    3 sqrt(n) value scale is noncentral t with noncentrality 3 sqrt(n) Cpk: exact with one limit
    where the sigma is a (pooled) sample standard deviation. Between two limits the farther one is
    left out: the lower end then covers at least what it says, and both ends together 94 to 96 %
    at 95 % (simulated, n = 5 to 100, moving ranges too).

    Source
    ------
    Owen (1968), Technometrics 10, 445-478, noncentral t; Kushler & Hurley (1992), J. Quality
    Technology 24, 188-195, on its use for Cpk.
    """
    root = 3 * math.sqrt(n)
    t, tail = root * value * spread.scale, (1 - confidence) / 2
    return Index(
        value=value, low=noncentrality(t, spread.df, 1 - tail) / root,
        high=noncentrality(t, spread.df, tail) / root, method=NONCENTRAL_T,
    )


def target_index(value: float, n: int, off_target: float, confidence: float) -> Index:
    """Cpm of n values with its interval; ``off_target`` is (mean - target) / sigma.

    Notes
    -----
    The mean square distance from the target, divisor n, is taken as chi-square with
    n (1 + off^2)^2 / (1 + 2 off^2) degrees of freedom, exact on target. The index itself has
    divisor n - 1 in its sigma, so the interval does not lie evenly about it in small samples.

    Source
    ------
    Boyles (1991), J. Quality Technology 23, 17-26.
    """
    square = off_target**2
    from_mean_square = value * math.sqrt((1 + square) / (1 - 1 / n + square))
    low, high = _chi_factors(n * (1 + square) ** 2 / (1 + 2 * square), confidence)
    return Index(value=value, low=from_mean_square * low, high=from_mean_square * high,
                 method=BOYLES)


def deviation_spread(sigma: float, df: float, method: str) -> Spread:
    """A (pooled) sample standard deviation: chi-square with its degrees of freedom."""
    return Spread(sigma=sigma, df=df, scale=1.0, method=method)


def moving_range_spread(sigma: float, n_values: int) -> Spread:
    """MR-bar / d2 of n values in a row, as the chi of equal mean and variance.

    Notes
    -----
    Of n - 1 moving ranges that share values, MR-bar has the variance
    ((n - 1) d3^2 + 2 (n - 2) cov) / (n - 1)^2 sigma^2 with cov = 2 sqrt(3) / pi + 1/3 - 4 / pi;
    df is where a chi variable has the same ratio of standard deviation to mean. It tends to
    0.605 (n - 1): MR-bar / d2 wastes two values in five.

    Source
    ------
    Hoel (1946), Annals of Mathematical Statistics 17, 475-482, and Cryer & Ryan (1990),
    J. Quality Technology 22, 187-192 (variance); Patnaik (1950), Biometrika 37, 78-87 (chi of
    equal moments).
    """
    m = n_values - 1
    variance = (m * d3(2) ** 2 + 2 * (m - 1) * NEIGHBOURS) / m**2
    wanted = variance / d2(2) ** 2
    df = 1.0 if m == 1 else float(brentq(lambda v: _chi_ratio(v) - wanted, 0.5, 2.0 * m))
    return Spread(sigma=sigma, df=df, scale=math.sqrt(1 + _chi_ratio(df)),
                  method="moving range / d2")


def _chi_ratio(df: float) -> float:
    """Variance over squared mean of a chi variable."""
    if df > 200:  # the series of Gamma(x + 1/2) / Gamma(x), where logarithms lose digits
        x = df / 2
        root = 1 - 1 / (8 * x) + 1 / (128 * x**2) + 5 / (1024 * x**3) - 21 / (32768 * x**4)
        return 1 / root**2 - 1
    return df / 2 * math.exp(2 * (gammaln(df / 2) - gammaln((df + 1) / 2))) - 1


def _chi_factors(df: float, confidence: float) -> tuple[float, float]:
    tail = (1 - confidence) / 2
    return (math.sqrt(float(chdtri(df, 1 - tail)) / df), math.sqrt(float(chdtri(df, tail)) / df))
