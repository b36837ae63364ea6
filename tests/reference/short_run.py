"""Short runs the slow way: each value judged anew from the list of those before it."""

from __future__ import annotations

import math
from statistics import NormalDist, fmean, stdev

from scipy import stats


def q_scores(
    x: list[float], mean: float | None = None, sigma: float | None = None
) -> list[float | None]:
    """The Q statistic of each value; None where nothing can be said yet."""
    return [_q(x[:r], value, mean, sigma) for r, value in enumerate(x)]


def _q(before: list[float], value: float, mean: float | None, sigma: float | None) -> float | None:
    n = len(before)
    if mean is not None and sigma is not None:
        return (value - mean) / sigma
    if mean is not None:
        if n < 1:
            return None
        s = math.sqrt(fmean((v - mean) ** 2 for v in before))
        return _normal(stats.t.cdf((value - mean) / s, n))
    if n < (1 if sigma is not None else 2):
        return None
    distance = math.sqrt(n / (n + 1)) * (value - fmean(before))
    if sigma is not None:
        return distance / sigma
    return _normal(stats.t.cdf(distance / stdev(before), n - 1))


def _normal(chance: float) -> float:
    return NormalDist().inv_cdf(chance)


def share_chances(d: list[int], n: list[int]) -> list[tuple[float, float]]:
    """Of each sample after the first: chance of fewer defects, and of as many, given their sum.

    Every way of placing the defects among all pieces so far is as likely as any other.
    """
    chances = []
    for i in range(1, len(d)):
        pieces, defects = sum(n[:i + 1]), sum(d[:i + 1])
        ways = [math.comb(defects, k) * math.comb(pieces - defects, n[i] - k)
                for k in range(d[i] + 1)]
        every = math.comb(pieces, n[i])
        chances.append((sum(ways[:-1]) / every, ways[-1] / every))
    return chances


def rate_chances(c: list[int], n: list[float]) -> list[tuple[float, float]]:
    """As `share_chances` for defects of which a piece may have several."""
    chances = []
    for i in range(1, len(c)):
        share, total = n[i] / sum(n[:i + 1]), sum(c[:i + 1])
        each = [math.comb(total, k) * share**k * (1 - share) ** (total - k)
                for k in range(c[i] + 1)]
        chances.append((sum(each[:-1]), each[-1]))
    return chances


def part_levels(
    x: list[float], part: list[str], kept: list[bool]
) -> dict[str, tuple[float, float]]:
    """Mean and MR-bar sqrt(pi) / 2 of each part's kept values, neighbours within the part."""
    levels = {}
    for name in dict.fromkeys(part):
        own = [(value, keep) for value, label, keep in zip(x, part, kept, strict=True)
               if label == name]
        ranges = [abs(b - a) for (a, first), (b, second) in zip(own, own[1:], strict=False)
                  if first and second]
        levels[name] = (fmean(value for value, keep in own if keep),
                        fmean(ranges) * math.sqrt(math.pi) / 2)
    return levels
