"""A stream's chart in the form that pictures and tables of charts take."""

from __future__ import annotations

from dataclasses import replace

from qc.desk.chart_request import ChartRequest
from qc.desk.charting import FileChart, variables_at
from qc.desk.stream_charts.chart import StreamChart
from qc.desk.stream_charts.points import ValuePoints
from qc.errors import InputError
from qc.stats.charts.chart import ControlChart
from qc.stats.charts.mewma import MewmaChart
from qc.stats.charts.multivariate import T2Chart
from qc.stats.checks import read_only

UNITLESS = ("t2", "mewma")
PLACED = {"dx_mm": "sideways (mm)", "dy_mm": "up and down (mm)", "rotation_deg": "rotation (°)"}


def filed(
    found: StreamChart, labels: tuple[str, ...], *, name: str = "", measures: tuple[str, ...] = ()
) -> FileChart:
    """The chart with its points named, in the unit the shop reads.

    ``name`` : of what is measured, with its unit as a column of a file has it; ``measures`` : the
    same of each of several values.

    Raises
    ------
    InputError
        There is no chart.
    """
    if found.chart is None:
        raise InputError(" ".join(found.missing) or "there is no chart")
    request = ChartRequest(
        kind=found.chart.kind, value=name, values=measures or None, subgroup=found.stream.step,
        rules=",".join(found.rules) or None)
    return FileChart(
        chart=in_shop_units(found), labels=labels, file="", request=request, notes=found.notes,
        cautions=found.cautions, change=found.change)


def in_shop_units(found: StreamChart) -> ControlChart:
    """The chart with its values and limits in the unit the shop reads."""
    chart = found.chart
    if chart is None:
        raise InputError("there is no chart")
    factor = scale_of(found)
    if factor == 1.0:
        return chart
    parts = tuple(
        replace(part, value=read_only(part.value * factor), lower=read_only(part.lower * factor),
                upper=read_only(part.upper * factor), centre=part.centre * factor)
        for part in chart.charts)
    return replace(chart, charts=parts)


def scale_of(found: StreamChart) -> float:
    """What a plotted value is multiplied by to be read."""
    points = found.points
    if not isinstance(points, ValuePoints) or found.kind in UNITLESS:
        return 1.0
    return points.scales[0]


def which_values(found: StreamChart, at: int) -> str:
    """Which of several values make the point at a 1-based position large; '' for one value."""
    if not isinstance(found.chart, T2Chart | MewmaChart):
        return ""
    return variables_at(found.chart, tuple(PLACED[name] for name in found.stream.measures), at)
