"""Factors of the range from its density, by adaptive quadrature."""

from __future__ import annotations

import math

import numpy as np
from scipy.integrate import quad
from scipy.stats import norm

_X = np.linspace(-9.0, 9.0, 1201)
_STEP = _X[1] - _X[0]


def range_density(w: float, n: int) -> float:
    """Density of the range of n standard normal values; the trapezoid is exact for such tails."""
    between = norm.cdf(_X + w) - norm.cdf(_X)
    return float(n * (n - 1) * np.sum(between ** (n - 2) * norm.pdf(_X) * norm.pdf(_X + w)) * _STEP)


def range_mean_and_deviation(n: int) -> tuple[float, float]:
    """Mean and standard deviation of the range of n standard normal values."""
    def moment(power: int) -> float:
        return quad(lambda w: w**power * range_density(w, n), 0, 16, epsabs=1e-11, limit=200)[0]

    mean = moment(1)
    return mean, math.sqrt(moment(2) - mean**2)
