"""Modified large-sample ends the slow way: every pair of mean squares as the formulas print it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scipy import stats


def modified_large_sample(
    squares: Sequence[float], df: Sequence[int], factors: Sequence[float], tail: float
) -> tuple[float, float]:
    """Ends of the sum of factors times mean squares; ``tail`` is the chance beyond each end."""
    value = sum(c * s for c, s in zip(factors, squares, strict=True))
    held = [(abs(c) * s, n) for c, s, n in zip(factors, squares, df, strict=True) if c > 0]
    taken = [(abs(c) * s, n) for c, s, n in zip(factors, squares, df, strict=True) if c < 0]
    return (value - math.sqrt(_variance(held, taken, tail)),
            value + math.sqrt(_variance(taken, held, tail)))


def _variance(
    held: Sequence[tuple[float, int]], taken: Sequence[tuple[float, int]], tail: float
) -> float:
    total = sum((_g(n, tail) * size) ** 2 for size, n in held)
    total += sum((_h(n, tail) * size) ** 2 for size, n in taken)
    for size, n in held:
        for other, m in taken:
            f = stats.f.isf(tail, n, m)
            mixed = ((f - 1) ** 2 - _g(n, tail) ** 2 * f**2 - _h(m, tail) ** 2) / f
            total += mixed * size * other
    if taken and len(held) > 1:
        for q in range(len(held) - 1):
            for t in range(q + 1, len(held)):
                (size, n), (other, m) = held[q], held[t]
                both = (1 - 1 / _endless(n + m, tail)) ** 2 * (n + m) ** 2 / (n * m)
                own = _g(n, tail) ** 2 * n / m + _g(m, tail) ** 2 * m / n
                total += (both - own) / (len(held) - 1) * size * other
    return max(total, 0.0)


def _endless(n: int, tail: float) -> float:
    """F with n and endless degrees of freedom, exceeded with this chance."""
    return float(stats.chi2.isf(tail, n)) / n


def _g(n: int, tail: float) -> float:
    return 1 - 1 / _endless(n, tail)


def _h(n: int, tail: float) -> float:
    return 1 / _endless(n, 1 - tail) - 1
