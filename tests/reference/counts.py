"""Charts of counts the slow way: plain loops over Python numbers, exact sums for the tails."""

from __future__ import annotations

import math
from fractions import Fraction
from statistics import fmean


def prime_limits(
    counts: list[int], sizes: list[float], *, shares: bool
) -> tuple[float, list[tuple[float, float]]]:
    """sigma_z, and lower and upper limit of each sample, of a p-prime (or u-prime) chart."""
    centre = sum(counts) / sum(sizes)
    one = centre * (1 - centre) if shares else centre
    z = [(c / n - centre) / math.sqrt(one / n) for c, n in zip(counts, sizes, strict=True)]
    sigma_z = fmean(abs(b - a) for a, b in zip(z, z[1:], strict=False)) / 1.128
    most = 1.0 if shares else math.inf
    limits = []
    for n in sizes:
        reach = 3 * sigma_z * math.sqrt(one / n)
        limits.append((max(0.0, centre - reach), min(most, centre + reach)))
    return sigma_z, limits


def binomial_tails(n: int, share: Fraction) -> list[Fraction]:
    """Exact P(X <= k) for k = 0..n."""
    total, found = Fraction(0), []
    for k in range(n + 1):
        total += math.comb(n, k) * share**k * (1 - share) ** (n - k)
        found.append(total)
    return found


def geometric_tails(share: Fraction, most: int) -> list[Fraction]:
    """Exact P(X <= k) for k = 0..most, X good units before the next nonconforming one."""
    total, found = Fraction(0), []
    for k in range(most + 1):
        total += share * (1 - share) ** k
        found.append(total)
    return found


def whole_limits(at_most: list[Fraction], tail: Fraction) -> tuple[int, int]:
    """Largest k with P(X < k) <= tail, smallest k with P(X > k) <= tail."""
    upper = next(k for k, chance in enumerate(at_most) if 1 - chance <= tail)
    lower = max(k for k in range(len(at_most)) if k == 0 or at_most[k - 1] <= tail)
    return lower, upper


def run_limits(runs: list[int]) -> tuple[float, float, float]:
    """Lower limit, centre and upper limit of a g chart."""
    mean = fmean(runs)
    reach = 3 * math.sqrt(mean * (mean + 1))
    return max(0.0, mean - reach), mean, mean + reach


def time_limits(times: list[float]) -> tuple[float, float, float]:
    """Lower limit, centre and upper limit of a t chart, as times."""
    y = [time ** (1 / 3.6) for time in times]
    centre = fmean(y)
    reach = 3 * fmean(abs(b - a) for a, b in zip(y, y[1:], strict=False)) * math.sqrt(math.pi) / 2
    low, middle, high = (max(line, 0.0) ** 3.6 for line in (centre - reach, centre, centre + reach))
    return low, middle, high
