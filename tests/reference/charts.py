"""Charts the slow way: plain loops over Python numbers, sharing nothing with the program."""

from __future__ import annotations

import math
from statistics import fmean


def p_limits(d: list[int], n: list[int], first: int, last: int) -> list[tuple[float, float]]:
    """Lower and upper limit of each sample, centre pooled from samples first..last (1-based)."""
    share = sum(d[first - 1:last]) / sum(n[first - 1:last])
    limits = []
    for size in n:
        reach = 3 * math.sqrt(share * (1 - share) / size)
        limits.append((max(0.0, share - reach), min(1.0, share + reach)))
    return limits


def u_limits(c: list[int], n: list[float]) -> list[tuple[float, float]]:
    """Lower and upper limit of each sample of a u chart."""
    rate = sum(c) / sum(n)
    return [(max(0.0, rate - 3 * math.sqrt(rate / size)), rate + 3 * math.sqrt(rate / size))
            for size in n]


def moving_ranges(values: list[float]) -> list[float]:
    """Distance of each value from the one before."""
    return [abs(b - a) for a, b in zip(values, values[1:], strict=False)]


def individuals_limits(values: list[float]) -> tuple[float, float, float]:
    """Lower limit, centre, upper limit; d2 of two values is 2 / sqrt(pi)."""
    centre = fmean(values)
    reach = 3 * fmean(moving_ranges(values)) * math.sqrt(math.pi) / 2
    return centre - reach, centre, centre + reach


def ewma(
    points: list[float], sizes: list[int], weight: float, width: float, centre: float, sigma: float
) -> list[tuple[float, float, float]]:
    """Value, lower and upper limit of each EWMA point, from the explicit sum of its weights."""
    rows = []
    for i in range(len(points)):
        weights = [weight * (1 - weight) ** (i - j) for j in range(i + 1)]
        value = (1 - weight) ** (i + 1) * centre
        value += sum(w * x for w, x in zip(weights, points, strict=False))
        variance = sum(w * w * sigma * sigma / n for w, n in zip(weights, sizes, strict=False))
        reach = width * math.sqrt(variance)
        rows.append((value, centre - reach, centre + reach))
    return rows


def subgroup_rows(
    groups: list[list[float]], base: list[int], factor: dict[int, tuple[float, float]], spread
) -> tuple[float, list[tuple[float, ...]]]:
    """sigma, and of each subgroup: mean, lower, centre, upper, then the same of its spread.

    ``factor`` : mean and standard deviation of the spread of n standard normal values by n;
    ``base`` : positions (1-based) of the subgroups the estimates come from.
    """
    chosen = [groups[k - 1] for k in base]
    sigma = fmean(spread(own) / factor[len(own)][0] for own in chosen)
    centre = fmean(value for own in chosen for value in own)
    rows = []
    for own in groups:
        reach = 3 * sigma / math.sqrt(len(own))
        middle, wide = (sigma * part for part in factor[len(own)])
        rows.append((fmean(own), centre - reach, centre, centre + reach,
                     spread(own), max(0.0, middle - 3 * wide), middle, middle + 3 * wide))
    return sigma, rows
