"""Two groups compared: how far apart their shares or rates are, and whether by luck."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise
from scipy.special import betaincinv, ndtri

from qc.stats.checks import Floats, Numbers, inside_unit, refuse_where, whole_counts
from qc.stats.comparing.exact_tests import conditional_test, fisher_test
from qc.stats.comparing.intervals import plain, wilson_interval

FEW = 20
WIDEST = 60.0
"""Natural log of the largest ratio looked for: far beyond any counts a computer holds."""


class ComparisonCaution(Enum):
    """What a reader must know before using a comparison; the value is the sentence to show."""

    NOTHING_SEEN = "none was seen in one of the two: the ratio is bounded on one side only"
    NONE_AT_ALL = "none was seen in either of the two: their ratio is unknown"
    FEW_PIECES = "fewer than 20 pieces in one of the two: the intervals are rough"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Contrast:
    """A difference or ratio with its interval; floats or arrays as the input.

    A ratio is nan where nothing was seen in either group; it and its upper end are inf where
    nothing was seen in the reference.
    """

    value: Numbers
    low: Numbers
    high: Numbers


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareComparison:
    """Two shares: ``difference`` is share - reference, ``ratio`` share / reference."""

    share: Numbers
    reference: Numbers
    difference: Contrast
    ratio: Contrast
    p_value: Numbers
    mid_p: Numbers
    confidence: float
    method: str
    cautions: tuple[ComparisonCaution, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RateComparison:
    """Two rates: ``difference`` is rate - reference, ``ratio`` rate / reference."""

    rate: Numbers
    reference: Numbers
    difference: Contrast
    ratio: Contrast
    p_value: Numbers
    mid_p: Numbers
    confidence: float
    method: str
    cautions: tuple[ComparisonCaution, ...]


def compare_shares(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, reference_defective: npt.ArrayLike,
    reference_inspected: npt.ArrayLike, *, confidence: float = 0.95,
) -> ShareComparison:
    """A share of defective pieces against a reference share (after and before, say).

    Parameters
    ----------
    n_defective, reference_defective : whole pieces, 0 to the number inspected
    n_inspected, reference_inspected : whole pieces, 1 and up; numbers or arrays that fit
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or out of range, or confidence is outside (0, 1).

    Notes
    -----
    Difference: hybrid score interval from the Wilson ends of both shares. Ratio: score interval,
    the ratios at which |p1 - ratio p2| is z standard errors, these with the shares most likely at
    that ratio. p: Fisher's exact test, and its mid-p, which is less cautious and closer to what
    the intervals say. Pieces must fail independently, and be different ones in the two groups.

    Source
    ------
    Newcombe (1998), Statistics in Medicine 17, 873-890, method 10; Koopman (1984), Biometrics 40,
    513-517. Checked against Fagerland, Lydersen & Laake (2015), Stat. Methods Med. Res. 24,
    224-254.
    """
    d, n = _pieces("n_defective", n_defective, "n_inspected", n_inspected)
    d0, n0 = _pieces("reference_defective", reference_defective,
                     "reference_inspected", reference_inspected)
    d, n, d0, n0 = _fitted(d, n, d0, n0)
    z = float(ndtri(0.5 + inside_unit("confidence", confidence) / 2))
    mine, other = (wilson_interval(*pair, confidence=confidence) for pair in ((d, n), (d0, n0)))
    test = fisher_test(d, n, d0, n0)
    few = ((n < FEW) | (n0 < FEW)).any()
    return ShareComparison(
        share=mine.share, reference=other.share, ratio=_share_ratio(d, n, d0, n0, z),
        difference=_hybrid((mine.share, mine.low, mine.high),
                           (other.share, other.low, other.high)),
        p_value=plain(test.p_value), mid_p=plain(test.mid_p), confidence=confidence,
        method="difference: Newcombe hybrid score; ratio: Koopman score; p: Fisher exact",
        cautions=_cautions(d, d0) + ((ComparisonCaution.FEW_PIECES,) if few else ()),
    )


def compare_rates(
    n_events: npt.ArrayLike, exposure: npt.ArrayLike, reference_events: npt.ArrayLike,
    reference_exposure: npt.ArrayLike, *, confidence: float = 0.95,
) -> RateComparison:
    """Events per unit of exposure against a reference rate.

    Parameters
    ----------
    n_events, reference_events : whole events, 0 and up; numbers or arrays that fit
    exposure, reference_exposure : what they are counted over (pieces, hours), above 0
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or below 0, an exposure is not above 0, or confidence is outside
        (0, 1).

    Notes
    -----
    Ratio: exact, from the beta quantiles of the first group's share of all events. Difference:
    hybrid score interval from the score ends of both rates. p: exact given the total, twice the
    smaller tail, so it is below 1 - confidence exactly when the ratio's interval leaves out 1;
    mid-p beside it. Events must come independently.

    Source
    ------
    Przyborowski & Wilenski (1940), Biometrika 31, 313-323 (from memory); Zou & Donner (2008),
    Statistics in Medicine 27, 1693-1702 (hybrid interval of a difference, from memory).
    """
    k, e = _events("n_events", n_events, "exposure", exposure)
    k0, e0 = _events("reference_events", reference_events, "reference_exposure",
                     reference_exposure)
    k, e, k0, e0 = _fitted(k, e, k0, e0)
    z = float(ndtri(0.5 + inside_unit("confidence", confidence) / 2))
    test = conditional_test(k, k0, e / (e + e0))
    return RateComparison(
        rate=plain(k / e), reference=plain(k0 / e0),
        difference=_hybrid((k / e, *_score_ends(k, e, z)), (k0 / e0, *_score_ends(k0, e0, z))),
        ratio=_rate_ratio(k, k0, e0 / e, (1 - confidence) / 2),
        p_value=plain(test.p_value), mid_p=plain(test.mid_p), confidence=confidence,
        method="ratio: exact conditional; difference: hybrid score; p: exact conditional",
        cautions=_cautions(k, k0),
    )


def _pieces(
    name: str, n_defective: npt.ArrayLike, of_name: str, n_inspected: npt.ArrayLike
) -> tuple[Floats, Floats]:
    d, n = _fitted(whole_counts(name, n_defective), whole_counts(of_name, n_inspected, low=1))
    refuse_where(name, d, d > n, f"0 to {of_name}")
    return d, n


def _events(
    name: str, n_events: npt.ArrayLike, over_name: str, exposure: npt.ArrayLike
) -> tuple[Floats, Floats]:
    k, over = whole_counts(name, n_events), np.asarray(exposure, dtype=np.float64)
    refuse_where(over_name, over, ~(np.isfinite(over) & (over > 0)), "finite numbers above 0")
    return k, over


def _fitted(*arrays: Floats) -> tuple[Floats, ...]:
    try:
        return tuple(np.broadcast_arrays(*arrays))
    except ValueError as error:
        shapes = ", ".join(str(array.shape) for array in arrays)
        raise ValueError(f"the counts have shapes {shapes}; they must fit together") from error


def _cautions(k: Floats, k0: Floats) -> tuple[ComparisonCaution, ...]:
    one, both = ((k == 0) != (k0 == 0)).any(), ((k == 0) & (k0 == 0)).any()
    pairs = ((one, ComparisonCaution.NOTHING_SEEN), (both, ComparisonCaution.NONE_AT_ALL))
    return tuple(caution for applies, caution in pairs if applies)


def _hybrid(
    one: tuple[Numbers, Numbers, Numbers], other: tuple[Numbers, Numbers, Numbers]
) -> Contrast:
    """Difference of two (value, low, high): each end from the two ends that make it."""
    (p, p_low, p_high), (q, q_low, q_high) = (map(np.asarray, part) for part in (one, other))
    return Contrast(
        value=plain(p - q), low=plain(p - q - np.hypot(p - p_low, q_high - q)),
        high=plain(p - q + np.hypot(p_high - p, q - q_low)),
    )


def _score_ends(k: Floats, exposure: Floats, z: float) -> tuple[Floats, Floats]:
    middle, reach = k + z**2 / 2, z * np.sqrt(k + z**2 / 4)
    return np.where(k == 0, 0.0, middle - reach) / exposure, (middle + reach) / exposure


def _rate_ratio(k: Floats, k0: Floats, per: Floats, tail: float) -> Contrast:
    """Exact ends of the odds that an event is the first group's, times reference over exposure."""
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.where(k + k0 > 0, k / k0 * per, np.nan)
        low = np.where(k == 0, 0.0, _beta_odds(k, k0 + 1, tail) * per)
        high = np.where(k0 == 0, np.inf, _beta_odds(k + 1, k0, 1 - tail) * per)
    return Contrast(value=plain(value), low=plain(low), high=plain(high))


