"""Many groups compared: do they differ at all, and which one differs from all the rest."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Generic, TypeVar

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc

from qc.stats.checks import (
    Floats,
    finite_array,
    refuse_where,
    same_length,
    whole_array,
)
from qc.stats.comparing.comparisons import (
    RateComparison,
    ShareComparison,
    compare_rates,
    compare_shares,
)
from qc.stats.comparing.discovery import Discoveries, benjamini_hochberg

LITTLE = 5.0
SMALL_PART = 0.2


class LevelCaution(Enum):
    """What a reader must know before using the overall test; the value is the sentence to show."""

    LITTLE_EXPECTED = (
        "little is expected of many levels: the overall p-value is rough, judge by the levels"
    )
    NO_VARIATION = "all levels show none, or only defective pieces: nothing to compare"


Comparison = TypeVar("Comparison", ShareComparison, RateComparison)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LevelComparison(Generic[Comparison]):
    """Whether levels differ, and each level against all the others together.

    ``chi_square`` with ``df`` and its ``p_value`` judge all levels at once (nan where nothing
    varies); ``dispersion`` is chi_square / df, about 1 when chance alone is at work.
    ``against_rest`` : one entry for each level, in the order given; ``discoveries`` : which of
    them stand out, false ones controlled.
    """

    chi_square: float
    df: int
    p_value: float
    dispersion: float
    overall: float
    against_rest: Comparison
    discoveries: Discoveries
    cautions: tuple[LevelCaution, ...]


def compare_many_shares(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, rate: float = 0.05,
    confidence: float = 0.95,
) -> LevelComparison[ShareComparison]:
    """Do the shares of several levels (presses, lots, people) differ, and which stands out?

    Parameters
    ----------
    n_defective, n_inspected : whole pieces of each level, 0..n and 1 and up; two levels or more
    rate : share of false ones borne among the levels that stand out, inside (0, 1)
    confidence : of each level's intervals

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, or there is one level only.

    Notes
    -----
    Overall: Pearson's chi-square of the 2 x k table, without continuity correction; rough where
    the smallest expected count is below 1 or more than a fifth are below 5 (said). Each level is
    compared with the rest by Fisher's exact test; which stand out follows Benjamini & Hochberg.
    The levels' mix of work is not allowed for: where it differs, use `standardised_ratio`.

    Source
    ------
    Pearson (1900); Cochran (1954), Biometrics 10, 417-451 (small expectations, from memory).
    """
    d = whole_array("n_defective", n_defective)
    n = whole_array("n_inspected", n_inspected, low=1)
    _check_levels("n_defective", d, "n_inspected", n)
    refuse_where("n_defective", d, d > n, "0 to n_inspected")
    share = d.sum() / n.sum()
    expected = np.concatenate((n * share, n * (1 - share)))
    return _levels(
        np.concatenate((d, n - d)), expected, float(share),
        compare_shares(d, n, d.sum() - d, n.sum() - n, confidence=confidence), rate,
    )


def compare_many_rates(
    n_events: npt.ArrayLike, exposure: npt.ArrayLike, *, rate: float = 0.05,
    confidence: float = 0.95,
) -> LevelComparison[RateComparison]:
    """Do the rates of several levels differ, and which stands out?

    Parameters
    ----------
    n_events, exposure : whole events of each level and what they are counted over, above 0; two
        levels or more
    rate, confidence : as for `compare_many_shares`

    Notes
    -----
    Overall: Poisson dispersion test, the sum of (seen - expected)^2 / expected. Each level is
    compared with the rest exactly, given the total. Errors and cautions as for
    `compare_many_shares`.

    Source
    ------
    Fisher, Thornton & MacKenzie (1922), Annals of Applied Biology 9, 325-359 (dispersion test,
    from memory).
    """
    k, over = whole_array("n_events", n_events), finite_array("exposure", exposure)
    refuse_where("exposure", over, over <= 0, "finite numbers above 0")
    _check_levels("n_events", k, "exposure", over)
    overall = k.sum() / over.sum()
    return _levels(
        k, over * overall, float(overall),
        compare_rates(k, over, k.sum() - k, _others(over), confidence=confidence), rate,
    )


def _others(over: Floats) -> Floats:
    """What all other levels have: summed without this one, so that a giant hides no dwarf."""
    before = np.concatenate(([0.0], np.cumsum(over)[:-1]))
    after = np.concatenate((np.cumsum(over[::-1])[::-1][1:], [0.0]))
    rest: Floats = before + after
    return rest


def _check_levels(name: str, counts: Floats, over_name: str, over: Floats) -> None:
    same_length(name, counts, over_name, over)
    if len(counts) < 2:
        raise ValueError(f"{name} has 1 level; a comparison needs at least 2")


def _levels(
    seen: Floats, expected: Floats, overall: float, against_rest: Comparison, rate: float
) -> LevelComparison[Comparison]:
    df = len(np.atleast_1d(against_rest.p_value)) - 1
    varies = bool((expected > 0).all())
    chi_square = float(((seen - expected) ** 2 / expected).sum()) if varies else float("nan")
    return LevelComparison(
        chi_square=chi_square, df=df, p_value=float(chdtrc(df, chi_square)),
        dispersion=chi_square / df, overall=overall, against_rest=against_rest,
        discoveries=benjamini_hochberg(against_rest.p_value, rate=rate),
        cautions=_cautions(expected, varies),
    )


def _cautions(expected: Floats, varies: bool) -> tuple[LevelCaution, ...]:
    if not varies:
        return (LevelCaution.NO_VARIATION,)
    little = expected.min() < 1 or (expected < LITTLE).mean() > SMALL_PART
    return (LevelCaution.LITTLE_EXPECTED,) if little else ()
