"""The noncentral t distribution, to the digits that large samples need."""

from __future__ import annotations

import math

import numpy as np
from scipy.optimize import brentq
from scipy.special import gammaincc, gammaincinv, gammaln, ndtr, ndtri

from qc.stats.checks import Floats

_REACH = 9.0  # standard deviations; what lies beyond is below 1e-18
_TAIL = 1e-18
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)


def noncentral_t_cdf(t: float, df: float, delta: float) -> float:
    """Probability that (Z + delta) / sqrt(chi-square(df) / df) is at most t.

    Notes
    -----
    One integral by Gauss-Legendre: over the spread where t is small, over Z where t is large,
    so that the integrand is smooth in either case. Absolute error below 1e-12 up to df 1e7;
    the library's own inverse is good to 1e-7 only, and to 1e-4 at df 1e6.

    Source
    ------
    Johnson, Kotz & Balakrishnan (1995), Continuous Univariate Distributions 2, section 31.2.
    """
    if t < 0:
        return 1 - noncentral_t_cdf(-t, df, -delta)
    if t < math.sqrt(2 * df):
        return _over_spread(t, df, delta)
    return _over_normal(t, df, delta)


def noncentrality(t: float, df: float, probability: float) -> float:
    """The delta at which a noncentral t variable is at most t with this probability."""
    reach = 1.0 + math.sqrt(1 + t * t / (2 * df))  # a wide first step: delta is about t
    middle = t - float(ndtri(probability)) * reach

    def excess(delta: float) -> float:
        return noncentral_t_cdf(t, df, delta) - probability

    low, high = middle - reach, middle + reach
    while excess(low) < 0:
        low -= 2 * (high - low)
    while excess(high) > 0:
        high += 2 * (high - low)
    return float(brentq(excess, low, high, xtol=1e-13, rtol=1e-14))


def _over_spread(t: float, df: float, delta: float) -> float:
    low, high = (math.sqrt(2 * q / df) for q in _chi_square_ends(df))
    s, weight = _panel(low, high)
    log_density = (df * np.log(s) - df * s * s / 2 - np.log(s)
                   + df / 2 * math.log(df / 2) - gammaln(df / 2) + math.log(2))
    return _sum(weight * np.exp(log_density) * ndtr(t * s - delta))


def _over_normal(t: float, df: float, delta: float) -> float:
    start = min(max(-delta, -_REACH), _REACH)
    z, weight = _panel(start, _REACH)
    density = np.exp(-z * z / 2) / math.sqrt(2 * math.pi)
    wide_enough = gammaincc(df / 2, df / 2 * ((z + delta) / t) ** 2)
    return float(ndtr(start)) + _sum(weight * density * wide_enough)


def _chi_square_ends(df: float) -> tuple[float, float]:
    # half a chi-square variable at both tails
    low = float(gammaincinv(df / 2, _TAIL))
    high = df / 2 + _REACH * math.sqrt(df) + _REACH**2
    return low, high


def _panel(low: float, high: float) -> tuple[Floats, Floats]:
    half = (high - low) / 2
    return low + half * (_NODES + 1), half * _WEIGHTS


def _sum(terms: Floats) -> float:
    return float(min(max(terms.sum(), 0.0), 1.0))
