"""Averaging over lines the plain way: each path a normal vector with its whole covariance matrix.

A level of standard deviation `WIDE` stands for one that nothing is known of. The weight of a path
is the density of the values under it; what the values say of the platen on a day is the normal
conditioned on them.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

WIDE = 1e3

Path = tuple[float, Callable[[float], list[float]], list[float]]
"""Prior chance, the coefficients' shapes at a day, their standard deviations."""


def paths(days: list[float], n_knots: int) -> list[Path]:
    """Every path of `lines_of`, from its docstring: half of the platens hold still (slope 0.01 a
    day), half drift (0.2); those that hold still begin to drift once in 365 days; any is stepped
    (by 3) once in 1095."""
    out: list[Path] = []
    for slope in (0.01, 0.2):
        out.append((0.5, lambda t: [t], [slope]))
    for a, b in zip(days, days[1:], strict=False):
        for i in range(n_knots):
            k = a + (b - a) * i / n_knots
            out.append(((b - a) / n_knots / 365,
                        lambda t, k=k: [t, max(0.0, t - k)], [0.01, 0.2]))
        for slope in (0.01, 0.2):
            out.append((0.5 * (b - a) / 1095,
                        lambda t, m=(a + b) / 2: [float(t > m), t], [3.0, slope]))
    return out


def mixture(
    days: list[float], values: list[float], sigma: float, day: float, found: list[Path]
) -> list[tuple[float, float, float]]:
    """(weight, mean, standard deviation) of the platen on a day under each path."""
    rows = []
    for prior, shape, usual in found:
        at = np.array([[1.0, *shape(t)] for t in [*days, day]])
        true = at @ np.diag(np.square([WIDE, *usual])) @ at.T
        seen = true[:-1, :-1] + sigma**2 * np.eye(len(days))
        density = multivariate_normal(np.zeros(len(days)), seen).logpdf(values)
        gain = np.linalg.solve(seen, true[:-1, -1])
        rows.append((np.log(prior) + density, gain @ np.array(values),
                     np.sqrt(true[-1, -1] - gain @ true[:-1, -1])))
    most = max(score for score, _, _ in rows)
    total = sum(np.exp(score - most) for score, _, _ in rows)
    return [(float(np.exp(score - most) / total), float(mean), float(sd))
            for score, mean, sd in rows]


def quantile(parts: list[tuple[float, float, float]], share: float) -> float:
    """The value below which the platen is with a chance."""
    def excess(value: float) -> float:
        return sum(w * norm.cdf(value, mean, sd) for w, mean, sd in parts) - share

    return float(brentq(excess, -1e3, 1e3, xtol=1e-10))
