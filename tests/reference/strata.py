"""Two groups in strata the slow way: every table counted, every end found by halving."""

from __future__ import annotations

import math
from fractions import Fraction

from tests.reference.comparisons import solve

Stratum = tuple[int, int, int, int]  # defective and inspected, then the same of the reference


def exact(strata: list[Stratum]) -> tuple[float, float]:
    """p and mid-p from all ways the defective pieces of each stratum can fall, in whole numbers."""
    ways = {0: 1}
    for d, n, d0, n0 in strata:
        bad, more = d + d0, {}
        for so_far, count in ways.items():
            for k in range(max(0, bad - n0), min(bad, n) + 1):
                here = math.comb(n, k) * math.comb(n0, bad - k)
                more[so_far + k] = more.get(so_far + k, 0) + count * here
        ways = more
    seen, every = ways[sum(d for d, *_ in strata)], sum(ways.values())
    rarer = sum(w for w in ways.values() if w < seen)
    same = sum(w for w in ways.values() if w == seen)
    return float(Fraction(rarer + same, every)), float(Fraction(2 * rarer + same, 2 * every))


def sums(strata: list[Stratum]) -> dict[str, float]:
    """The sums that the estimates are made of, in fractions."""
    total = dict.fromkeys(("mine", "other", "weight", "robins", "tilt", "floor"), Fraction(0))
    for d, n, d0, n0 in strata:
        m = n + n0
        total["mine"] += Fraction(d * n0, m)
        total["other"] += Fraction(d0 * n, m)
        total["weight"] += Fraction(n * n0, m)
        total["robins"] += Fraction(n * n0 * (d + d0) - d * d0 * m, m * m)
        total["tilt"] += Fraction(2 * n * n * d0 - 2 * n0 * n0 * d + n * n0 * (n0 - n), 2 * m * m)
        total["floor"] += Fraction(d * (n0 - d0) + d0 * (n - d), 2 * m)
    return {name: float(value) for name, value in total.items()}


def log_ends(strata: list[Stratum], z: float) -> tuple[float, float]:
    """Greenland and Robins on the log scale."""
    s = sums(strata)
    ratio, error = s["mine"] / s["other"], math.sqrt(s["robins"] / (s["mine"] * s["other"]))
    return ratio * math.exp(-z * error), ratio * math.exp(z * error)


def ratio_ends(strata: list[Stratum], z: float) -> tuple[float, float]:
    """Where (R - ratio S) is z times the root of ratio P."""
    s = sums(strata)

    def off(ratio: float) -> float:
        return (s["mine"] - ratio * s["other"]) / math.sqrt(ratio * s["robins"])

    middle = s["mine"] / s["other"]
    return (solve(lambda r: off(r) - z, 1e-9, middle), solve(lambda r: off(r) + z, middle, 1e9))


def difference_ends(strata: list[Stratum], z: float) -> tuple[float, float]:
    """Where the difference is z standard errors away, the error taken there."""
    s = sums(strata)
    seen = (s["mine"] - s["other"]) / s["weight"]

    def off(delta: float) -> float:
        error = math.sqrt(max(delta * s["tilt"] + s["floor"], 1e-300)) / s["weight"]
        return (seen - delta) / error

    return (solve(lambda x: off(x) - z, -1.0, seen), solve(lambda x: off(x) + z, seen, 1.0))
