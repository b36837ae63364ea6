"""Performance of a characteristic of any shape, from percentiles of its distribution."""

from __future__ import annotations

import math
from dataclasses import dataclass

from qc.stats.fitting import HIGHEST, LOWEST, Fit
from qc.stats.specification import Specification


@dataclass(frozen=True, slots=True, kw_only=True)
class PercentileIndices:
    """Pp and Ppk from percentiles; nan where the limit they need does not exist.

    ``low``, ``median``, ``high``: the 0.135 %, 50 % and 99.865 % points, in the unit of the data.
    ``share_outside``: what the distribution puts beyond the limits.
    """

    distribution: str
    pp: float
    lower: float
    upper: float
    ppk: float
    low: float
    median: float
    high: float
    share_outside: float


def percentile_indices(fit: Fit, specification: Specification) -> PercentileIndices:
    """Pp and Ppk of a fitted distribution.

    Notes
    -----
    Pp = (U - L) / (X99.865 - X0.135), PpkU = (U - X50) / (X99.865 - X50),
    PpkL = (X50 - L) / (X50 - X0.135). The percentiles lie in the support of the distribution;
    with fewer than about 700 values none has been seen at either of the outer two, so that they
    rest on the shape chosen.

    Source
    ------
    ISO 22514-2, percentile method; Clements (1989), Quality Progress 22(9), 95-100.
    """
    low, median, high = (fit.quantile(share) for share in (LOWEST, 0.5, HIGHEST))
    least, most = specification.ends
    lower = math.nan if specification.lower is None else (median - least) / (median - low)
    upper = math.nan if specification.upper is None else (most - median) / (high - median)
    return PercentileIndices(
        distribution=fit.name, lower=lower, upper=upper, low=low, median=median, high=high,
        pp=(most - least) / (high - low) if specification.two_sided else math.nan,
        ppk=min(side for side in (lower, upper) if not math.isnan(side)),
        share_outside=share_outside(fit, specification),
    )


def share_outside(fit: Fit, specification: Specification) -> float:
    """What a distribution puts beyond the limits, each tail computed by itself."""
    low, high = specification.ends
    return float(fit.below(low)) + float(fit.above(high))
