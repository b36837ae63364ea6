"""Exponentially weighted moving average: small lasting shifts of single values or subgroups."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from qc.stats.charts.baselines import BaselineLike
from qc.stats.charts.chart import ControlChart, make_chart
from qc.stats.charts.known import Known
from qc.stats.charts.plotted import plotted_means
from qc.stats.checks import Floats, positive

LIMITS = ("exact", "steady")
SOURCE = "ISO 7870-6:2016, EWMA control charts"


def ewma_chart(
    values: npt.ArrayLike, *, subgroup: npt.ArrayLike | None = None, weight: float = 0.2,
    width: float = 3.0, limits: str = "exact", centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None,
) -> ControlChart:
    """EWMA of single values or of subgroup means.

    Parameters
    ----------
    values : n values in time order, any unit, finite
    subgroup : label of each value's subgroup; subgroups are plotted in order of first appearance
    weight : lambda, weight of the newest point, inside (0, 1]
    width : distance of the limits in standard deviations of the EWMA, above 0
    limits : 'exact' (narrower at the start) or 'steady'
    centre, sigma : known values instead of estimates; sigma is of a single value, above 0
    baseline : plotted points that estimates come from, first and last or a `Baseline`; all

    Raises
    ------
    ValueError
        An argument is outside its range, named with its value; or nothing varies within
        subgroups because none has two values in the baseline.

    Notes
    -----
    z_i = weight * x_i + (1 - weight) z_(i-1), z_0 = centre. The variance follows the same
    recursion with squared weights, so limits are exact for unequal subgroup sizes too; steady
    limits take each point's own size. With weight 1 it is a chart of the points themselves.

    Source
    ------
    Roberts (1959), Technometrics 1, 239-250; ISO 7870-6:2016. Checked against Montgomery,
    Introduction to Statistical Quality Control, Table 9.10.
    """
    known = Known(centre=centre, sigma=sigma)
    _check_design(weight, width, limits)
    plot = plotted_means(values, subgroup, known, baseline)
    n, middle = len(plot.points), plot.centre
    variance = squared_weights(plot.size, n, weight, exact=limits == "exact")
    reach = width * plot.sigma * np.sqrt(variance)
    chart = make_chart("EWMA", middle, smoothed(plot.points, weight, middle),
                       carried_on(middle - reach, n), carried_on(middle + reach, n))
    return ControlChart(
        kind="ewma", source=f"{SOURCE}, {limits} limits", sigma=plot.sigma, charts=(chart,),
        baseline=plot.baseline, cautions=plot.cautions,
    )


def smoothed(points: Floats, weight: float, start: float) -> Floats:
    """The EWMA of points, beginning from ``start``."""
    value, _ = lfilter([weight], [1, weight - 1], points, zi=[(1 - weight) * start])
    smooth: Floats = value
    return smooth


def squared_weights(size: Floats | None, n_points: int, weight: float, *, exact: bool) -> Floats:
    """Variance of each EWMA value in units of a single value's; one number where it is constant.

    ``size`` : values in each subgroup, None for single values. Exact variances begin narrow and
    settle; of equal sizes only those are given that have not settled to the last digit, and the
    last one goes on.
    """
    steady = weight / (2 - weight)
    if size is not None and np.ptp(size) > 0:
        if not exact:
            return steady / size
        variance, _ = lfilter([weight**2], [1, -((1 - weight) ** 2)], 1 / size, zi=[0.0])
        uneven: Floats = variance
        return uneven
    one = steady if size is None else steady / size[0]
    return one * _settling(weight, n_points) if exact else np.array([one])


def _settling(weight: float, n_points: int) -> Floats:
    # 1 - (1 - weight)^(2 i) until it is 1 to the last bit: a power for each of ten million
    # points would cost more than the chart
    if weight == 1:
        return np.ones(1)
    n_early = min(n_points, int(np.ceil(-20 / np.log1p(-weight))) + 1)
    share: Floats = -np.expm1(2 * np.log1p(-weight) * np.arange(1, n_early + 1))
    return share


def _check_design(weight: float, width: float, limits: str) -> None:
    if not 0 < weight <= 1:
        raise ValueError(f"weight is {weight:g}; it must be inside (0, 1]")
    if limits not in LIMITS:
        raise ValueError(f"limits is {limits!r}; allowed: {', '.join(LIMITS)}")
    positive("width", width)


def carried_on(values: Floats, n_points: int) -> Floats | float:
    """As many values as there are points: the last one goes on. One value is a constant line."""
    if len(values) == 1:
        return float(values[0])
    if len(values) == n_points:
        return values
    each = np.full(n_points, values[-1])
    each[:len(values)] = values
    return each
