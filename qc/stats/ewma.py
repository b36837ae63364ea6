"""Exponentially weighted moving average: small lasting shifts of single values or subgroups."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter

from qc.stats.baselines import BaselineLike, BasePoints, base_points
from qc.stats.charts import ControlChart, make_chart
from qc.stats.checks import Floats, finite_array, positive
from qc.stats.known import Known, cautions, span
from qc.stats.spread import Subgroups, moving_range_sigma, subgroup_sigma, subgroups

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
    values : n values in time order, any unit, finite, n >= 2
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
    x = finite_array("values", values, at_least=2)
    known = Known(centre=centre, sigma=sigma)
    if not 0 < weight <= 1:
        raise ValueError(f"weight is {weight:g}; it must be inside (0, 1]")
    if limits not in LIMITS:
        raise ValueError(f"limits is {limits!r}; allowed: {', '.join(LIMITS)}")
    groups = None if subgroup is None else subgroups(x, subgroup)
    points = x if groups is None else groups.mean
    base = base_points(baseline, len(points))
    middle = _mean(x, groups, base) if centre is None else centre
    spread = _sigma(x, groups, base) if sigma is None else sigma
    relative = _relative_deviation(points, groups, weight, exact=limits == "exact")
    reach = positive("width", width) * spread * relative
    chart = make_chart("EWMA", middle, smoothed(points, weight, middle),
                       middle - reach, middle + reach)
    return ControlChart(
        kind="ewma", source=f"{SOURCE}, {limits} limits", sigma=float(spread), charts=(chart,),
        baseline=span(base, known), cautions=cautions(base, known, spread),
    )


def smoothed(points: Floats, weight: float, start: float) -> Floats:
    """The EWMA of points, beginning from ``start``."""
    value, _ = lfilter([weight], [1, weight - 1], points, zi=[(1 - weight) * start])
    smooth: Floats = value
    return smooth


def _relative_deviation(
    points: Floats, groups: Subgroups | None, weight: float, *, exact: bool
) -> Floats | float:
    """Standard deviation of each EWMA value in units of a single value's sigma."""
    steady = weight / (2 - weight)
    if exact and groups is not None and np.ptp(groups.size) > 0:
        variance, _ = lfilter([weight**2], [1, -((1 - weight) ** 2)], 1 / groups.size, zi=[0.0])
        uneven: Floats = np.sqrt(variance)
        return uneven
    scale = 1.0 if groups is None else 1 / groups.size
    if not exact:
        return np.sqrt(steady * scale)
    return np.sqrt(steady * scale * _settled(weight, len(points)))


def _settled(weight: float, n: int) -> Floats:
    # 1 - (1 - weight)^(2 i) by a running product until it is 1 to the last bit: a power for each
    # of ten million points would cost more than the chart
    share = np.ones(n)
    if weight < 1:
        n_early = min(n, int(np.ceil(-20 / np.log1p(-weight))) + 1)
        share[:n_early] = -np.expm1(2 * np.log1p(-weight) * np.arange(1, n_early + 1))
    return share


def _mean(x: Floats, groups: Subgroups | None, base: BasePoints) -> float:
    if groups is None:
        return float(x[base.at].mean())
    return float(np.average(groups.mean[base.at], weights=groups.size[base.at]))


def _sigma(x: Floats, groups: Subgroups | None, base: BasePoints) -> float:
    if groups is None or (groups.size == 1).all():
        return moving_range_sigma(x if groups is None else groups.mean, base)
    sigma = subgroup_sigma(groups.chosen(base))
    if np.isnan(sigma):
        raise ValueError("subgroup has one value in each subgroup of the baseline; sigma needs two")
    return sigma
