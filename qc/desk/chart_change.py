"""When the change that a chart of a file signals began."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from qc.stats.change.changepoint import (
    StepCaution,
    StepEstimate,
    binomial_step,
    normal_step,
    poisson_step,
)
from qc.stats.charts.chart import ControlChart
from qc.stats.charts.cusum import CusumChart, cusum_changes


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartChange:
    """The step that explains the points best, up to the last one that signals.

    ``at`` : first point (1-based) of the new level. ``first``, ``last`` : 90 % interval of it;
    None where the chart dates a change without one.
    """

    at: int
    first: int | None = None
    last: int | None = None


def signalled_change(
    chart: ControlChart, given: dict[str, Any], *, width: float = 3.0
) -> ChartChange | None:
    """When the change began; None where none is signalled or shown, or not for this kind.

    ``given`` : the columns the chart was made from. ``width`` : of the limits, in sigma. Points up
    to the end of the baseline are taken for the level before, so that a chart whose limits come
    from all its points has no change to date: its centre lies between the levels.
    """
    start = 0 if chart.baseline is None else chart.baseline.last
    if isinstance(chart, CusumChart):
        return _by_the_sums(chart, start)
    marked = chart.charts[0].signalled()
    marked = marked[marked > start]
    if not len(marked) or np.isnan(chart.charts[0].centre):
        return None
    estimate = _step(chart, given, slice(start, int(marked[-1])), width)
    if estimate is None or StepCaution.NO_STEP_SHOWN in estimate.cautions:
        return None
    return ChartChange(at=start + estimate.last_before + 1, first=start + estimate.low + 1,
                       last=start + estimate.high + 1)


def _by_the_sums(chart: CusumChart, start: int) -> ChartChange | None:
    """The first change that the sums signal after the baseline: they began to grow there."""
    found = [change for change in cusum_changes(chart) if change.signalled_at > start]
    return ChartChange(at=found[0].last_before + 1) if found else None


def _step(
    chart: ControlChart, given: dict[str, Any], part: slice, width: float
) -> StepEstimate | None:
    main, sigma = chart.charts[0], chart.sigma
    centre = main.centre
    if chart.kind in ("individuals", "ewma") and sigma and "subgroup" not in given:
        return normal_step(given["values"][part], centre=centre, sigma=sigma)
    if chart.kind in ("xbar-r", "xbar-s") and sigma:
        error = (main.upper[part] - centre) / width
        return normal_step((main.value[part] - centre) / error, centre=0.0, sigma=1.0)
    if chart.kind in ("p", "np") and centre > 0:
        n = given["n_inspected"][part]
        share = centre if chart.kind == "p" else centre / float(n[0])
        return binomial_step(given["n_defective"][part], n, before=share) if share < 1 else None
    if chart.kind in ("c", "u") and centre > 0:
        events = given["n_defects"][part]
        size = np.ones(len(events)) if chart.kind == "c" else given["n_units"][part]
        return poisson_step(events, size * centre)
    return None
