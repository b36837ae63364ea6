"""Two groups compared in strata, so that a different mix of work is not called a change."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from qc.stats.checks import Floats, inside_unit, refuse_where, same_length, whole_array
from qc.stats.comparing.comparisons import FEW, ComparisonCaution, Contrast

MOST_EXACT = 2000
"""With more defective pieces the normal approximation is as good as the exact distribution."""
SAME_CHANCE = 1e-7
"""Outcomes whose chances differ by less than this share count as equally likely."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StratifiedComparison:
    """A group against a reference, each stratum with its own kind.

    ``ratio`` and ``difference`` are common to all strata. ``n_defective``, ``n_inspected``,
    ``reference_defective`` and ``reference_inspected`` count what could be compared: strata with
    pieces in both. ``p_value`` and ``mid_p`` take pieces as independent; ``judged_p`` allows for
    ``spread``. All are nan where nothing can be compared.
    """

    ratio: Contrast
    difference: Contrast
    n_defective: int
    n_inspected: int
    reference_defective: int
    reference_inspected: int
    chi_square: float
    p_value: float
    mid_p: float
    judged_p: float
    spread: float
    confidence: float
    method: str
    cautions: tuple[ComparisonCaution, ...]


def compare_in_strata(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, reference_defective: npt.ArrayLike,
    reference_inspected: npt.ArrayLike, *, spread: float = 1.0, confidence: float = 0.95,
) -> StratifiedComparison:
    """Shares of a group against those of a reference, within strata of equal work.

    Parameters
    ----------
    n_defective, reference_defective : whole pieces of each stratum, 0 to the number inspected
    n_inspected, reference_inspected : whole pieces of each stratum, 0 and up; a stratum without
        pieces in one of the two says nothing and is left out
    spread : how much more the shares vary than chance alone (1: not more), 1 and up; intervals
        get wider by it, and the normal score of the p-value is divided by it
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, spread is below 1 or confidence
        outside (0, 1).

    Notes
    -----
    Ratio and difference by the weights of Mantel and Haenszel. Ends of the ratio solve
    (R - ratio S)^2 = z^2 ratio P, with P the variance term of Greenland and Robins: near their
    interval on the log scale with many defects, and still an interval with none in one group. Ends
    of the difference solve |d - delta| = z se(delta), se from Sato's variance. p: exact, given the
    defective pieces of each stratum; above `MOST_EXACT` of them by the chi-square of Mantel and
    Haenszel without a correction. Ratio and difference are averages where strata differ in them.

    Source
    ------
    Mantel & Haenszel (1959), J. Natl. Cancer Inst. 22, 719-748; Greenland & Robins (1985),
    Biometrics 41, 55-68; Sato (1989), Biometrics 45, 1323-1324; Klingenberg (2014), Statistics in
    Medicine 33, 2968-2983; exact: Gart (1970), Biometrika 57, 471-475 (from memory).
    """
    d, n = whole_array("n_defective", n_defective), whole_array("n_inspected", n_inspected)
    d0 = whole_array("reference_defective", reference_defective)
    n0 = whole_array("reference_inspected", reference_inspected)
    for name, other in (("n_defective", d), ("reference_defective", d0),
                        ("reference_inspected", n0)):
        same_length(name, other, "n_inspected", n)
    refuse_where("n_defective", d, d > n, "0 to n_inspected")
    refuse_where("reference_defective", d0, d0 > n0, "0 to reference_inspected")
    if not spread >= 1:
        raise ValueError(f"spread is {spread}; it must be 1 or more")
    z = float(ndtri(0.5 + inside_unit("confidence", confidence) / 2)) * spread
    used = (n > 0) & (n0 > 0)
    return _compared(d[used], n[used], d0[used], n0[used], z=z, spread=spread,
                     confidence=confidence)


def _compared(
    d: Floats, n: Floats, d0: Floats, n0: Floats, *, z: float, spread: float, confidence: float
) -> StratifiedComparison:
    chi_square, by_normal = _mantel_haenszel(d, n, d0, n0)
    p_value, mid_p = by_normal, by_normal
    if 0 < (d + d0).sum() <= MOST_EXACT:
        p_value, mid_p = _exact(d, n, d0, n0)
    score = float(ndtri(1 - mid_p / 2)) if mid_p > 1e-15 else sqrt(max(chi_square, 0.0))
    return StratifiedComparison(
        ratio=_ratio(d, n, d0, n0, z), difference=_difference(d, n, d0, n0, z),
        n_defective=int(d.sum()), n_inspected=int(n.sum()), reference_defective=int(d0.sum()),
        reference_inspected=int(n0.sum()), chi_square=chi_square, p_value=p_value, mid_p=mid_p,
        judged_p=2 * float(ndtr(-score / spread)), spread=spread, confidence=confidence,
        method="Mantel-Haenszel; ratio: Greenland and Robins; difference: Sato, Klingenberg; "
               "p: exact given each stratum's total",
        cautions=_cautions(d, n, d0, n0),
    )


