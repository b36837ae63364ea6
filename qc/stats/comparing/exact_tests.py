"""Exact chances that two groups differ by luck alone, each with its mid-p."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import betainc, betaincc
from scipy.stats import binom

from qc.stats.checks import Floats

SAME_CHANCE = 1e-10
"""Outcomes whose chances differ by less than this share count as equally likely."""
FAR = 45.0
"""Standard deviations from the mean beyond which an outcome's chance is below 1e-300."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExactTest:
    """Two-sided p-values; ``mid_p`` counts the outcome seen (and its equals) by half."""

    p_value: Floats
    mid_p: Floats


def fisher_test(d: Floats, n: Floats, other_d: Floats, other_n: Floats) -> ExactTest:
    """Do two shares differ, given how many pieces were defective in all?

    Parameters
    ----------
    d, n, other_d, other_n : whole counts of one shape, checked by the caller

    Notes
    -----
    p: chance of all tables with these margins that are at most as likely as the one seen. mid-p:
    the less likely ones, and half of those as likely; its mean is 1/2 when there is no difference.

    Source
    ------
    Fisher (1934), Statistical Methods for Research Workers, 5th ed., section 21.02; two-sided
    rule of Irwin (1935), Metron 12, 83-94; mid-p: Lancaster (1961), J. Amer. Stat. Assoc. 56,
    223-234 (from memory).
    """
    counts = np.broadcast_arrays(d, n, other_d, other_n)
    each = [_fisher(*(int(k) for k in one)) for one in zip(*(c.ravel() for c in counts),
                                                           strict=True)]
    both = np.array(each, dtype=np.float64).reshape(*counts[0].shape, 2)
    return ExactTest(p_value=both[..., 0], mid_p=both[..., 1])


def conditional_test(k: Floats, other_k: Floats, fraction: Floats) -> ExactTest:
    """Do two rates differ, given how many events there were in all?

    Parameters
    ----------
    k, other_k : whole events of one shape, checked by the caller
    fraction : share of all events the first would have if the rates were equal

    Notes
    -----
    Twice the smaller binomial tail, at most 1: below 1 - confidence exactly where the exact
    interval of the ratio leaves out 1. mid-p: the outcome seen counts by half in its tail.

    Source
    ------
    Przyborowski & Wilenski (1940), Biometrika 31, 313-323 (from memory).
    """
    total = k + other_k
    at_least = np.where(k > 0, betainc(np.maximum(k, 1), other_k + 1, fraction), 1.0)
    at_most = np.where(other_k > 0, betaincc(k + 1, np.maximum(other_k, 1), fraction), 1.0)
    smaller = 2 * np.minimum(at_least, at_most)
    seen = binom.pmf(k, total, fraction)
    return ExactTest(p_value=np.minimum(1.0, smaller),
                     mid_p=np.clip(smaller - seen, 0.0, 1.0))


def _fisher(d: int, n: int, other_d: int, other_n: int) -> tuple[float, float]:
    bad, total = d + other_d, n + other_n
    low, high = max(0, bad - other_n), min(bad, n)
    if low == high:
        return 1.0, 0.5
    mean = bad * n / total
    variance = mean * (other_n / total) * ((total - bad) / max(total - 1, 1))
    reach = int(FAR * math.sqrt(variance)) + 1000
    first, last = max(low, int(mean) - reach), min(high, int(mean) + reach)
    if not first <= d <= last:
        return 0.0, 0.0
    chance = _relative_chances(np.arange(first, last + 1.0), d - first, bad, n, total)
    # chance holds logs relative to the table seen, which is therefore exactly 0
    less, same = chance < -SAME_CHANCE, np.abs(chance) <= SAME_CHANCE
    weight = np.exp(chance - chance.max())
    rarer, as_rare, every = (float(weight[part].sum()) for part in (less, same, slice(None)))
    return min(1.0, (rarer + as_rare) / every), min(1.0, (rarer + as_rare / 2) / every)


def _relative_chances(k: Floats, seen: int, bad: int, n: int, total: int) -> Floats:
    """Log of each table's chance over that of the one seen, from ratios of neighbours.

    Sums of ratios keep ten digits where log factorials of large counts lose them.
    """
    up = (bad - k[:-1]) * (n - k[:-1]) / (k[1:] * (total - bad - n + k[1:]))
    step = np.concatenate(([0.0], np.cumsum(np.log(up))))
    relative: Floats = step - step[seen]
    return relative
