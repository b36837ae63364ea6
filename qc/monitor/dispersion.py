"""How much honest levels differ: lots, jobs, presses and people are never quite alike.

Ordinary differences between levels are not faults. Their size is estimated so that a few bad
levels do not make badness ordinary: each level may, with small probability, be an outlier.
"""

from __future__ import annotations

import numpy as np

from qc.monitor.detection import gamma_poisson_log_likelihood
from qc.monitor.effects import LEAST_MEAN
from qc.monitor.evidence import Floats

GRID_SD = np.array([*np.arange(0.05, 0.25, 0.025), *np.arange(0.25, 0.65, 0.05)])
"""Candidate between-level coefficients of variation."""

JOB_GRID_SD = np.array([*GRID_SD, 0.7, 0.8, 0.9, 1.0, 1.2, 1.4])
"""The same between jobs: there are many of them, so that a few bad ones cannot pass for ordinary
luck, and in some shops they differ by far more than presses or lots ever should."""

DEFAULT_SD = {
    "job": 0.3, "transfer_lot": 0.15, "garment_lot": 0.15, "operator": 0.15, "press": 0.15,
    "station": 0.15, "size": 0.15, "time_since_start": 0.2, "press_start": 0.25,
}
"""Where the data do not say; proposed starting values, no source."""

FITTED_SD = {"fabric": 0.9, "transfer": 0.9, "location": 0.9, "shop": 0.9}
"""Factors that the usual rates are fitted to: their levels are held against their own past, of
which hardly anything is taken as known beforehand: the rates were fitted to what is judged, also
where it went wrong. Proposed starting values, no source."""

LEAST_JOB_SD = 0.1
OUTLIER_SHARE = 0.05
JOB_OUTLIER_SHARE = 0.01
OUTLIER_SHAPE = 1.0
PRIOR_LEVELS = 6.0


def between_levels_sd(
    count: Floats, expected: Floats, other_variance: Floats, *, default: float,
    outlier_share: float = OUTLIER_SHARE, grid: Floats = GRID_SD,
) -> float:
    """Coefficient of variation between the levels of a factor.

    Parameters
    ----------
    count, expected : (levels, kinds) observed and expected faults.
    other_variance : (levels, kinds) relative variance of the expectation from other sources.
    default : used as a prior worth a handful of levels, and alone where nothing is known.
    grid : candidates.
    """
    known = expected > LEAST_MEAN
    count, expected, other = count[known], expected[known], other_variance[known]
    if count.size < 4:
        return default
    fit = _log_likelihood(count, expected, other, outlier_share, grid)
    prior = -0.5 * PRIOR_LEVELS * (np.log(grid / default)) ** 2 / 0.5
    return float(grid[int(np.argmax(fit + prior))])


def _log_likelihood(
    count: Floats, expected: Floats, other: Floats, outlier_share: float, grid: Floats
) -> Floats:
    """Of each candidate in ``grid``."""
    shape = 1.0 / (grid[:, None] ** 2 + other)
    usual = gamma_poisson_log_likelihood(count, expected, shape)
    outlier = gamma_poisson_log_likelihood(count, 2.0 * expected, OUTLIER_SHAPE)
    return np.asarray(np.logaddexp(
        np.log1p(-outlier_share) + usual, np.log(outlier_share) + outlier).sum(axis=1))
