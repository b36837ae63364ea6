"""Do neighbouring points resemble each other? Then limits made for independent points mislead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import chdtrc, ndtr

from qc.stats.charts.baselines import BaselineLike, base_points, neighbours
from qc.stats.checks import Floats, finite_array, read_only, varies

MOST_JUDGED = 10_000
"""Points a chart looks at for likeness: enough to see any that matters, at no cost worth naming."""
SURE = 0.001
"""Chance of calling independent points alike in a chart's caution."""
MATTERS = 0.1
"""Likeness below this moves limits by about 5 % at most and is not worth a caution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """Lag-one autocorrelation, above 0 when neighbours are alike; ``p_value`` two-sided.

    ``r`` and ``p_value`` are nan where the values do not vary or are fewer than four.
    """

    r: float
    p_value: float
    n: int

    @property
    def matters(self) -> bool:
        """Whether charts should say so: sure enough, and large enough to move limits."""
        return bool(self.p_value < SURE and abs(self.r) >= MATTERS)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class IndependenceTest:
    """Ljung-Box test over ``n_lags`` lags; ``r`` holds their autocorrelations, read-only."""

    r: Floats
    statistic: float
    p_value: float
    n_lags: int


def autocorrelations(values: npt.ArrayLike, n_lags: int) -> Floats:
    """Autocorrelations r_1 .. r_n_lags of a series about its own mean.

    Parameters
    ----------
    values : n finite values in time order, n > n_lags, not all equal
    n_lags : 1 and up

    Raises
    ------
    ValueError
        Too few values, a lag below 1, a value that is not finite, or no variation.

    Source
    ------
    Box, Jenkins & Reinsel, Time Series Analysis, section 2.1: c_k / c_0 with divisor n.
    """
    x = finite_array("values", values, at_least=2)
    if not 1 <= n_lags < len(x):
        raise ValueError(f"n_lags is {n_lags}; it must be inside 1..{len(x) - 1}")
    _check_varied(x)
    x -= x.mean()
    return read_only(np.array([x[lag:] @ x[:-lag] for lag in range(1, n_lags + 1)]) / (x @ x))


def ljung_box(values: npt.ArrayLike, *, n_lags: int, n_fitted: int = 0) -> IndependenceTest:
    """Are all autocorrelations up to a lag zero?

    Parameters
    ----------
    values : n finite values in time order
    n_lags : lags looked at together, above n_fitted and below n
    n_fitted : parameters of a time series model whose residuals these are

    Raises
    ------
    ValueError
        As for `autocorrelations`, or n_fitted is outside 0..n_lags - 1.

    Notes
    -----
    n (n + 2) sum r_k^2 / (n - k) against chi-square with n_lags - n_fitted degrees of freedom.

    Source
    ------
    Ljung & Box (1978), Biometrika 65, 297-303.
    """
    r = autocorrelations(values, n_lags)
    if not 0 <= n_fitted < n_lags:
        raise ValueError(f"n_fitted is {n_fitted}; it must be inside 0..{n_lags - 1}")
    n = np.size(values)
    statistic = float(n * (n + 2) * (r**2 / (n - np.arange(1, n_lags + 1))).sum())
    return IndependenceTest(r=r, statistic=statistic, n_lags=n_lags,
                            p_value=float(chdtrc(n_lags - n_fitted, statistic)))


def likeness(points: Floats) -> Likeness:
    """Lag-one autocorrelation of a chart's points, judged on the first `MOST_JUDGED`.

    Notes
    -----
    Independent normal points have E r = -1 / n and var r = (n - 2)^2 / (n^2 (n - 1)) about.

    Source
    ------
    Moran (1948), Biometrika 35, 255-260 (moments, from memory).
    """
    judged = points[:MOST_JUDGED]
    n = len(judged)
    if n < 4 or not varies(judged):
        return Likeness(r=math.nan, p_value=math.nan, n=n)
    r = float(autocorrelations(judged, 1)[0])
    z = (r + 1 / n) / math.sqrt((n - 2) ** 2 / (n**2 * (n - 1)))
    return Likeness(r=r, p_value=float(2 * ndtr(-abs(z))), n=n)


def independent_part(values: npt.ArrayLike, *, baseline: BaselineLike = None) -> Floats:
    """What each value adds to what the one before let expect: residuals to be charted instead.

    Parameters
    ----------
    values : n finite values in time order, n >= 4, not all equal
    baseline : values that mean and likeness come from, at least 4; all

    Returns
    -------
    float64, n - 1 residuals e_i = (x_i - mean) - r (x_(i-1) - mean), in the unit of the data.

    Raises
    ------
    ValueError
        Fewer than four values or points in the baseline, a value that is not finite, no variation.

    Notes
    -----
    The first-order autoregressive model with r estimated as the lag-one autocorrelation. A step of
    the process shows in full in its first residual and in the share 1 - r of it afterwards.

    Source
    ------
    Alwan & Roberts (1988), J. Business & Econ. Statistics 6, 87-95; Montgomery, Introduction to
    Statistical Quality Control, charts for autocorrelated data.
    """
    x = finite_array("values", values, at_least=4)
    base = base_points(baseline, len(x))
    if base.n < 4:
        raise ValueError(f"baseline has {base.n} points; likeness of neighbours needs at least 4")
    _check_varied(x[base.at])
    x -= x[base.at].mean()
    known, at = x[base.at], neighbours(base)
    earlier = slice(at.start - 1, at.stop - 1) if isinstance(at, slice) else at - 1
    r = float(x[at] @ x[earlier]) / float(known @ known)
    return read_only(x[1:] - r * x[:-1])


def _check_varied(values: Floats) -> None:
    if not varies(values):
        raise ValueError("values are all equal; likeness of neighbours needs them to vary")


def moving_range_share(r: float) -> float:
    """Share of the real spread that moving ranges see when neighbours are alike by r.

    Parameters
    ----------
    r : lag-one autocorrelation, -1..1

    Raises
    ------
    ValueError
        r is outside -1..1.

    Notes
    -----
    Neighbours differ by a normal value of variance 2 sigma^2 (1 - r), so MR-bar / d2 estimates
    sigma sqrt(1 - r): with r = 0.5 limits are drawn at 2.1 sigma instead of 3.

    Source
    ------
    Cryer & Ryan (1990), J. Quality Technology 22, 187-192 (from memory).
    """
    if not -1 <= r <= 1:
        raise ValueError(f"r is {r:g}; it must be inside -1..1")
    return math.sqrt(1 - r)
