"""CUSUM the slow way: one point after another, sharing nothing with the program."""

from __future__ import annotations

import math
from fractions import Fraction


def one_sided(
    points: list[float], target: float, reference: float, start: float, *, upper: bool
) -> list[float]:
    """max(0, previous + distance - reference) at each point."""
    sums, current = [], start
    for x in points:
        distance = x - target if upper else target - x
        current = max(0.0, current + distance - reference)
        sums.append(current)
    return sums


def exact_one_sided(points: list[Fraction], line: Fraction, *, upper: bool) -> list[Fraction]:
    """The same without any rounding; ``line`` is target +- reference."""
    sums, current = [], Fraction(0)
    for x in points:
        current = max(Fraction(0), current + (x - line if upper else line - x))
        sums.append(current)
    return sums


def periods(sums: list[float]) -> list[int]:
    """Consecutive points above 0 up to each point."""
    counts, count = [], 0
    for value in sums:
        count = count + 1 if value > 0 else 0
        counts.append(count)
    return counts


def standardised(
    means: list[float], sizes: list[int], target: float, sigma: float, reference: float, *,
    upper: bool,
) -> list[float]:
    """The upper or lower CUSUM of subgroup means, each in its own standard deviation."""
    sums, current = [], 0.0
    for mean, n in zip(means, sizes, strict=True):
        z = (mean - target) / (sigma / math.sqrt(n))
        current = max(0.0, current + (z if upper else -z) - reference)
        sums.append(current)
    return sums
