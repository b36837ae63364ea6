"""Two groups compared the slow way: every table counted, every end found by halving."""

from __future__ import annotations

import math
from fractions import Fraction

from tests.reference.comparisons import binomial_at_most, solve, wilson_ends


def fisher(d: int, n: int, d0: int, n0: int) -> tuple[float, float]:
    """Exact p and mid-p from all tables with these margins, in whole numbers."""
    bad = d + d0
    ways = {k: math.comb(n, k) * math.comb(n0, bad - k)
            for k in range(max(0, bad - n0), min(bad, n) + 1)}
    every = sum(ways.values())
    rarer = sum(w for w in ways.values() if w < ways[d])
    as_rare = sum(w for w in ways.values() if w == ways[d])
    return (float(Fraction(rarer + as_rare, every)),
            float(Fraction(2 * rarer + as_rare, 2 * every)))


def newcombe_ends(d: int, n: int, d0: int, n0: int, z: float) -> tuple[float, float]:
    """Ends of the difference from the ends of both shares."""
    p, q = d / n, d0 / n0
    low, high = wilson_ends(d, n, z)
    low0, high0 = wilson_ends(d0, n0, z)
    return (p - q - math.sqrt((p - low) ** 2 + (high0 - q) ** 2),
            p - q + math.sqrt((high - p) ** 2 + (q - low0) ** 2))


def koopman_ends(d: int, n: int, d0: int, n0: int, z: float) -> tuple[float, float]:
    """Ratios at which chi-square, at the likeliest shares under that ratio, reaches z squared."""
    def chi_square(log_ratio: float) -> float:
        ratio = math.exp(log_ratio)
        q = _likeliest(ratio, d, n, d0, n0)
        p = ratio * q
        parts = ((d, n, p), (d0, n0, q))
        return sum((k - m * s) ** 2 / (m * s * (1 - s)) for k, m, s in parts) - z * z

    # a step beside the estimate, where both shares of 1 would divide by 0
    at = math.log((d / n) / (d0 / n0)) if d and d0 else 0.0
    if d == n and d0 == n0:
        return (math.exp(solve(chi_square, -20, -1e-9)), math.exp(solve(chi_square, 1e-9, 20)))
    low = 0.0 if d == 0 else math.exp(solve(chi_square, -20, at if d0 else 20))
    high = math.inf if d0 == 0 else math.exp(solve(chi_square, at if d else -20, 20))
    return low, high


def _likeliest(ratio: float, d: int, n: int, d0: int, n0: int) -> float:
    """The reference share of largest likelihood when the other is ``ratio`` times it."""
    def slope(q: float) -> float:
        return (d + d0) / q - (n - d) * ratio / (1 - ratio * q) - (n0 - d0) / (1 - q)

    return solve(slope, 1e-300, min(1.0, 1 / ratio) * (1 - 1e-15))


def conditional_ends(
    k: int, e: float, k0: int, e0: float, tail: float
) -> tuple[float, float]:
    """Rate ratios at which the first group's share of all events has the chance ``tail``."""
    total = k + k0

    def share(ratio: float) -> float:
        return ratio * e / (ratio * e + e0)

    low = 0.0 if k == 0 else math.exp(solve(
        lambda t: 1 - binomial_at_most(k - 1, total, share(math.exp(t))) - tail, -25, 25))
    high = math.inf if k0 == 0 else math.exp(solve(
        lambda t: binomial_at_most(k, total, share(math.exp(t))) - tail, -25, 25))
    return low, high


def conditional_p(k: int, e: float, k0: int, e0: float) -> tuple[float, float]:
    """Twice the smaller tail given the total, and the same with the outcome seen by half."""
    total, share = k + k0, e / (e + e0)
    at_most = binomial_at_most(k, total, share)
    at_least = 1.0 if k == 0 else 1 - binomial_at_most(k - 1, total, share)
    seen = at_most - (0.0 if k == 0 else binomial_at_most(k - 1, total, share))
    return min(1.0, 2 * min(at_least, at_most)), min(1.0, 2 * min(at_least, at_most) - seen)
