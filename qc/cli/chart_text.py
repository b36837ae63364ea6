"""The answer of `qc chart` for people: what stands out, in a short table."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.charting import Baseline, Chart, ChartChange, FileChart, PlottedPoint

MOST_LINES = 40


def write_text(result: FileChart, console: Console) -> None:
    """Every chart with its points, or of a long one the points that signal."""
    for chart in result.chart.charts:
        n, marked = len(chart.value), int(np.count_nonzero(chart.signals))
        console.print(f"[bold]{chart.name}[/bold]: {n} points, {_centre(chart)}, {marked} with a"
                      " signal")
        wanted = result.points(chart) if n <= MOST_LINES else (
            point for point in result.points(chart) if point.signals)
        shown = list(islice(wanted, MOST_LINES))
        if shown:
            console.print(_table(shown))
        if n > MOST_LINES and marked:
            console.print(f"{len(shown)} of {marked} points with a signal shown; --json has all"
                          " points", style="dim")
    base = result.chart.baseline
    if base is not None:
        console.print(_baseline(result, base), markup=False)
    if result.change is not None:
        console.print(_change(result, result.change), markup=False)
    for line in result.details():
        console.print(line, markup=False)
    console.print(f"source: {result.chart.source}", style="dim", markup=False)


def _baseline(result: FileChart, base: Baseline) -> str:
    first, last = result.name_of(base.first), result.name_of(base.last)
    left = "; ".join(f"{result.name_of(out.at)} ({out.reason})" for out in base.excluded)
    return f"limits come from points {first} to {last}" + (f", without {left}" if left else "")


def _centre(chart: Chart) -> str:
    if chart.centres is None:
        return f"centre {chart.centre:.6g}"
    return f"centre {chart.centres.min():.6g} to {chart.centres.max():.6g} by size"


def _change(result: FileChart, change: ChartChange) -> str:
    sure = ""
    if change.first is not None and change.last is not None:
        first, last = result.name_of(change.first), result.name_of(change.last)
        sure = " (90 % sure)" if first == last else f" (90 % between {first} and {last})"
    return f"the change most likely began at {result.name_of(change.at)}{sure}"


def _table(points: list[PlottedPoint]) -> Any:
    from rich.markup import escape
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    table.add_column("label")
    for heading in ("value", "lower", "upper"):
        table.add_column(heading, justify="right")
    table.add_column("signals")
    for point in points:
        table.add_row(escape(point.label), *map(_figure, (point.value, point.lower, point.upper)),
                      ", ".join(point.signals).replace("_", " "))
    return table


def _figure(value: float) -> str:
    return "-" if value != value else f"{value:.6g}"