def _beta_odds(a: Floats, b: Floats, chance: float) -> Floats:
    a, b = np.maximum(a, 1), np.maximum(b, 1)
    # both quantiles are asked for: 1 - q loses the digits of a q near 1
    odds: Floats = betaincinv(a, b, chance) / betaincinv(b, a, 1 - chance)
    return odds


def _share_ratio(d: Floats, n: Floats, d0: Floats, n0: Floats, z: float) -> Contrast:
    with np.errstate(divide="ignore", invalid="ignore"):
        value = (d / n) / (d0 / n0)
        middle = np.where((d > 0) & (d0 > 0), np.log(value), 0.0)
    low = _score_end(np.where(d0 > 0, middle, WIDEST), (d, n, d0, n0), z)
    high = _score_end(np.where(d > 0, middle, -WIDEST), (d, n, d0, n0), -z)
    return Contrast(value=plain(value), low=plain(np.where(d == 0, 0.0, low)),
                    high=plain(np.where(d0 == 0, np.inf, high)))


def _score_end(middle: Floats, counts: tuple[Floats, ...], z: float) -> Floats:
    """The ratio whose score is z, below ``middle`` (log) for a positive z and above otherwise."""
    def off(log_ratio: Floats, *of: Floats) -> Floats:
        return _ratio_score(np.exp(log_ratio), *of) - z

    far = np.full(middle.shape, -WIDEST if z > 0 else WIDEST)
    ends = (far, middle) if z > 0 else (middle, far)
    found: Floats = np.exp(elementwise.find_root(off, ends, args=counts).x)
    return found


def _ratio_score(ratio: Floats, d: Floats, n: Floats, d0: Floats, n0: Floats) -> Floats:
    """(p - ratio q) over its standard error at the shares most likely under this ratio.

    The most likely q solves a quadratic. Its discriminant is written as a sum of two terms that
    are never negative, so that no digits cancel.
    """
    a, b = ratio * (n + d0), n0 + d
    root = np.sqrt((a - b) ** 2 + 4 * ratio * (n - d) * (n0 - d0))
    q = 2 * (d + d0) / (a + b + root)
    p = np.minimum(ratio * q, 1.0)
    q = np.minimum(q, 1.0)
    error = np.sqrt(p * (1 - p) / n + ratio**2 * q * (1 - q) / n0)
    apart = d / n - ratio * d0 / n0
    with np.errstate(divide="ignore", invalid="ignore"):
        score: Floats = np.where(apart == 0, 0.0, apart / error)
    return score
