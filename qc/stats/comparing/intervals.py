"""Intervals for a share of pieces and for a rate of events."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import betaincinv, gammaincinv, ndtri

from qc.stats.checks import Floats, Numbers, inside_unit, refuse_where, whole_counts


class IntervalCaution(Enum):
    """What a reader must know before using an interval; the value is the sentence to show."""

    NOTHING_SEEN = "none was seen: the lower end is 0 and the estimate says little by itself"
    FEW_PIECES = "fewer than 20 pieces: the interval is wide for a reason"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ShareInterval:
    """A share with its interval; floats for scalar input, arrays for array input."""

    share: Numbers
    low: Numbers
    high: Numbers
    n_defective: Numbers
    n_inspected: Numbers
    confidence: float
    method: str
    cautions: tuple[IntervalCaution, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RateInterval:
    """Events per unit of exposure with an interval; floats or arrays as the input."""

    rate: Numbers
    low: Numbers
    high: Numbers
    n_events: Numbers
    exposure: Numbers
    confidence: float
    method: str
    cautions: tuple[IntervalCaution, ...]


def wilson_interval(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, confidence: float = 0.95
) -> ShareInterval:
    """Share of defective pieces with its score interval.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected; a number or an array
    n_inspected : whole pieces, 1 and up; a number or an array that fits
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or out of range, or confidence is outside (0, 1).

    Notes
    -----
    The ends solve |p - share| = z sqrt(p (1 - p) / n). Pieces must fail independently; a whole
    sheet spoilt at once counts as one piece.

    Source
    ------
    Wilson (1927), J. Amer. Stat. Assoc. 22, 209-212. Checked against Newcombe (1998),
    Statistics in Medicine 17, 857-872, Table I, method 3.
    """
    d, n = _share_counts(n_defective, n_inspected)
    z = ndtri(0.5 + inside_unit("confidence", confidence) / 2)
    share, square = d / n, z**2 / n
    middle = (share + square / 2) / (1 + square)
    reach = z * np.sqrt(share * (1 - share) / n + square / (4 * n)) / (1 + square)
    # at the ends one limit is exactly 0 or 1; rounding must not leave it a hair inside
    low, high = np.where(d == 0, 0.0, middle - reach), np.where(d == n, 1.0, middle + reach)
    return _share_interval(d, n, low, high, confidence, "Wilson score")


def exact_interval(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, confidence: float = 0.95
) -> ShareInterval:
    """Share of defective pieces with the interval that never covers less than it says.

    Parameters and errors as for `wilson_interval`.

    Notes
    -----
    Beta quantiles; wider than needed on average. Take it where under-coverage would hurt.

    Source
    ------
    Clopper & Pearson (1934), Biometrika 26, 404-413. Checked against Newcombe (1998), Table I,
    method 5.
    """
    d, n = _share_counts(n_defective, n_inspected)
    tail = (1 - inside_unit("confidence", confidence)) / 2
    low = np.where(d == 0, 0.0, betaincinv(np.maximum(d, 1), n - d + 1, tail))
    high = np.where(d == n, 1.0, betaincinv(d + 1, np.maximum(n - d, 1), 1 - tail))
    return _share_interval(d, n, low, high, confidence, "Clopper-Pearson exact")


def rate_interval(
    n_events: npt.ArrayLike, exposure: npt.ArrayLike, *, confidence: float = 0.95
) -> RateInterval:
    """Events per unit of exposure with the exact Poisson interval.

    Parameters
    ----------
    n_events : whole, 0 and up; a number or an array
    exposure : what the events are counted over (pieces, hours), above 0
    confidence : inside (0, 1)

    Raises
    ------
    ValueError
        A count is not whole or below 0, exposure is not above 0, or confidence is outside (0, 1).

    Notes
    -----
    Chi-square quantiles with 2k and 2k + 2 degrees of freedom, halved. Events must come
    independently at an even rate.

    Source
    ------
    Garwood (1936), Biometrika 28, 437-442.
    """
    k = whole_counts("n_events", n_events)
    over = np.asarray(exposure, dtype=np.float64)
    refuse_where("exposure", over, ~(np.isfinite(over) & (over > 0)), "numbers above 0")
    low, high = poisson_ends(k, inside_unit("confidence", confidence))
    return RateInterval(
        rate=plain(k / over), low=plain(low / over), high=plain(high / over), n_events=plain(k),
        exposure=plain(over), confidence=confidence, method="Garwood exact",
        cautions=(IntervalCaution.NOTHING_SEEN,) if (k == 0).any() else (),
    )


def poisson_ends(k: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Ends of the exact interval for the mean of a Poisson count."""
    tail = (1 - confidence) / 2
    low = np.where(k == 0, 0.0, gammaincinv(np.maximum(k, 1), tail))
    return low, np.asarray(gammaincinv(k + 1, 1 - tail))


def plain(value: npt.NDArray[np.generic]) -> Numbers:
    """A Python number for a scalar, else the array closed to writing."""
    array = np.array(value)
    if array.ndim == 0:
        return array.item()
    array.flags.writeable = False
    return array


def _share_counts(n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike) -> tuple[Floats, Floats]:
    d = whole_counts("n_defective", n_defective)
    n = whole_counts("n_inspected", n_inspected, low=1)
    d, n = np.broadcast_arrays(d, n)
    refuse_where("n_defective", d, d > n, "0 to the number inspected")
    return d, n


def _share_interval(
    d: Floats, n: Floats, low: Floats, high: Floats, confidence: float, method: str
) -> ShareInterval:
    cautions = []
    if (d == 0).any():
        cautions.append(IntervalCaution.NOTHING_SEEN)
    if (n < 20).any():
        cautions.append(IntervalCaution.FEW_PIECES)
    return ShareInterval(
        share=plain(d / n), low=plain(low), high=plain(high), n_defective=plain(d),
        n_inspected=plain(n), confidence=confidence, method=method, cautions=tuple(cautions),
    )
