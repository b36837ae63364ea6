"""Factors of the normal sample range and standard deviation, computed rather than typed in."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from scipy.special import gammaln, ndtr

from qc.stats.checks import Floats

LARGEST_SIZE = 1000
_REACH = 9.0  # standard deviations; the tail left out is below 1e-18 for each value
_NODES = 256


def d2(n: int) -> float:
    """Mean of the range of n independent standard normal values.

    Parameters
    ----------
    n : int, 2..1000

    Raises
    ------
    ValueError
        n is not whole or outside 2..1000.

    Notes
    -----
    E[W] = integral of 1 - F(x)^n - (1 - F(x))^n; Gauss-Legendre, error below 1e-10.

    Source
    ------
    Tippett (1925), Biometrika 17, 364-387; ISO 7870-2:2013, table of factors.
    """
    return _range_moments(_checked_size(n))[0]


def d3(n: int) -> float:
    """Standard deviation of the range of n independent standard normal values.

    Parameters, errors and source as for `d2`.

    Notes
    -----
    E[W^2] = 2 times the double integral over x < y of
    1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n.
    """
    return _range_moments(_checked_size(n))[1]


def c4(n: int) -> float:
    """Mean of the sample standard deviation (divisor n - 1) of n standard normal values.

    Parameters
    ----------
    n : int, 2 and up

    Raises
    ------
    ValueError
        n is not whole or below 2.

    Source
    ------
    ISO 7870-2:2013, table of factors: sqrt(2 / (n - 1)) Gamma(n / 2) / Gamma((n - 1) / 2).
    """
    size = _checked_size(n, largest=None)
    return math.sqrt(2 / (size - 1)) * math.exp(gammaln(size / 2) - gammaln((size - 1) / 2))


@cache
def _range_moments(n: int) -> tuple[float, float]:
    x, weight = _nodes(-_REACH, _REACH)
    below, above = ndtr(x), ndtr(-x)
    mean = float(weight @ -(np.expm1(n * _log(below)) + above**n))
    # y = x + w runs over the half plane above the diagonal; the integrand is smooth there
    w, weight_w = _nodes(0.0, 2 * _REACH)
    y = x[:, None] + w[None, :]
    between = _between(x, y)
    inner = -np.expm1(n * _log(ndtr(y))) - (above**n)[:, None] + between**n
    mean_square = 2 * float(weight @ inner @ weight_w)
    return mean, math.sqrt(mean_square - mean**2)


def _between(x: Floats, y: Floats) -> Floats:
    # from the nearer tail, so that two nearly equal probabilities are not subtracted
    upper = (x > 0)[:, None]
    from_above = ndtr(-x)[:, None] - ndtr(-y)
    from_below = ndtr(y) - ndtr(x)[:, None]
    between: Floats = np.where(upper, from_above, from_below)
    return between


def _log(probability: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        logarithm: Floats = np.log(probability)
    return logarithm


def _nodes(low: float, high: float) -> tuple[Floats, Floats]:
    x, weight = np.polynomial.legendre.leggauss(_NODES)
    half = (high - low) / 2
    return low + half * (x + 1), half * weight


def _checked_size(n: int, largest: int | None = LARGEST_SIZE) -> int:
    if n != int(n) or n < 2 or (largest is not None and n > largest):
        allowed = "2 and up" if largest is None else f"2..{largest}"
        raise ValueError(f"n is {n}; the subgroup size must be a whole number, {allowed}")
    return int(n)
