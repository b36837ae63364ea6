"""Shares whose usual value differs from sample to sample: limits for the work that was done."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.charts.counts import nonconforming
from qc.stats.charts.laney import sigma_z
from qc.stats.checks import Floats, finite_array, read_only, refuse_where, same_length

ENOUGH_FOR_SPREAD = 8
"""Fewer samples cannot tell more than chance from chance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MixLimits:
    """Lower and upper limit of each share, read-only; ``spread`` : widened by so much (1: not)."""

    lower: Floats
    upper: Floats
    spread: float


def mix_limits(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, usual: npt.ArrayLike, *,
    spread_of: npt.ArrayLike | None = None,
) -> MixLimits:
    """Limits of each sample's share about its own usual share.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected, one for each sample in time order
    n_inspected : whole pieces, 1 and up
    usual : share expected of each sample, 0..1, as its mix of work gives it
    spread_of : booleans, the samples whose variation widens the limits; None: all

    Raises
    ------
    ValueError
        A count is not whole or out of range, a share outside 0..1, or lengths differ.

    Notes
    -----
    u_i +- 3 s sqrt(u_i (1 - u_i) / n_i), cut at 0 and 1; s is sigma_z of the standardised shares
    where there are `ENOUGH_FOR_SPREAD`, but never below 1: a calm stretch is no reason to call the
    next ordinary day a change. Without variation in u_i these are p-prime limits.

    Source
    ------
    ISO 7870-2:2013, p chart, each sample with its own centre; Laney (2002), Quality Engineering
    14, 531-537.
    """
    d, n = nonconforming(n_defective, n_inspected)
    centre = finite_array("usual", usual)
    same_length("usual", centre, "n_inspected", n)
    refuse_where("usual", centre, (centre < 0) | (centre > 1), "shares, 0..1")
    sigma = np.sqrt(centre * (1 - centre) / n)
    judged = np.ones(len(d), dtype=bool) if spread_of is None else np.asarray(spread_of, dtype=bool)
    same_length("spread_of", judged, "n_inspected", n)
    standardised = ((d / n - centre) / np.where(sigma > 0, sigma, np.inf))[judged]
    spread = max(1.0, sigma_z(standardised)) if len(standardised) >= ENOUGH_FOR_SPREAD else 1.0
    reach = 3 * spread * sigma
    return MixLimits(
        lower=read_only(np.maximum(centre - reach, 0)),
        upper=read_only(np.minimum(centre + reach, 1)), spread=spread,
    )
