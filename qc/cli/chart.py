"""`qc chart`: a control chart of any table, no store needed."""

from __future__ import annotations

import json
import sys
from itertools import islice
from math import isfinite
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer

from qc.cli.shared import Json, say

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.charting import FileChart, PlottedPoint

MOST_LINES = 40
POINTS_AT_ONCE = 10_000
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
    picture: Annotated[str | None, _text_option(
        "--picture", "Write a picture too: .svg, .png or .html by the ending.", "FILE")] = None,
    as_json: Json = False,
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
    if picture is not None:
        _check_picture(picture)
    result = chart_file(file, request)
    if picture is not None:
        _write_picture(result, picture)
    for caution in result.chart.cautions:
        say(f"note: {caution.value}")
    if as_json:
        _write_json(result, sys.stdout)
    else:
        from rich.console import Console

        _text(result, Console())


def _check_picture(place: str) -> None:
    """Say what is wrong with the place of the picture before a large file is read."""
    from reports.picture.writing import check_picture_place

    check_picture_place(place)


def _write_picture(result: FileChart, place: str) -> None:
    from reports.picture.writing import write_picture

    say(f"picture: {write_picture(result, place)}")


def _write_json(result: FileChart, out: TextIO) -> None:
    """The answer piece by piece: a million points are never held as text at once."""
    chart = result.chart
    out.write(_opened(kind=chart.kind, source=chart.source, sigma=chart.sigma))
    out.write(', "charts": [')
    for k, part in enumerate(chart.charts):
        out.write((", " if k else "") + _opened(name=part.name, centre=part.centre))
        out.write(', "points": [')
        points = map(_point_json, result.points(part))
        out.write(next(points, ""))
        while some := list(islice(points, POINTS_AT_ONCE)):
            out.write(", " + ", ".join(some))
        out.write("]}")
    out.write("]}\n")


def _opened(**fields: Any) -> str:
    """A JSON object without its closing brace."""
    return json.dumps(fields, ensure_ascii=False, allow_nan=False)[:-1]


def _point_json(point: PlottedPoint) -> str:
    value, lower, upper = (_number(x) for x in (point.value, point.lower, point.upper))
    signals = ", ".join(f'"{name}"' for name in point.signals)
    label = json.dumps(point.label, ensure_ascii=False)
    return (f'{{"at": {point.at}, "label": {label}, "value": {value}, "lower": {lower},'
            f' "upper": {upper}, "signals": [{signals}]}}')


def _number(value: float) -> str:
    return repr(value) if isfinite(value) else "null"


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
