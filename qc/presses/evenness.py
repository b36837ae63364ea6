"""How sure a measured spread is: hottest less coldest of points that each scatter."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

Floats = npt.NDArray[np.float64]

NODES = 400
REACH = 6.0
_SQRT_TWO_PI = math.sqrt(2 * math.pi)


def spread_uncertainty(point_sigma_c: float) -> float:
    """Standard uncertainty of the difference of two points, degC.

    Each scatters by itself; what the probe is off at all of them drops out of the difference.
    """
    return math.sqrt(2) * point_sigma_c


def spread_risk(error_c: Floats, point_sigma_c: float, tolerance_c: float) -> float:
    """Chance that the true hottest less the true coldest point is beyond a tolerance.

    Parameters
    ----------
    error_c : errors of the points of one survey, degC, two or more; point_sigma_c : standard
        deviation of one point, above 0; tolerance_c : 0 or above

    Notes
    -----
    The hottest and the coldest of points that scatter lie farther apart than the true ones: they
    were picked for it. So the true points are taken to be spread normally about their mean, as wide
    as the measured ones less the scatter; each measured point is drawn in by that much, and the
    range of what is left is integrated. A probe that is off by the same at every point changes
    nothing.

    Source
    ------
    Shrinking: Efron & Morris (1973), J. Amer. Stat. Assoc. 68, 117-130. Range of unlike normal
    variables: sum over which of them is the lowest.
    """
    centred = error_c - error_c.mean()
    noise = point_sigma_c**2
    true = max(float(centred.var(ddof=1)) - noise, 0.0)
    kept = true / (true + noise)
    if kept == 0:
        return 0.0
    return 1.0 - _range_below(kept * centred, point_sigma_c * math.sqrt(kept), tolerance_c)


def _range_below(mean: Floats, sigma: float, width: float) -> float:
    """Chance that independent normals of one sigma lie within a width of each other."""
    low = np.linspace(mean.min() - REACH * sigma, mean.max() + REACH * sigma, NODES)[:, None]
    from_low = (low - mean) / sigma
    density = np.exp(-from_low**2 / 2) / (sigma * _SQRT_TWO_PI)
    above = np.maximum(ndtr((low + width - mean) / sigma) - ndtr(from_low), 1e-300)
    others = np.exp(np.log(above).sum(axis=1, keepdims=True) - np.log(above))
    chance = float(np.trapezoid((density * others).sum(axis=1), low[:, 0]))
    return min(max(chance, 0.0), 1.0)
