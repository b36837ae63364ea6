"""Intervals for sums and differences of mean squares, from which variance components are made."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import chdtri, fdtri

from qc.stats.checks import Floats, finite_array, inside_unit, refuse_where, same_length


@dataclass(frozen=True, slots=True, kw_only=True)
class VarianceInterval:
    """A combination of mean squares with its interval; all may be negative."""

    value: float
    low: float
    high: float
    confidence: float
    method: str


def variance_interval(
    mean_squares: npt.ArrayLike, df: npt.ArrayLike, factors: npt.ArrayLike, *,
    confidence: float = 0.95,
) -> VarianceInterval:
    """Sum of ``factors`` times mean squares, with its interval.

    Parameters
    ----------
    mean_squares : independent, 0 and up, each a multiple of chi-square over ``df``
    df : degrees of freedom of each, 1 and up
    factors : what each is multiplied by; negative ones are taken off, 0 leaves one out
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        Lengths differ, a number is not finite or out of its range, or all factors are 0.

    Notes
    -----
    Modified large samples: the normal theory form, with the spread of each mean square put so that
    the interval is exact where one of them stands alone (then it is the chi-square interval) and
    where one is compared with another. Holds its confidence closely for balanced designs.

    Source
    ------
    Graybill & Wang (1980), J. Amer. Stat. Assoc. 75, 869-873 (sums); Ting, Burdick, Graybill,
    Jeyaratnam & Lu (1990), J. Stat. Comput. Simul. 35, 135-143 (differences); Burdick & Larsen
    (1997), J. Quality Technology 29, 261-273 (gauge studies), all from memory.
    """
    square, n, factor = (finite_array(name, values) for name, values in (
        ("mean_squares", mean_squares), ("df", df), ("factors", factors)))
    same_length("mean_squares", square, "df", n)
    same_length("mean_squares", square, "factors", factor)
    refuse_where("mean_squares", square, square < 0, "numbers from 0")
    refuse_where("df", n, n < 1, "numbers from 1")
    used = factor != 0
    if not used.any():
        raise ValueError("factors are all 0; at least one mean square must count")
    tail = (1 - inside_unit("confidence", confidence)) / 2
    plus, minus = (_Part.of(square, n, factor, used & sign) for sign in (factor > 0, factor < 0))
    value = float((square * factor).sum())
    return VarianceInterval(
        value=value, low=value - _reach(plus, minus, tail), confidence=confidence,
        high=value + _reach(minus, plus, tail), method="modified large samples",
    )


def ratio_interval(
    mean_squares: Floats, df: Floats, factors: Floats, below: Floats, *, confidence: float = 0.95
) -> VarianceInterval:
    """Ratio of two combinations of mean squares, the lower one above 0, both ends from 0.

    Notes
    -----
    An end is the ratio r at which the interval of (upper - r lower) begins or stops holding 0, the
    way of Gui, Graybill, Burdick & Ting (1995), J. Stat. Planning and Inference 48, 215-227 (from
    memory).
    """
    def interval(ratio: float) -> VarianceInterval:
        return variance_interval(mean_squares, df, factors - ratio * below, confidence=confidence)

    value = float((mean_squares * factors).sum() / (mean_squares * below).sum())
    start = max(value, 0.0)
    return VarianceInterval(
        value=value, low=_crossing(lambda r: interval(r).low, 0.0, start),
        high=_crossing(lambda r: interval(r).high, start, _beyond(interval, start)),
        confidence=confidence, method="modified large samples, inverted",
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Part:
    """The mean squares that count one way: ``size`` is the absolute factor times mean square."""

    size: Floats
    df: Floats

    @classmethod
    def of(
        cls, square: Floats, df: Floats, factor: Floats, chosen: npt.NDArray[np.bool_]
    ) -> _Part:
        return cls(size=np.abs(factor[chosen]) * square[chosen], df=df[chosen])


def _reach(held: _Part, against: _Part, tail: float) -> float:
    """How far the end lies from the value where ``held`` is too large and ``against`` too small."""
    down, up = _down(held.df, tail), _up(against.df, tail)
    variance = float(((down * held.size) ** 2).sum() + ((up * against.size) ** 2).sum())
    if held.size.size and against.size.size:
        variance += float(held.size @ _mixed(held.df, against.df, tail) @ against.size)
        variance += _among(held, tail)
    return math.sqrt(max(variance, 0.0))


def _down(df: Floats, tail: float) -> Floats:
    """1 - 1 / F, F with df and endless degrees of freedom exceeded with chance ``tail``."""
    share: Floats = 1 - df / chdtri(df, tail)
    return share


def _up(df: Floats, tail: float) -> Floats:
    share: Floats = df / chdtri(df, 1 - tail) - 1
    return share


def _mixed(df: Floats, other: Floats, tail: float) -> Floats:
    """Factor of each pair of a held and an opposed mean square: exact for a pair on its own."""
    f = fdtri(df[:, None], other[None, :], 1 - tail)
    factor: Floats = (
        (f - 1) ** 2 - (_down(df, tail)[:, None] * f) ** 2 - _up(other, tail)[None, :] ** 2
    ) / f
    return factor


def _among(held: _Part, tail: float) -> float:
    """What the pairs within ``held`` add to the variance of a difference."""
    if len(held.df) < 2:
        return 0.0
    n, m = held.df[:, None], held.df[None, :]
    down = _down(held.df, tail)
    pair = (
        _down(n + m, tail) ** 2 * (n + m) ** 2 / (n * m)
        - down[:, None] ** 2 * n / m - down[None, :] ** 2 * m / n
    ) / (len(held.df) - 1)
    return float(held.size @ np.triu(pair, 1) @ held.size)


def _beyond(interval: Callable[[float], VarianceInterval], start: float) -> float:
    far = max(2 * start, 1.0)
    while interval(far).high > 0 and far < 1e12:
        far *= 8
    return far


def _crossing(function: Callable[[float], float], near: float, far: float) -> float:
    ends = function(near), function(far)
    if ends[0] <= 0:
        return near
    return float(brentq(function, near, far, xtol=1e-14, rtol=1e-14)) if ends[1] < 0 else far
