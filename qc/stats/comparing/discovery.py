"""Many comparisons at once: which stand out when a known share of false ones is borne."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.checks import Floats, inside_unit, read_only, refuse_where


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Discoveries:
    """Adjusted p-values and which comparisons stand out, in the order given; read-only.

    ``n_compared`` counts the comparisons that had a p-value; ``adjusted`` is nan for the others.
    """

    adjusted: Floats
    stands_out: npt.NDArray[np.bool_]
    rate: float
    n_compared: int


def benjamini_hochberg(p_values: npt.ArrayLike, *, rate: float = 0.05) -> Discoveries:
    """Comparisons that stand out, of which at most ``rate`` are false on average.

    Parameters
    ----------
    p_values : one-dimensional, 0..1; nan for a comparison that could not be made
    rate : share of false discoveries to bear, inside (0, 1)

    Raises
    ------
    ValueError
        A p-value is outside 0..1 or rate outside (0, 1).

    Notes
    -----
    Holds for independent and for positively dependent comparisons.

    Source
    ------
    Benjamini & Hochberg (1995), J. Royal Stat. Soc. B 57, 289-300.
    """
    p = np.array(p_values, dtype=np.float64).reshape(-1)
    refuse_where("p_values", p, (p < 0) | (p > 1), "0..1, nan for unknown")
    known = np.flatnonzero(~np.isnan(p))
    adjusted = np.full(len(p), np.nan)
    if len(known):
        order = known[np.argsort(p[known])]
        stepped = p[order] * (len(order) / np.arange(1, len(order) + 1))
        adjusted[order] = np.minimum(np.minimum.accumulate(stepped[::-1])[::-1], 1.0)
    with np.errstate(invalid="ignore"):
        stands_out = adjusted <= inside_unit("rate", rate)
    return Discoveries(adjusted=read_only(adjusted), stands_out=read_only(stands_out), rate=rate,
                       n_compared=len(known))
