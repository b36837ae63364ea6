"""Was a process stable while its values were taken? A quick look, as a chance under stability."""

from __future__ import annotations

import math

import numpy as np
from scipy.special import bdtrc, fdtrc

from qc.stats.charts.baselines import base_points
from qc.stats.charts.spread import Subgroups, moving_range_sigma
from qc.stats.checks import Floats

BEYOND = 0.0027
"""Share of a stable normal process beyond three sigma."""

SURE = 0.01
"""A chance below this says that the process was not stable."""


def beyond_p_value(values: Floats) -> float:
    """Chance of as many single values beyond mean +- 3 MR-bar / d2, or more; 1 if there is none.

    Values are normal and in time order, at least 2. What the individuals chart of all of them
    would signal, judged by how many signals so many values bring anyway.
    """
    sigma = moving_range_sigma(values, base_points(None, len(values)))
    n_beyond = int(np.count_nonzero(np.abs(values - values.mean()) > 3 * sigma))
    return float(bdtrc(n_beyond - 1, len(values), BEYOND)) if n_beyond else 1.0


def between_p_value(groups: Subgroups) -> float:
    """Chance of subgroup means as far apart, or farther: one-way analysis of variance.

    nan with one subgroup, or without variation within them.
    """
    n, k = float(groups.size.sum()), len(groups.size)
    within = float(np.nansum((groups.size - 1) * groups.deviation**2))
    if k < 2 or within == 0:
        return math.nan
    mean = float((groups.size * groups.mean).sum()) / n
    between = float((groups.size * (groups.mean - mean) ** 2).sum())
    return float(fdtrc(k - 1, n - k, (between / (k - 1)) / (within / (n - k))))
