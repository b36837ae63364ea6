"""When the change that a stream's chart signals began, with its interval."""

from __future__ import annotations

import numpy as np

from qc.desk.chart_change import ChartChange, signalled_change
from qc.desk.stream_charts.making import Known, mean_gap, values_of
from qc.desk.stream_charts.points import CountPoints, GapPoints, Points, ValuePoints
from qc.stats.change.changepoint import StepCaution, StepEstimate, normal_step, poisson_step
from qc.stats.charts.chart import Chart, ControlChart

AFTER = ("mix", "mix-u", "p-prime", "u-prime")
"""Kinds whose points are held in their own spread, wider than chance."""


def stream_change(
    points: Points, chart: ControlChart, *, after: int, known: Known | None,
    moved: bool = False,
) -> ChartChange | None:
    """The step that explains the points since the baseline best; None where none is signalled or
    shown.

    ``after`` : number of points taken for the level before. ``known`` : frozen limits, if any.
    ``moved`` : the level is known to have moved after them, signal or not.
    """
    if chart.kind == "cusum" or chart.kind in ("t2", "mewma"):
        return signalled_change(chart, {}) if chart.kind == "cusum" else None
    marked = chart.charts[0].signalled()
    marked = marked[marked > after]
    last = len(points) if moved else int(marked[-1]) if len(marked) else after
    if last <= after:
        return None
    part = slice(after, last)
    found = _step(points, chart, part, known)
    if found is None or StepCaution.NO_STEP_SHOWN in found.cautions:
        return None
    return ChartChange(at=after + found.last_before + 1, first=after + found.low + 1,
                       last=after + found.high + 1)


def _step(
    points: Points, chart: ControlChart, part: slice, known: Known | None
) -> StepEstimate | None:
    main = chart.charts[0]
    if isinstance(points, GapPoints):
        middle = float(known["centre"]) if known else mean_gap(chart)
        if not middle > 0:
            return None
        run = points.between[part] + 1.0
        return poisson_step(np.ones(len(run)), run / (middle + 1))
    if isinstance(points, CountPoints) and chart.kind not in (*AFTER, "ewma"):
        return poisson_step(points.count[part], points.n[part] * main.centre) if (
            main.centre > 0) else None
    if chart.kind == "ewma":
        values = points.value[part, 0] if isinstance(points, ValuePoints) else None
        if values is None:
            values = values_of(points, known)[part]
        return normal_step(values, centre=main.centre, sigma=chart.sigma) if chart.sigma else None
    if not chart.sigma:
        return None
    return normal_step(_scores(main, part), centre=0.0, sigma=1.0)


def _scores(main: Chart, part: slice) -> np.ndarray:
    """Points in their own sigma: a third of the way to the upper limit."""
    centre = main.centre if main.centres is None else main.centres[part]
    with np.errstate(divide="ignore", invalid="ignore"):
        z = 3 * (main.value[part] - centre) / (main.upper[part] - centre)
    return np.nan_to_num(z, nan=0.0, posinf=0.0, neginf=0.0)
