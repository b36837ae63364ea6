"""Two groups with little work in common, each held against what its own work usually gives."""

from __future__ import annotations

from math import exp, inf, log

from scipy.special import ndtr, ndtri

from qc.stats.comparing.comparisons import Contrast, compare_rates
from qc.stats.comparing.stratified import StratifiedComparison


def compare_to_usual(
    n_defective: int, n_inspected: int, expected: float, reference_defective: int,
    reference_inspected: int, reference_expected: float, *, spread: float = 1.0,
    confidence: float = 0.95,
) -> StratifiedComparison:
    """A group against a reference by seen over expected, as one stratum.

    Parameters
    ----------
    n_defective, n_inspected, reference_defective, reference_inspected : whole pieces
    expected, reference_expected : defective pieces the usual rates of the work give, above 0 and
        taken as known; they must not rest on the pieces that are compared
    spread : how much more the shares vary than chance alone (1: not more), 1 and up
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or below 0, an expectation is not above 0, spread is below 1 or
        confidence outside (0, 1).

    Notes
    -----
    Ratio of the two standardised ratios, exact given their sum, as events over exposure; its
    distance from the estimate on the log scale times ``spread`` (a bound about none seen: times
    ``spread`` squared). The difference is that of the group's share from what its work would have
    given at the reference's level, with the ends of the ratio. Defects must be rare.

    Source
    ------
    Breslow & Day (1987), Statistical Methods in Cancer Research II, section 3.2 (ratio of two
    standardised ratios, from memory); Przyborowski & Wilenski (1940), Biometrika 31, 313-323.
    """
    if not spread >= 1:
        raise ValueError(f"spread is {spread}; it must be 1 or more")
    plain = compare_rates(n_defective, expected, reference_defective, reference_expected,
                          confidence=confidence)
    ratio = _widened(plain.ratio, spread)
    mid_p = float(plain.mid_p)
    return StratifiedComparison(
        ratio=ratio, difference=_difference(
            ratio, n_defective / n_inspected,
            reference_defective / reference_expected * expected / n_inspected),
        n_defective=n_defective, n_inspected=n_inspected,
        reference_defective=reference_defective, reference_inspected=reference_inspected,
        chi_square=float("nan"), p_value=float(plain.p_value), mid_p=mid_p,
        judged_p=2 * float(ndtr(float(ndtri(max(mid_p, 1e-300) / 2)) / spread)), spread=spread,
        confidence=confidence, method="ratio of two standardised ratios, exact conditional",
        cautions=plain.cautions,
    )


def _widened(ratio: Contrast, spread: float) -> Contrast:
    """The interval ``spread`` times as far from the estimate."""
    value, low, high = float(ratio.value), float(ratio.low), float(ratio.high)
    if value == 0:
        return Contrast(value=value, low=low, high=high * spread**2)
    if not value < inf:
        return Contrast(value=value, low=low / spread**2, high=high)
    return Contrast(value=value, low=value * exp(-spread * (log(value) - log(low))),
                    high=value * exp(spread * (log(high) - log(value))))


def _difference(ratio: Contrast, share: float, at_reference: float) -> Contrast:
    """The share less what the reference's level would give, ends from those of the ratio."""
    if at_reference > 0:
        ends = (at_reference * (float(end) - 1) for end in (ratio.low, ratio.high))
        low, high = (min(max(end, -1.0), 1.0) for end in ends)
        return Contrast(value=share - at_reference, low=low, high=high)
    low = share * (1 - 1 / float(ratio.low)) if ratio.low > 0 else float("nan")
    return Contrast(value=share, low=low, high=share if share > 0 else float("nan"))
