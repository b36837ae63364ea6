"""Single values or subgroup means in plotted order, with the centre and sigma they rest on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import mean_of
from qc.stats.charts.baselines import Baseline, BaselineLike, BasePoints, base_points
from qc.stats.charts.chart import Caution
from qc.stats.charts.known import Known, cautions, span
from qc.stats.charts.spread import Subgroups, moving_range_sigma, subgroup_sigma, subgroups
from qc.stats.checks import Floats, finite_array


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plotted:
    """What a chart with a memory is made from.

    ``points`` : float64, single values or subgroup means in the unit of the data. ``size`` :
    float64, values in each subgroup; None for single values. ``sigma`` : standard deviation of
    a single value. ``base`` : the points estimates come from; ``baseline`` is None where nothing
    was estimated.
    """

    points: Floats
    size: Floats | None
    centre: float
    sigma: float
    base: BasePoints
    baseline: Baseline | None
    cautions: tuple[Caution, ...]

    @property
    def even(self) -> bool:
        """Whether every point rests on as many values."""
        return self.size is None or bool(np.ptp(self.size) == 0)


def plotted_means(
    values: npt.ArrayLike, subgroup: npt.ArrayLike | None, known: Known, baseline: BaselineLike
) -> Plotted:
    """Points to plot, with their centre and sigma: known, or estimated from the baseline.

    Parameters
    ----------
    values : values in time order, any unit, finite
    subgroup : label of each value's subgroup, in order of first appearance; None: single values
    known : centre, sigma of a single value, or neither
    baseline : plotted points that estimates come from; all

    Raises
    ------
    ValueError
        A value is not finite, lengths differ, the baseline does not fit, or sigma cannot be
        estimated: one point, or no subgroup of two.

    Notes
    -----
    sigma is MR-bar / d2 of single values; of subgroups R-bar / d2 (up to 10 values each) or
    s-bar / c4. The centre is the mean of all values in the baseline.
    """
    x = finite_array("values", values)
    groups = None if subgroup is None else subgroups(x, subgroup)
    points = x if groups is None else groups.mean
    base = base_points(baseline, len(points))
    centre = _mean(points, groups, base) if known.centre is None else float(known.centre)
    sigma = _sigma(points, groups, base) if known.sigma is None else float(known.sigma)
    return Plotted(
        points=points, size=None if groups is None else groups.size, centre=centre, sigma=sigma,
        base=base, baseline=span(base, known), cautions=cautions(base, known, sigma),
    )


def _mean(points: Floats, groups: Subgroups | None, base: BasePoints) -> float:
    if groups is None:
        return mean_of(points[base.at])
    return float(np.average(points[base.at], weights=groups.size[base.at]))


def _sigma(points: Floats, groups: Subgroups | None, base: BasePoints) -> float:
    if groups is None or (groups.size == 1).all():
        return moving_range_sigma(points, base)
    sigma = subgroup_sigma(groups.chosen(base))
    if np.isnan(sigma):
        raise ValueError("subgroup has one value in each subgroup of the baseline; sigma needs two")
    return sigma
