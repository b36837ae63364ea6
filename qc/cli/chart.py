"""`qc chart`: a control chart of any table, no store needed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli.shared import Json, answer, say

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.charting import FileChart, PlottedPoint

MOST_LINES = 40
UNKNOWN_TO_US = {"ignore_unknown_options": True, "allow_extra_args": True}
"""So that an option of a chart not built yet is answered in one line, not by a usage text."""


def register(app: typer.Typer) -> None:
    """Add `qc chart`."""
    app.command("chart", context_settings=UNKNOWN_TO_US)(chart)


def _text_option(name: str, words: str, metavar: str = "COLUMN") -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def chart(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or XLSX.")],
    kind: Annotated[str, _text_option("--kind", "individuals, p, np, u, c or ewma.", "KIND")],
    value: Annotated[str | None, _text_option("--value", "Measured value.")] = None,
    subgroup: Annotated[str | None, _text_option("--subgroup", "Subgroup of each value.")] = None,
    count: Annotated[str | None, _text_option("--count", "Nonconforming or defects.")] = None,
    size: Annotated[str | None, _text_option("--size", "Inspected pieces or units.")] = None,
    centre: Annotated[float | None, typer.Option(
        help="Known centre instead of the estimate.", show_default=False)] = None,
    sigma: Annotated[float | None, typer.Option(
        help="Known standard deviation of a single value.", show_default=False)] = None,
    baseline: Annotated[str | None, _text_option(
        "--baseline", "Points the limits come from, as 1:25.", "A:B")] = None,
    limits: Annotated[str | None, _text_option(
        "--limits", "exact (default) or steady, for an EWMA.", "WHICH")] = None,
    rules: Annotated[str | None, _text_option(
        "--rules", "limits (default), western-electric or nelson.", "RULES")] = None,
    weight: Annotated[float | None, typer.Option(
        "--lambda", help="Weight of the newest point of an EWMA; default 0.2.",
        show_default=False)] = None,
    width: Annotated[float | None, typer.Option(
        help="Limits of an EWMA in its sigma; default 3.", show_default=False)] = None,
    sheet: Annotated[str | None, _text_option("--sheet", "Sheet of an XLSX.", "NAME")] = None,
    json: Json = False,
) -> None:
    """Chart a table: centre line, limits, and the points that signal a change."""
    from qc.desk.charting import ChartRequest, chart_file, checked_kind, parse_baseline
    from qc.errors import InputError

    request = ChartRequest(
        kind=kind, value=value, subgroup=subgroup, count=count, size=size, centre=centre,
        sigma=sigma, baseline=None if baseline is None else parse_baseline(baseline),
        limits=limits, rules=rules, weight=weight, width=width, sheet=sheet,
    )
    checked_kind(request)
    if context.args:
        raise InputError(f"qc chart does not know {context.args[0]!r}; see qc chart --help")
    result = chart_file(file, request)
    for caution in result.chart.cautions:
        say(f"note: {caution.value}")
    answer(result, as_json=json, to_json=_json, to_text=_text)


def _json(result: FileChart) -> dict[str, Any]:
    return {
        "kind": result.chart.kind, "source": result.chart.source, "sigma": result.chart.sigma,
        "charts": [
            {"name": chart.name, "centre": chart.centre,
             "points": [_point_json(point) for point in result.points(chart)]}
            for chart in result.chart.charts
        ],
    }


def _point_json(point: PlottedPoint) -> dict[str, Any]:
    return {"at": point.at, "label": point.label, "value": point.value, "lower": point.lower,
            "upper": point.upper, "signals": list(point.signals)}


def _text(result: FileChart, console: Console) -> None:
    for chart in result.chart.charts:
        points = list(result.points(chart))
        signalling = [point for point in points if point.signals]
        console.print(f"[bold]{chart.name}[/bold]: {len(points)} points, centre {chart.centre:.6g},"
                      f" {len(signalling)} with a signal")
        shown = points if len(points) <= MOST_LINES else signalling[:MOST_LINES]
        if shown:
            console.print(_table(shown))
        if len(points) > MOST_LINES:
            console.print(f"{len(shown)} of {len(signalling)} points with a signal shown;"
                          " --json has all points", style="dim")
    console.print(f"source: {result.chart.source}", style="dim")


def _table(points: list[PlottedPoint]) -> Any:
    from rich.table import Table

    table = Table(box=None, pad_edge=False)
    table.add_column("label")
    for heading in ("value", "lower", "upper"):
        table.add_column(heading, justify="right")
    table.add_column("signals")
    for point in points:
        table.add_row(point.label, f"{point.value:.6g}", f"{point.lower:.6g}",
                      f"{point.upper:.6g}", ", ".join(point.signals).replace("_", " "))
    return table
