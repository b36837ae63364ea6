"""How long until a false signal, and until a stated change is seen: in points and in days."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from qc.desk.stream_charts.making import mean_gap
from qc.desk.stream_charts.points import CountPoints, GapPoints, Points
from qc.domain.instants import DAY_US
from qc.stats.charts.chart import ControlChart
from qc.stats.charts.mix import MixChart
from qc.stats.runlength.counts import count_run_length
from qc.stats.runlength.cusum import cusum_run_length
from qc.stats.runlength.ewma import ewma_run_length
from qc.stats.runlength.mewma import mewma_run_length
from qc.stats.runlength.result import RunLength
from qc.stats.runlength.shewhart import shewhart_run_length
from qc.stats.runlength.t2 import t2_run_length

NARROW = 1.05
"""Limits wider than chance by less than this are those of chance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunStatement:
    """Average points and days until a signal, by luck and after a change.

    ``change`` : what the change is, in words. ``days`` of the calendar, at the pace of these
    points. ``late`` : points within which 95 of 100 such changes are seen. ``method`` : how it was
    worked out; limits are taken as known exactly. ``size`` : of the change in the stored unit of
    a measured value, None elsewhere.
    """

    calm_points: float
    calm_days: float
    change: str
    points: float
    days: float
    late: float
    method: str
    size: float | None = None


def run_statement(
    points: Points, chart: ControlChart, kind: str, rules: str, centre: float | None = None
) -> RunStatement | None:
    """What these limits cost and find; None where it cannot be worked out.

    ``centre`` : known mean of a g chart.
    """
    try:
        calm, moved, change = _runs(points, chart, kind, rules, centre)
    except ValueError:  # a doubling would be above all pieces, or nothing was counted
        return None
    if not np.isfinite(calm.arl) or not np.isfinite(moved.arl):
        return None
    pace = days_a_point(points)
    late = next(one.points for one in moved.percentiles if one.share == 0.95)
    # after a change of a rare defect points come sooner: a run takes half as long
    faster = 0.5 if kind == "g" else 1.0
    return RunStatement(
        calm_points=calm.arl, calm_days=calm.arl * pace, change=change, points=moved.arl,
        days=moved.arl * pace * faster, late=float(late), method=moved.method,
        size=_size(points, chart, kind),
    )


def _size(points: Points, chart: ControlChart, kind: str) -> float | None:
    """One sigma of a plotted single value."""
    single = kind in ("individuals", "ewma", "cusum") and not points.stream.is_counted
    return float(chart.sigma) if single and chart.sigma else None


def days_a_point(points: Points) -> float:
    """Calendar days from one point to the next, on average."""
    if len(points) < 2:
        return float("nan")
    gone = points.start_us[-1] - points.start_us[0]
    return float(gone) / DAY_US / (len(points) - 1)


Runs = tuple[RunLength, RunLength, str]
DOUBLED = "a doubling"
ONE_SIGMA = "a shift of one sigma of a point"


def _runs(
    points: Points, chart: ControlChart, kind: str, rules: str, centre: float | None
) -> Runs:
    if isinstance(points, GapPoints):
        middle = mean_gap(chart) if centre is None else centre
        calm, moved = (
            count_run_length(factor, kind="g", centre=middle, limits="probability", rules=rules)
            for factor in (1.0, 2.0))
        return calm, moved, DOUBLED
    if isinstance(points, CountPoints):
        return _counted(points, chart, kind, rules)
    if kind in ("t2", "mewma"):
        calm, moved = (_together(kind, by, len(points.stream.measures)) for by in (0.0, 1.0))
        return calm, moved, f"{ONE_SIGMA}, in whichever direction"
    return _smooth(kind, rules, 1.0, ONE_SIGMA)


@cache
def _together(kind: str, shift: float, n_variables: int) -> RunLength:
    if kind == "t2":
        return t2_run_length(shift, n_variables=n_variables)
    return mewma_run_length(shift, n_variables=n_variables, limits="exact")


def _counted(points: CountPoints, chart: ControlChart, kind: str, rules: str) -> Runs:
    middle, size = _middle(points, chart), float(np.median(points.n))
    per_unit = points.stream.per_unit
    variance = middle if per_unit else middle * (1 - middle)
    wide = _width(chart, kind)
    shift = middle / np.sqrt(variance / size) if variance > 0 else np.nan
    if not np.isfinite(shift):
        raise ValueError("nothing was counted")
    if kind in ("ewma", "cusum") or wide > NARROW:
        return _smooth(kind, rules, shift / wide, DOUBLED)
    limits = "sigma" if kind in ("p", "u") else "probability"
    calm, moved = (
        count_run_length(by, kind="u" if per_unit else "p", centre=middle, limits=limits,
                         rules=rules, size=size if per_unit else float(round(size)))
        for by in (0.0, shift))
    return calm, moved, DOUBLED


def _middle(points: CountPoints, chart: ControlChart) -> float:
    main = chart.charts[0]
    if chart.kind in ("ewma", "cusum"):
        return float((points.usual * points.n).sum() / points.n.sum())
    return float(main.centre if main.centres is None else np.median(main.centres))


def _width(chart: ControlChart, kind: str) -> float:
    if isinstance(chart, MixChart):
        return chart.spread
    return float(chart.sigma) if kind in ("p-prime", "u-prime", "ewma", "cusum") and (
        chart.sigma) else 1.0


def _smooth(kind: str, rules: str, shift: float, change: str) -> Runs:
    if kind == "ewma":
        calm, moved = (ewma_run_length(by, limits="exact") for by in (0.0, shift))
    elif kind == "cusum":
        calm, moved = (cusum_run_length(by) for by in (0.0, shift))
    else:
        calm, moved = (shewhart_run_length(by, rules=rules) for by in (0.0, shift))
    return calm, moved, change
