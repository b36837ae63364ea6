"""Intervals, false discoveries and steps the slow way, from their definitions."""

from __future__ import annotations

import math
from collections.abc import Callable


def binomial_at_most(k: int, n: int, p: float) -> float:
    """Chance of at most k of n, term by term."""
    return math.fsum(math.comb(n, j) * p**j * (1 - p) ** (n - j) for j in range(k + 1))


def poisson_at_most(k: int, mean: float) -> float:
    """Chance of at most k events, term by term."""
    return math.fsum(math.exp(-mean) * mean**j / math.factorial(j) for j in range(k + 1))


def solve(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a monotone function crosses 0, by halving."""
    rising = function(high) > function(low)
    for _ in range(200):
        middle = (low + high) / 2
        if (function(middle) > 0) == rising:
            high = middle
        else:
            low = middle
    return (low + high) / 2


def wilson_ends(k: int, n: int, z: float) -> tuple[float, float]:
    """Where |p - k/n| = z sqrt(p (1 - p) / n), found on each side by halving."""
    def gap(p: float) -> float:
        return abs(p - k / n) - z * math.sqrt(p * (1 - p) / n)

    low = 0.0 if k == 0 else solve(gap, 0.0, k / n)
    high = 1.0 if k == n else solve(gap, k / n, 1.0)
    return low, high


def exact_ends(k: int, n: int, tail: float) -> tuple[float, float]:
    """Shares at which this count or a more extreme one has the chance ``tail``."""
    low = 0.0 if k == 0 else solve(lambda p: 1 - binomial_at_most(k - 1, n, p) - tail, 0, 1)
    high = 1.0 if k == n else solve(lambda p: binomial_at_most(k, n, p) - tail, 0, 1)
    return low, high


def poisson_ends(k: int, tail: float) -> tuple[float, float]:
    """Means at which this count or a more extreme one has the chance ``tail``."""
    low = 0.0 if k == 0 else solve(lambda m: 1 - poisson_at_most(k - 1, m) - tail, 0, 3 * k + 20)
    return low, solve(lambda m: poisson_at_most(k, m) - tail, 0, 3 * k + 20)


def two_sided(k: int, mean: float) -> float:
    """Twice the smaller tail of a Poisson count, at most 1."""
    at_least = 1.0 if k == 0 else 1 - poisson_at_most(k - 1, mean)
    return min(1.0, 2 * min(at_least, poisson_at_most(k, mean)))


def discoveries(p_values: list[float], rate: float) -> list[bool]:
    """Step-up procedure as printed: the largest i with p_(i) <= i rate / m takes all below it."""
    ordered = sorted(p_values)
    cut = -1.0
    for i, p in enumerate(ordered, start=1):
        if p <= i * rate / len(ordered):
            cut = p
    return [p <= cut for p in p_values]


def best_step(support: Callable[[int], float], n_points: int) -> int:
    """The number of points before the step with the largest support; the first if several."""
    values = [support(t) for t in range(n_points)]
    return values.index(max(values))
