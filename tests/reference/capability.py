"""Capability the slow way: plain loops over Python numbers, sharing nothing with the program."""

from __future__ import annotations

import math
from statistics import NormalDist, fmean


def bissell_interval(cpk: float, n: int, df: float, confidence: float) -> tuple[float, float]:
    """Normal approximation of Bissell (1990), Applied Statistics 39, 331-340."""
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    reach = z * math.sqrt(1 / (9 * n) + cpk * cpk / (2 * df))
    return cpk - reach, cpk + reach


def sigmas(values: list[float]) -> tuple[float, float]:
    """Moving range over d2, and the standard deviation of all."""
    steps = [abs(b - a) for a, b in zip(values, values[1:], strict=False)]
    mean = fmean(values)
    squares = math.fsum((x - mean) ** 2 for x in values)
    return fmean(steps) * math.sqrt(math.pi) / 2, math.sqrt(squares / (len(values) - 1))


def pooled_sigma(values: list[float], labels: list[str]) -> tuple[float, int]:
    """Pooled standard deviation within subgroups, and its degrees of freedom."""
    members: dict[str, list[float]] = {}
    for value, label in zip(values, labels, strict=True):
        members.setdefault(label, []).append(value)
    squares = math.fsum(
        (x - fmean(group)) ** 2 for group in members.values() for x in group
    )
    df = sum(len(group) - 1 for group in members.values())
    return math.sqrt(squares / df), df


def a_squared_spread(values: list[float], step: float) -> float:
    """The same of values rounded to a step, ties spread evenly over the chance of their step."""
    n, mean = len(values), fmean(values)
    normal = NormalDist(mean, math.sqrt(sigmas(values)[1] ** 2 - step**2 / 12))
    chances = []
    for value in sorted(set(values)):
        low, high = normal.cdf(value - step / 2), normal.cdf(value + step / 2)
        tied = values.count(value)
        chances += [low + (high - low) * (k + 0.5) / tied for k in range(tied)]
    total = math.fsum(
        (2 * i + 1) * (math.log(chances[i]) + math.log(1 - chances[n - 1 - i])) for i in range(n)
    )
    return -n - total / n


def a_squared(values: list[float]) -> float:
    """Anderson-Darling distance from the normal of the sample's mean and sigma."""
    ordered, n = sorted(values), len(values)
    mean, sigma = fmean(values), sigmas(values)[1]
    total = 0.0
    for i, value in enumerate(ordered, start=1):
        z, mirrored = (value - mean) / sigma, (ordered[n - i] - mean) / sigma
        below = 0.5 * math.erfc(-z / math.sqrt(2))
        above = 0.5 * math.erfc(mirrored / math.sqrt(2))
        total += (2 * i - 1) * (math.log(below) + math.log(above))
    return -n - total / n