def _cautions(d: Floats, n: Floats, d0: Floats, n0: Floats) -> tuple[ComparisonCaution, ...]:
    seen, other = d.sum() > 0, d0.sum() > 0
    pairs = (
        (seen != other, ComparisonCaution.NOTHING_SEEN),
        (not seen and not other, ComparisonCaution.NONE_AT_ALL),
        (min(n.sum(), n0.sum()) < FEW, ComparisonCaution.FEW_PIECES),
    )
    return tuple(caution for applies, caution in pairs if applies)


def _mantel_haenszel(d: Floats, n: Floats, d0: Floats, n0: Floats) -> tuple[float, float]:
    """Chi-square with one degree of freedom, without a correction, and its p-value."""
    total, bad = n + n0, d + d0
    expected = n * bad / total
    variance = float((n * n0 * bad * (total - bad) / (total**2 * np.maximum(total - 1, 1))).sum())
    if variance <= 0:
        return float("nan"), float("nan")
    score = float((d - expected).sum()) / sqrt(variance)
    return score**2, 2 * float(ndtr(-abs(score)))


def _ratio(d: Floats, n: Floats, d0: Floats, n0: Floats, z: float) -> Contrast:
    total = n + n0
    mine, other = float((d * n0 / total).sum()), float((d0 * n / total).sum())
    term = z**2 * float(((n * n0 * (d + d0) - d * d0 * total) / total**2).sum())
    if mine + other == 0:
        return Contrast(value=float("nan"), low=0.0, high=float("inf"))
    if other == 0:
        return Contrast(value=float("inf"), low=mine**2 / term, high=float("inf"))
    middle = 2 * mine * other + term
    root = sqrt(max(middle**2 - 4 * (mine * other) ** 2, 0.0))
    high = (middle + root) / (2 * other**2)
    # the two ends multiply to (mine / other)^2: no digits cancel
    return Contrast(value=mine / other, low=(mine / other) ** 2 / high, high=high)


def _difference(d: Floats, n: Floats, d0: Floats, n0: Floats, z: float) -> Contrast:
    total = n + n0
    weight = float((n * n0 / total).sum())
    if weight == 0 or (d + d0).sum() == 0:
        nothing = float("nan")
        return Contrast(value=nothing if weight == 0 else 0.0, low=nothing, high=nothing)
    value = float(((d * n0 - d0 * n) / total).sum()) / weight
    tilt = float(((n**2 * d0 - n0**2 * d + n * n0 * (n0 - n) / 2) / total**2).sum()) / weight**2
    floor = float(((d * (n0 - d0) + d0 * (n - d)) / (2 * total)).sum()) / weight**2
    middle = value + z**2 * tilt / 2
    reach = sqrt(max(middle**2 - value**2 + z**2 * floor, 0.0))
    return Contrast(value=value, low=max(middle - reach, -1.0), high=min(middle + reach, 1.0))


def _exact(d: Floats, n: Floats, d0: Floats, n0: Floats) -> tuple[float, float]:
    """p and mid-p of the sum of independent hypergeometric counts."""
    chance, first = np.ones(1), 0
    for one in zip(d + d0, n, n0, strict=True):
        bad, mine, other = (int(part) for part in one)
        if bad:
            chance = np.convolve(chance, _hypergeometric(bad, mine, other))
            first += max(0, bad - other)
    seen = chance[int(d.sum()) - first]
    less = chance < seen * (1 - SAME_CHANCE)
    same = ~less & (chance <= seen * (1 + SAME_CHANCE))
    rarer, as_rare = float(chance[less].sum()), float(chance[same].sum())
    return min(1.0, rarer + as_rare), min(1.0, rarer + as_rare / 2)


def _hypergeometric(bad: int, mine: int, other: int) -> Floats:
    """Chances of how many of ``bad`` defective pieces are among ``mine``, from ratios of
    neighbours."""
    k = np.arange(max(0, bad - other), min(bad, mine) + 1.0)
    up = (bad - k[:-1]) * (mine - k[:-1]) / (k[1:] * (other - bad + k[1:]))
    log_chance = np.concatenate(([0.0], np.cumsum(np.log(up))))
    weight = np.exp(log_chance - log_chance.max())
    chance: Floats = weight / weight.sum()
    return chance
