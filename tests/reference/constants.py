"""Factors of range and standard deviation: from densities, by adaptive quadrature, and exactly."""

from __future__ import annotations

import math
from decimal import Decimal, getcontext

import numpy as np
from scipy.integrate import quad
from scipy.special import ndtr

getcontext().prec = 60
PI = Decimal("3.14159265358979323846264338327950288419716939937510582097494")

_X = np.linspace(-9.0, 9.0, 601)
_STEP = _X[1] - _X[0]
_BELOW = ndtr(_X)


def range_density(w: float, n: int) -> float:
    """Density of the range of n standard normal values; the trapezoid is exact for such tails."""
    between = ndtr(_X + w) - _BELOW
    both_ends = np.exp(-(_X**2 + (_X + w) ** 2) / 2) / (2 * math.pi)
    return float(n * (n - 1) * np.sum(between ** (n - 2) * both_ends) * _STEP)


def range_mean_and_deviation(n: int) -> tuple[float, float]:
    """Mean and standard deviation of the range of n standard normal values."""
    def moment(power: int) -> float:
        return quad(lambda w: w**power * range_density(w, n), 0, 16, epsabs=1e-11, limit=200)[0]

    mean = moment(1)
    return mean, math.sqrt(moment(2) - mean**2)


def mean_deviation(n: int) -> float:
    """c4 from whole numbers alone: a ratio of gammas half a step apart is a binomial number."""
    k = n // 2 if n % 2 else n // 2 - 1
    half_step = Decimal(math.comb(2 * k, k)) / Decimal(4**k)
    ratio = k * half_step * PI.sqrt() if n % 2 else 1 / (half_step * PI.sqrt())
    return float(ratio * (Decimal(2) / Decimal(n - 1)).sqrt())
