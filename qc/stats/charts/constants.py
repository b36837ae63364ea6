"""Factors of the normal sample range and standard deviation, computed rather than typed in."""

from __future__ import annotations

import math
from dataclasses import dataclass
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
    if size > LARGEST_SIZE:  # the logarithms would cancel; what the series leaves out is < 1e-13
        return 1 - 1 / (4 * size) - 7 / (32 * size**2) - 19 / (128 * size**3)
    return math.sqrt(2 / (size - 1)) * math.exp(gammaln(size / 2) - gammaln((size - 1) / 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Factors:
    """The factors of a subgroup size, under the letters every handbook table prints them with.

    Limits are at three standard errors; a lower one below 0 is 0. Of a known sigma: mean
    centre +- A sigma, deviations from B5 to B6 sigma, ranges from D1 to D2 sigma. Of a mean range
    R-bar: means centre +- A2 R-bar, single values centre +- E2 R-bar, ranges from D3 to D4 R-bar.
    Of a mean deviation s-bar: means centre +- A3 s-bar, deviations from B3 to B4 s-bar.
    """

    n: int
    d2: float
    d3: float
    c4: float
    A: float
    A2: float
    A3: float
    B3: float
    B4: float
    B5: float
    B6: float
    D1: float
    D2: float
    D3: float
    D4: float
    E2: float


def factors(n: int) -> Factors:
    """All factors of subgroups of n values.

    Parameters and errors as for `d2`.

    Source
    ------
    ISO 7870-2:2013, table of factors; ASTM E2587. Checked against Montgomery, Introduction to
    Statistical Quality Control, Appendix VI.
    """
    mean, spread, unbiased = d2(n), d3(n), c4(n)
    spread_of_deviation = math.sqrt(1 - unbiased**2)
    root = math.sqrt(n)
    return Factors(
        n=int(n), d2=mean, d3=spread, c4=unbiased,
        A=3 / root, A2=3 / (mean * root), A3=3 / (unbiased * root),
        B3=max(0.0, 1 - 3 * spread_of_deviation / unbiased),
        B4=1 + 3 * spread_of_deviation / unbiased,
        B5=max(0.0, unbiased - 3 * spread_of_deviation), B6=unbiased + 3 * spread_of_deviation,
        D1=max(0.0, mean - 3 * spread), D2=mean + 3 * spread,
        D3=max(0.0, 1 - 3 * spread / mean), D4=1 + 3 * spread / mean, E2=3 / mean,
    )


@cache
def _range_moments(n: int) -> tuple[float, float]:
    grid = _grid()
    above = np.exp(n * grid.log_above)
    mean = float(grid.weight @ -(np.expm1(n * grid.log_below) + above))
    inner = -np.expm1(n * grid.log_below_y) - above[:, None] + np.exp(n * grid.log_between)
    mean_square = 2 * float(grid.weight @ inner @ grid.weight_w)
    return mean, math.sqrt(mean_square - mean**2)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Grid:
    """Nodes in x and, above it, y = x + w: logarithms of the shares around them, any n."""

    weight: Floats
    weight_w: Floats
    log_below: Floats
    log_above: Floats
    log_below_y: Floats
    log_between: Floats


@cache
def _grid() -> _Grid:
    x, weight = _nodes(-_REACH, _REACH)
    # y = x + w runs over the half plane above the diagonal; the integrand is smooth there
    w, weight_w = _nodes(0.0, 2 * _REACH)
    y = x[:, None] + w[None, :]
    return _Grid(
        weight=weight, weight_w=weight_w, log_below=_log(ndtr(x)), log_above=_log(ndtr(-x)),
        log_below_y=_log(ndtr(y)), log_between=_log(_between(x, y)),
    )


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
