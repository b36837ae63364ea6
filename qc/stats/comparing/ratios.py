"""Observed against expected: the indirectly standardised ratio."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc, gammaincc

from qc.stats.checks import Floats, Numbers, inside_unit, refuse_where, whole_counts
from qc.stats.comparing.intervals import plain, poisson_ends


class RatioCaution(Enum):
    """What a reader must know before using a ratio; the value is the sentence to show."""

    NOTHING_EXPECTED = "nothing was expected: the ratio is unknown"
    LITTLE_EXPECTED = "fewer than 5 were expected: the ratio swings widely by chance"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StandardisedRatio:
    """Observed over expected with an exact interval; floats or arrays as the input.

    ``ratio``, ``low``, ``high`` : nan where nothing was expected. ``p_value`` : two-sided, against
    a true ratio of 1.
    """

    ratio: Numbers
    low: Numbers
    high: Numbers
    p_value: Numbers
    observed: Numbers
    expected: Numbers
    confidence: float
    method: str
    cautions: tuple[RatioCaution, ...]


def standardised_ratio(
    observed: npt.ArrayLike, expected: npt.ArrayLike, *, confidence: float = 0.95
) -> StandardisedRatio:
    """Observed events over those expected from the mix, with the exact Poisson interval.

    Parameters
    ----------
    observed : whole events, 0 and up; a number or an array
    expected : events expected, 0 and up, taken as known; a number or an array that fits
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or below 0, expected is negative or not finite, or confidence is
        outside (0, 1).

    Notes
    -----
    Ends of the exact Poisson interval of ``observed`` divided by ``expected``. The p-value is
    twice the smaller tail, at most 1, so it is below 1 - confidence exactly when the interval
    leaves out 1. The uncertainty of ``expected`` is not in it; events must be independent.

    Source
    ------
    Garwood (1936), Biometrika 28, 437-442; Breslow & Day (1987), Statistical Methods in Cancer
    Research II, section 2.3 (the standardised mortality ratio), from memory.
    """
    k = whole_counts("observed", observed)
    mean = np.asarray(expected, dtype=np.float64)
    refuse_where("expected", mean, ~(np.isfinite(mean) & (mean >= 0)), "finite numbers from 0")
    k, mean = np.broadcast_arrays(k, mean)
    low, high = poisson_ends(k, inside_unit("confidence", confidence))
    divisor = np.where(mean > 0, mean, np.nan)
    return StandardisedRatio(
        ratio=plain(k / divisor), low=plain(low / divisor), high=plain(high / divisor),
        p_value=plain(_two_sided(k, mean)), observed=plain(k), expected=plain(mean),
        confidence=confidence, method="exact Poisson (Garwood), two-sided p by doubling",
        cautions=_cautions(mean),
    )


def _two_sided(k: Floats, mean: Floats) -> Floats:
    at_least = np.where(k > 0, gammainc(np.maximum(k, 1), mean), 1.0)
    at_most = gammaincc(k + 1, mean)
    p_value: Floats = np.minimum(1.0, 2 * np.minimum(at_least, at_most))
    return p_value


def _cautions(mean: Floats) -> tuple[RatioCaution, ...]:
    found = []
    if (mean == 0).any():
        found.append(RatioCaution.NOTHING_EXPECTED)
    if ((mean > 0) & (mean < 5)).any():
        found.append(RatioCaution.LITTLE_EXPECTED)
    return tuple(found)
