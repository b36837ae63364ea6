"""Gauss-Legendre nodes, as many as a normal kernel on an interval needs."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.special import roots_legendre

from qc.stats.checks import Floats, read_only

MOST_NODES = 2500
_INVERSE_ROOT = 1 / np.sqrt(2 * np.pi)


def nodes_for(length: float) -> int:
    """Nodes for an interval of this length in standard deviations of the kernel.

    The error of equal steps d under a normal density falls as exp(-2 pi^2 / d^2); the nodes lie
    widest in the middle, pi / 2 times their mean distance.
    """
    return 24 + int(np.ceil(2.2 * length))


def gauss(low: float, high: float, n: int) -> tuple[Floats, Floats]:
    """n nodes and weights for an integral from ``low`` to ``high``."""
    node, weight = _legendre(n)
    half = (high - low) / 2
    return (low + high) / 2 + half * node, half * weight


def normal_density(z: Floats) -> Floats:
    """Density of the standard normal distribution."""
    with np.errstate(over="ignore"):  # so far out that its square is no number: the density is 0
        density: Floats = _INVERSE_ROOT * np.exp(-0.5 * z * z)
    return density


def balanced(step: Floats, leaving: Floats) -> Floats:
    """The same step with rows that sum to exactly what does not leave.

    Quadrature misses a row's sum by some 1e-14, and the average run length multiplies that error
    with itself; so what a row lacks is put on its diagonal.
    """
    at = np.arange(len(step))
    step[at, at] += 1 - leaving - step.sum(axis=1)
    return step


@lru_cache(maxsize=64)
def _legendre(n: int) -> tuple[Floats, Floats]:
    node, weight = roots_legendre(n)
    return read_only(node), read_only(weight)
