"""How far a measured stream must move before it is a flag, from the budget of false flags.

Every reading opens as many windows as there are starts, and every stream is looked at. How often
the largest of so many overlapping statistics crosses a limit by chance is known.
"""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc, fdtri, gammaln, ndtr

from qc.monitor.evidence import Floats

_STEP = 0.01
_X = np.arange(_STEP / 2, 40.0, _STEP)
_LIMITS = np.arange(1.5, 12.0, 0.02)


def overshoot_factor(x: Floats) -> Floats:
    """nu(x), by which a statistic looked at in steps crosses a limit less often than a smooth one.

    Source
    ------
    Siegmund & Yakir (2007), The Statistics of Gene Mapping, chapter 5 (from memory).
    """
    half = x / 2
    density = np.exp(-half * half / 2) / np.sqrt(2 * np.pi)
    return (2 / x) * (ndtr(half) - 0.5) / (half * ndtr(half) + density)


_INTEGRAL = np.r_[0.0, np.cumsum(_X * overshoot_factor(_X) ** 2) * _STEP]


def crossings_per_reading(
    limit: Floats, *, n_directions: int, least_shift: float, longest: int
) -> Floats:
    """Chance that a reading brings a first false crossing of ``limit`` (root of the statistic).

    Parameters
    ----------
    limit : above 0, root of the largest T2 over all starts
    n_directions : characteristics judged together, 1 and up
    least_shift : smallest shift that counts, in sigmas of a reading, 0 and up
    longest : readings a window may hold, 1 and up

    Notes
    -----
    b f(b) / 2 times the integral of x nu(x)^2 from b / sqrt(longest), or the least shift where
    that is larger, to b; f is the density of the root of a chi-square. Independent normal
    readings with a known mean.

    Source
    ------
    Siegmund & Venkatraman (1995), Annals of Statistics 23, 255-271, for one direction; several as
    in Siegmund, Yakir & Zhang (2011), Annals of Applied Statistics 5, 645-668 (both from memory).
    Simulated: within 10 % for one direction, 10 to 25 % too many for three.
    """
    b = np.asarray(limit, dtype=np.float64)
    log_density = (n_directions - 1) * np.log(b) - b * b / 2
    log_density -= (n_directions / 2 - 1) * np.log(2) + gammaln(n_directions / 2)
    low = np.maximum(b / np.sqrt(longest), least_shift)
    width = np.interp(b, _X + _STEP / 2, _INTEGRAL[1:]) - np.interp(
        np.minimum(low, b), _X + _STEP / 2, _INTEGRAL[1:]
    )
    rate: Floats = 0.5 * b * np.exp(log_density) * np.maximum(width, 0.02)
    return rate


def limits_of(
    chance: Floats, *, n_directions: int, least_shift: float, longest: int, degrees: float
) -> Floats:
    """Limits of T2 that a reading crosses with these chances, 0 to 1, for want of a change.

    ``degrees`` of freedom stand behind the sigma the statistic is measured with: its tail is that
    of an F and not of a chi-square.
    """
    rate = crossings_per_reading(
        _LIMITS, n_directions=n_directions, least_shift=least_shift, longest=longest
    )
    falling = np.minimum.accumulate(np.log(rate))
    b = np.interp(-np.log(chance), -falling, _LIMITS)
    tail = chdtrc(n_directions, b * b)
    limit: Floats = n_directions * fdtri(n_directions, degrees, 1.0 - tail)
    return limit
