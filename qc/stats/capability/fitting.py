"""A distribution for measured values, chosen among a few by a stated rule."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import stats
from scipy.optimize import brentq, minimize, minimize_scalar
from scipy.special import digamma, ndtri

from qc.stats.capability.normality import (
    FEWEST_VALUES,
    LEVEL,
    Normality,
    a_squared_of,
    anderson_darling,
    spread_ties,
    steps_of,
)
from qc.stats.checks import Floats, finite_array
from qc.stats.deviation import standard_deviation

MOST_COMPARED = 10_000
"""Of more values, this many evenly spaced in rank decide the choice; all are fitted then."""

POOR_FIT = 1.04
"""A squared above this is beyond the 1 % point of a normal (1.035) or a Weibull (1.038) fit."""

FARTHEST = 38.0
"""Standard deviations at which a tail is too small for a number."""

NARROWEST = 1e-4
"""A range less than this share of the values is no range for a distribution that begins at 0."""

LOWEST, HIGHEST = 0.00135, 0.99865
"""Shares below the percentiles that stand for mean -+ 3 sigma (ISO 22514-2)."""

RULE = (
    "normal, unless Anderson-Darling speaks against it (p below 0.05, ties spread over their step)"
    " or it would reach below 0 where no value does; then the smallest BIC among normal,"
    " lognormal, Weibull, gamma, folded normal, and from 50 values on lognormal, Weibull and gamma"
    " shifted in either direction, and Johnson SU"
)
ENOUGH_FOR_SHIFT = 50
"""Fewer values cannot tell a third parameter, and a tail made up from one is worse than none."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """A fitted distribution.

    ``parameters`` by name, in the unit of the data where they have one. ``mirrored``: ``frozen``
    is the distribution of the negative value. ``bic``: the criterion of Schwarz;
    ``a_squared``: Anderson-Darling distance of the values from it, ties spread over their step.
    """

    name: str
    parameters: dict[str, float]
    frozen: Any
    mirrored: bool = False
    bic: float = math.nan
    a_squared: float = math.nan

    def quantile(self, share: float) -> float:
        """The value below which this share lies."""
        return float(-self.frozen.isf(share) if self.mirrored else self.frozen.ppf(share))

    def below(self, value: npt.ArrayLike) -> Any:
        """Share below a value."""
        x = np.asarray(value)
        with np.errstate(over="ignore"):  # far out in a tail
            return self.frozen.sf(-x) if self.mirrored else self.frozen.cdf(x)

    def above(self, value: npt.ArrayLike) -> Any:
        """Share above a value."""
        x = np.asarray(value)
        with np.errstate(over="ignore"):
            return self.frozen.cdf(-x) if self.mirrored else self.frozen.sf(x)

    def normal_scores(self, values: Floats) -> Floats:
        """What each value would be if the distribution were standard normal."""
        with np.errstate(divide="ignore"):
            low, high = ndtri(self.below(values)), -ndtri(self.above(values))
        # from the nearer tail; what is off the end of either is as far as numbers tell apart
        scores: Floats = np.clip(np.where(low < 0, low, high), -FARTHEST, FARTHEST)
        return scores

    @property
    def support(self) -> tuple[float, float]:
        """Smallest and largest value it can take."""
        low, high = map(float, self.frozen.support())
        return (-high, -low) if self.mirrored else (low, high)


def fit_distribution(values: npt.ArrayLike, *, name: str | None = None) -> Fit:
    """The distribution that describes values, by `RULE` or by name.

    Parameters
    ----------
    values : n finite values in any order, n >= 2, not all equal
    name : one of `DISTRIBUTIONS` instead of the rule

    Raises
    ------
    ValueError
        Too few values, one that is not finite, no variation, a name not known, or a distribution
        that these values cannot have.

    Notes
    -----
    Maximum likelihood, but n - 1 in sigma (of the logarithms, for the lognormal). A shift stays
    at least range / (2 n) outside the values, where the likelihood would run off.

    Source
    ------
    Schwarz (1978), Annals of Statistics 6, 461-464 (BIC); Cohen (1951), J. Amer. Stat. Assoc. 46,
    206-212 (shift of the lognormal); Leone, Nelson & Nottingham (1961), Technometrics 3, 543-550
    (folded normal); Johnson (1949), Biometrika 36, 149-176 (SU).
    """
    x = np.sort(finite_array("values", values, at_least=2))
    if standard_deviation(x) == 0:
        raise ValueError(f"values are all {x[0]:g}; a distribution needs values that vary")
    if name is not None:
        return _judged(fit_by_name(name, x), x)
    return chosen_fit(x, anderson_darling(x))


def chosen_fit(in_order: Floats, normality: Normality) -> Fit:
    """The choice by `RULE` where the test of the sorted values is there already."""
    normal = _normal(in_order)
    below_zero = in_order[0] >= 0 > normal.quantile(LOWEST)
    # few values can tell no shape, neither by the test nor by a criterion
    if len(in_order) < FEWEST_VALUES or not (below_zero or normality.p_value_spread < LEVEL):
        return _judged(normal, in_order)
    some = _thinned(in_order)
    fits = [fit for make in DISTRIBUTIONS.values() if (fit := make(some)) is not None
            and (len(some) >= ENOUGH_FOR_SHIFT or len(fit.parameters) == 2)]
    best = min(fits, key=lambda fit: fit.bic)
    return _judged(best if some is in_order else fit_by_name(best.name, in_order), in_order)


def fit_by_name(name: str, x: Floats) -> Fit:
    """One of `DISTRIBUTIONS` to sorted values that vary, its A squared left out."""
    name = {known.casefold(): known for known in DISTRIBUTIONS}.get(name.casefold(), name)
    if name not in DISTRIBUTIONS:
        raise ValueError(f"distribution is {name!r}; allowed: {', '.join(DISTRIBUTIONS)}")
    fit = DISTRIBUTIONS[name](x)
    if fit is None or fit.bic == math.inf:
        raise ValueError(f"distribution is {name!r}; these values, from {x[0]:g} to {x[-1]:g},"
                         " cannot have it")
    return fit


def _judged(fit: Fit, in_order: Floats) -> Fit:
    steps = steps_of(in_order)
    if steps.n_each.max() > 1:
        low, high = steps.low, steps.high
        below = spread_ties(fit.below(low), fit.below(high), steps.n_each)
        above = spread_ties(fit.above(low), fit.above(high), steps.n_each)
    else:
        below, above = fit.below(in_order), fit.above(in_order)
    with np.errstate(divide="ignore"):
        a_squared = a_squared_of(np.log(below), np.log(above))
    return Fit(name=fit.name, parameters=fit.parameters, frozen=fit.frozen, mirrored=fit.mirrored,
               bic=fit.bic, a_squared=a_squared)


def _thinned(in_order: Floats) -> Floats:
    if len(in_order) <= MOST_COMPARED:
        return in_order
    return in_order[np.linspace(0, len(in_order) - 1, MOST_COMPARED).round().astype(np.int64)]


def _fit(
    name: str, x: Floats, frozen: Any, parameters: dict[str, float], *, mirrored: bool = False
) -> Fit:
    """A candidate with its BIC, infinite where it cannot have given the values."""
    log_likelihood = float(np.sum(frozen.logpdf(-x if mirrored else x)))
    if not math.isfinite(log_likelihood):
        log_likelihood = -math.inf
    bic = len(parameters) * math.log(len(x)) - 2 * log_likelihood
    return Fit(name=name, parameters=parameters, frozen=frozen, mirrored=mirrored, bic=bic)


def _normal(x: Floats) -> Fit:
    mean, sigma = float(x.mean()), standard_deviation(x)
    return _fit("normal", x, stats.norm(mean, sigma), {"mean": mean, "sigma": sigma})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Skewed:
    """A family on the positive axis: its parameters from values, and how the library takes them."""

    name: str
    parameters_of: Callable[[Floats], tuple[float, float]]
    names: tuple[str, str]
    family: Any
    arguments: Callable[[float, float], tuple[float, float]]

    def fit(self, x: Floats) -> Fit | None:
        """From 0 up; None so far from 0 that its skew is lost in rounding."""
        if x[0] <= 0 or x[-1] - x[0] < NARROWEST * x[0]:
            return None
        parameters = self.parameters_of(x)
        shape, scale = self.arguments(*parameters)
        return _fit(self.name, x, self.family(shape, scale=scale),
                    dict(zip(self.names, parameters, strict=True)))

    def shifted(self, x: Floats) -> Fit | None:
        """From a threshold up."""
        return self._shifted(x, x, mirrored=False)

    def mirrored(self, x: Floats) -> Fit | None:
        """From a threshold down."""
        return self._shifted(x, -x[::-1], mirrored=True)

    def _shifted(self, x: Floats, y: Floats, *, mirrored: bool) -> Fit | None:
        shift = _threshold(y, self._log_likelihood)
        parameters = self.parameters_of(y - shift)
        shape, scale = self.arguments(*parameters)
        return _fit(f"{'mirrored' if mirrored else 'shifted'} {self.name}", x,
                    self.family(shape, shift, scale),
                    dict(zip(self.names, parameters, strict=True))
                    | {"shift": -shift if mirrored else shift}, mirrored=mirrored)

    def _log_likelihood(self, away: Floats) -> float:
        shape, scale = self.arguments(*self.parameters_of(away))
        return float(self.family.logpdf(away, shape, 0.0, scale).sum())


def _folded_normal(x: Floats) -> Fit | None:
    if x[0] < 0:
        return None
    square = float((x * x).mean())

    def excess(share: float) -> float:
        mean, variance = _folded(share, square)
        return -float(stats.foldnorm.logpdf(x, mean / math.sqrt(variance),
                                            scale=math.sqrt(variance)).sum())

    best = minimize_scalar(excess, bounds=(0.0, 0.995), method="bounded",
                           options={"xatol": 1e-9})
    mean, variance = _folded(float(best.x), square)
    sigma = math.sqrt(variance)
    return _fit("folded normal", x, stats.foldnorm(mean / sigma, scale=sigma),
                {"mean": mean, "sigma": sigma})


def _folded(share: float, square: float) -> tuple[float, float]:
    # the likelihood is largest where mean^2 + variance is the mean square of the values
    mean = share * math.sqrt(square)
    return mean, square - mean**2


def _threshold(x: Floats, log_likelihood: Callable[[Floats], float]) -> float:
    """Where the values begin: the most likely distance before the smallest one."""
    spread = float(x[-1] - x[0])
    grid = np.geomspace(spread / (2 * len(x)), 30 * spread, 25)

    def cost(log_distance: float) -> float:
        value = -float(log_likelihood(x - x[0] + math.exp(log_distance)))
        return value if math.isfinite(value) else math.inf

    costs = [cost(math.log(distance)) for distance in grid]
    at = int(np.argmin(costs))
    ends = grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)]
    found = minimize_scalar(cost, bounds=(math.log(ends[0]), math.log(ends[1])), method="bounded",
                            options={"xatol": 1e-6})
    distance = math.exp(found.x) if found.fun < costs[at] else float(grid[at])
    return float(x[0]) - distance


def _johnson_su(x: Floats) -> Fit | None:
    middle, scale = float(np.median(x)), float(x.std())

    def transformed(place: float, log_width: float) -> tuple[Floats, float, float]:
        y = (x - middle - place * scale) / (scale * math.exp(log_width))
        bent = np.arcsinh(y)
        return y, float(bent.mean()), float(bent.std())

    def cost(at: Floats) -> float:
        if not (abs(at[0]) < 10 and abs(at[1]) < 4):
            return math.inf
        y, _, sigma = transformed(*at)
        return float(len(x) * (math.log(sigma) + at[1]) + 0.5 * np.log1p(y * y).sum())

    best = minimize(cost, [0.0, 0.0], method="Nelder-Mead",
                    options={"xatol": 1e-6, "fatol": 1e-8, "maxiter": 500})
    at = best.x.tolist()
    place, width = middle + at[0] * scale, scale * math.exp(at[1])
    _, mean, sigma = transformed(*at)
    return _fit("Johnson SU", x, stats.johnsonsu(-mean / sigma, 1 / sigma, place, width),
                {"gamma": -mean / sigma, "delta": 1 / sigma, "shift": place, "scale": width})


def _log_moments(x: Floats) -> tuple[float, float]:
    logs = np.log(x)
    return float(logs.mean()), float(logs.std(ddof=1))


def _weibull_parameters(x: Floats) -> tuple[float, float]:
    largest = float(x[-1])
    logs = np.log(x / largest)
    mean = float(logs.mean())

    def slope(shape: float) -> float:
        power = np.exp(shape * logs)
        return float((power * logs).sum() / power.sum() - 1 / shape - mean)

    start = 1.28 / float(logs.std())
    low, high = start, start
    while slope(low) > 0:
        low /= 2
    while slope(high) < 0:
        high *= 2
    shape = low if low == high else float(brentq(slope, low, high, rtol=1e-12))
    return shape, largest * float(np.exp(shape * logs).mean()) ** (1 / shape)


def _gamma_parameters(x: Floats) -> tuple[float, float]:
    mean = float(x.mean())
    gap = -float(np.log(x / mean).mean())  # log of the mean less mean of the log, above 0
    start = 1 / (2 * gap)
    shape = float(brentq(lambda k: math.log(k) - digamma(k) - gap, start / 4, start * 4 + 1,
                         rtol=1e-12))
    return shape, mean / shape


_SKEWED = (
    _Skewed(name="lognormal", parameters_of=_log_moments, names=("mean_log", "sigma_log"),
            family=stats.lognorm, arguments=lambda mean, sigma: (sigma, math.exp(mean))),
    _Skewed(name="Weibull", parameters_of=_weibull_parameters, names=("shape", "scale"),
            family=stats.weibull_min, arguments=lambda shape, scale: (shape, scale)),
    _Skewed(name="gamma", parameters_of=_gamma_parameters, names=("shape", "scale"),
            family=stats.gamma, arguments=lambda shape, scale: (shape, scale)),
)

DISTRIBUTIONS: dict[str, Callable[[Floats], Fit | None]] = {
    "normal": _normal, **{each.name: each.fit for each in _SKEWED},
    "folded normal": _folded_normal,
    **{f"shifted {each.name}": each.shifted for each in _SKEWED},
    **{f"mirrored {each.name}": each.mirrored for each in _SKEWED},
    "Johnson SU": _johnson_su,
}
"""Name to fit: from sorted values, None where they cannot have it."""
