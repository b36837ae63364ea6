"""Limits that a stated chance lies beyond, from exact tails instead of three sigma."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, betaincc, gammainc, gammaincc, ndtri

from qc.stats.checks import Floats

ALPHA = 0.0027
"""Chance of a point beyond either limit, both together, as three sigma gives for normal values."""

LEAST_ALPHA = 1e-12

LARGE_MEAN, LEAST_TAIL_OF_LARGE = 1e6, 5e-6
"""The library's upper Poisson tail loses digits above this mean where less than this is left."""

LIMITS = ("sigma", "probability")

Chances = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Band:
    """Limits of a count; a count strictly beyond one signals. Arrays, one entry for each sample."""

    lower: Floats
    upper: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class RunBand:
    """Limits and median of a number of units, or of a time, between events."""

    lower: float
    median: float
    upper: float


def tail_chance(limits: str, alpha: float) -> float | None:
    """Chance beyond each limit; None where limits are at three sigma.

    Raises
    ------
    ValueError
        ``limits`` is not in `LIMITS`, or alpha not between `LEAST_ALPHA` and 1.
    """
    if limits not in LIMITS:
        raise ValueError(f"limits is {limits!r}; allowed: {', '.join(LIMITS)}")
    if limits == "sigma":
        return None
    if not LEAST_ALPHA <= alpha < 1:
        raise ValueError(f"alpha is {alpha:g}; it must be {LEAST_ALPHA:g} to below 1")
    return alpha / 2


def binomial_limits(size: npt.ArrayLike, share: float | Floats, *, tail: float) -> Band:
    """Limits of the number of nonconforming pieces in samples of given sizes.

    Parameters
    ----------
    size : whole pieces, 1 and up, one for each sample
    share : share of nonconforming pieces, 0..1; one for all samples, or one for each
    tail : chance beyond each limit, inside (0, 0.5)

    Notes
    -----
    ``upper`` is the smallest whole number with P(X > upper) <= tail, ``lower`` the largest with
    P(X < lower) <= tail. A count on a limit does not signal. The chance reached is below ``tail``
    because counts come in steps; a lower limit of 0 cannot be crossed.

    Source
    ------
    The definition, from exact binomial tails (incomplete beta function).
    """
    n = np.atleast_1d(np.asarray(size, dtype=np.float64))

    def above(k: Floats) -> Floats:
        chance: Floats = np.where(k < n, betainc(k + 1, np.maximum(n - k, 1), share), 0.0)
        return chance

    def below(k: Floats) -> Floats:
        chance: Floats = betaincc(np.maximum(k, 1), np.maximum(n - k + 1, 1), share)
        return np.where(k > 0, np.where(k > n, 1.0, chance), 0.0)

    guess = _Guess(mean=n * share, sigma=np.sqrt(n * share * (1 - share)), skew=1 - 2 * share)
    return _band(above, below, guess, most=n, tail=tail)


def poisson_limits(mean: npt.ArrayLike, *, tail: float) -> Band:
    """Limits of a number of nonconformities with given means (0 and up); as `binomial_limits`.

    Raises
    ------
    ValueError
        ``tail`` is below `LEAST_TAIL_OF_LARGE` for a mean above `LARGE_MEAN`.

    Source
    ------
    The definition, from exact Poisson tails (incomplete gamma function).
    """
    mu = np.atleast_1d(np.asarray(mean, dtype=np.float64))
    if tail < LEAST_TAIL_OF_LARGE and mu.max() > LARGE_MEAN:
        raise ValueError(f"alpha is {2 * tail:g}; it must be at least {2 * LEAST_TAIL_OF_LARGE:g}"
                         " where more than a million are expected in a sample")

    def above(k: Floats) -> Floats:
        chance: Floats = gammainc(k + 1, mu)
        return chance

    def below(k: Floats) -> Floats:
        return np.where(k > 0, gammaincc(np.maximum(k, 1), mu), 0.0)

    guess = _Guess(mean=mu, sigma=np.sqrt(mu), skew=1.0)
    return _band(above, below, guess, most=np.full_like(mu, np.inf), tail=tail)


def geometric_limits(mean: float, *, tail: float) -> RunBand:
    """Limits of the number of units up to and including the next nonconforming one.

    Parameters
    ----------
    mean : mean number of good units between two nonconforming ones, above 0; where a share p of
        units is nonconforming, (1 - p) / p
    tail : chance beyond each limit, inside (0, 0.5)

    Returns
    -------
    RunBand; as published, with fractions: ln(1 - tail), ln(0.5) and ln(tail), each over
    ln(1 - p).

    Source
    ------
    Goh (1987); Xie, Goh & Kuralmani (2002): chart of the cumulative count of conforming units.
    From memory.
    """
    log_good = float(-np.log1p(1 / mean))
    return RunBand(lower=float(np.log1p(-tail)) / log_good, median=float(np.log(0.5)) / log_good,
                   upper=float(np.log(tail)) / log_good)


def weibull_limits(scale: float, *, tail: float, shape: float = 1.0) -> RunBand:
    """Limits of a time between events, in the unit of ``scale``.

    Parameters
    ----------
    scale : 63rd percentile; with shape 1 (the exponential distribution) the mean; 0 and up
    tail : chance beyond each limit, inside (0, 0.5)
    shape : above 0; 1 where the risk of an event does not depend on the time since the last

    Source
    ------
    The definition: scale (-ln(1 - q))^(1 / shape) for q = tail, 0.5 and 1 - tail.
    """
    low, half, high = -np.log1p(-tail), np.log(2.0), -np.log(tail)
    return RunBand(lower=float(scale * low**(1 / shape)), median=float(scale * half**(1 / shape)),
                   upper=float(scale * high**(1 / shape)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Guess:
    """Where a quantile is looked for first: Cornish & Fisher (1938), two terms."""

    mean: Floats
    sigma: Floats
    skew: float | Floats

    def at(self, z: float) -> Floats:
        found: Floats = np.floor(self.mean + z * self.sigma + self.skew * (z * z - 1) / 6)
        return np.maximum(found, 0.0)


def _band(above: Chances, below: Chances, guess: _Guess, *, most: Floats, tail: float) -> Band:
    # the guess is a step or two off: walk to the whole number that the definition names
    z = float(-ndtri(tail))
    upper = np.minimum(guess.at(z), most)
    _walk(upper, lambda k: above(k) > tail, step=1)
    _walk(upper, lambda k: (k > 0) & (above(k - 1) <= tail), step=-1)
    lower = np.minimum(guess.at(-z), most)
    _walk(lower, lambda k: below(k) > tail, step=-1)
    _walk(lower, lambda k: (k < most) & (below(k + 1) <= tail), step=1)
    return Band(lower=lower, upper=upper)


def _walk(k: Floats, on: Callable[[Floats], npt.NDArray[np.bool_]], *, step: int) -> None:
    while (going := on(k)).any():
        k[going] += step
