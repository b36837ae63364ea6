"""`qc chart`: a control chart of any table, no store needed."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from functools import cache
from itertools import islice
from math import isfinite
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer

from qc.cli.pictures import Picture, check_picture, put_picture
from qc.cli.shared import Json, say

if TYPE_CHECKING:
    from qc.desk.charting import FileChart, PlottedPoint

POINTS_AT_ONCE = 10_000
KIND_HELP = (
    "individuals, xbar-r, xbar-s, p, np, c, u, p-prime, u-prime, g, t, ewma, cusum, t2, mewma; for"
    " short runs deviation, standardised, q, q-p, q-u."
)
UNKNOWN_TO_US = {"ignore_unknown_options": True, "allow_extra_args": True}
"""So that an option that is not there is answered in one line, not by a usage text."""


def register(app: typer.Typer) -> None:
    """Add `qc chart`."""
    app.command("chart", context_settings=UNKNOWN_TO_US)(chart)


def _text_option(name: str, words: str, metavar: str = "COLUMN") -> Any:
    return typer.Option(name, metavar=metavar, help=words, show_default=False)


def _number_option(words: str, *names: str) -> Any:
    return typer.Option(*names, help=words, show_default=False)


Text = str | None
Number = float | None


def chart(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="CSV or XLSX.")],
    kind: Annotated[str, _text_option("--kind", KIND_HELP, "KIND")],
    value: Annotated[Text, _text_option("--value", "Measured value, or time between.")] = None,
    values: Annotated[Text, _text_option(
        "--values", "Values measured together, for t2 and mewma.", "COLUMN,...")] = None,
    subgroup: Annotated[Text, _text_option("--subgroup", "Subgroup of each value.")] = None,
    count: Annotated[Text, _text_option("--count", "Nonconforming, defects, or units between.")
                     ] = None,
    size: Annotated[Text, _text_option("--size", "Inspected pieces or units.")] = None,
    part: Annotated[Text, _text_option("--part", "Part of each value, in short runs.")] = None,
    nominal: Annotated[Text, _text_option("--nominal", "What each value should be.")] = None,
    spread: Annotated[Text, _text_option(
        "--spread", "Standard deviation of single values of each value's part.")] = None,
    within: Annotated[Text, _text_option(
        "--within", "range (default) or 'standard deviation', beside means in short runs.", "WHAT")
    ] = None,
    centre: Annotated[Number, _number_option("Known centre instead of the estimate.")] = None,
    sigma: Annotated[Number, _number_option(
        "Known standard deviation of a single value; of p-prime and u-prime sigma_z.")] = None,
    baseline: Annotated[Text, _text_option(
        "--baseline", "Points the limits come from, as 1:25.", "A:B")] = None,
    exclude: Annotated[list[str] | None, _text_option(
        "--exclude", "Leave a point out of the limits, as 6='clamp slipped'; again for more.",
        "POINT=CAUSE")] = None,
    independent: Annotated[bool, typer.Option(
        "--independent", help="Chart what each value adds to the one before, where neighbours are"
        " alike; for individuals, ewma, cusum.")] = False,
    limits: Annotated[Text, _text_option(
        "--limits", "ewma, mewma: exact (default) or steady; counts, t: sigma (default) or"
        " probability.",
        "WHICH")] = None,
    alpha: Annotated[Number, _number_option(
        "Chance of a point beyond probability limits or that of t2; default 0.0027.")] = None,
    rules: Annotated[Text, _text_option(
        "--rules", "limits (default), western-electric, nelson, or rules of your choice by name.",
        "RULES")] = None,
    weight: Annotated[Number, _number_option(
        "Weight of the newest point of an EWMA; default 0.2, for mewma 0.1.", "--lambda")] = None,
    width: Annotated[Number, _number_option(
        "Distance of the limits from the centre in sigma; default 3.")] = None,
    reference: Annotated[Number, _number_option(
        "Reference value of a CUSUM in sigma; default 0.5.")] = None,
    decision: Annotated[Number, _number_option(
        "Decision interval of a CUSUM in sigma, default 5; or the limit of mewma.")] = None,
    head_start: Annotated[Number, _number_option(
        "Head start of a CUSUM in sigma; default 0.", "--head-start")] = None,
    for_arl: Annotated[Number, _number_option(
        "Set the limits for so many points between false signals.", "--for-arl")] = None,
    sheet: Annotated[Text, _text_option("--sheet", "Sheet of an XLSX.", "NAME")] = None,
    picture: Picture = None,
    as_json: Json = False,
) -> None:
    """Chart a table: centre line, limits, and the points that signal a change."""
    from qc.desk.charting import (
        ChartRequest,
        chart_file,
        checked_kind,
        parse_baseline,
        parse_excluded,
        parse_values,
    )
    from qc.errors import InputError

    request = ChartRequest(
        kind=kind, value=value, values=None if values is None else parse_values(values),
        subgroup=subgroup, count=count, size=size, part=part, nominal=nominal, spread=spread,
        within=within, centre=centre, sigma=sigma,
        baseline=None if baseline is None else parse_baseline(baseline),
        excluded=tuple(map(parse_excluded, exclude)) if exclude else None,
        independent=independent or None, limits=limits,
        alpha=alpha, rules=rules, weight=weight, width=width, reference=reference,
        decision=decision, head_start=head_start, for_arl=for_arl, sheet=sheet,
    )
    checked_kind(request)
    if context.args:
        raise InputError(f"qc chart does not know {context.args[0]!r}; see qc chart --help")
    check_picture(picture)
    result = chart_file(file, request)
    if picture is not None:
        from reports.picture.charts.drawing import chart_sheet

        put_picture(chart_sheet(result), picture)
    _say_cautions(result)
    if as_json:
        _write_json(result, sys.stdout)
    else:
        from rich.console import Console

        from qc.cli.chart_text import write_text

        write_text(result, Console())


def _say_cautions(result: FileChart) -> None:
    for sentence in (*result.cautions, *result.notes):
        say(f"note: {sentence}")


def _write_json(result: FileChart, out: TextIO) -> None:
    """The answer piece by piece: a million points are never held as text at once."""
    chart = result.chart
    out.write(_opened(kind=chart.kind, source=chart.source, sigma=chart.sigma))
    out.write(', "charts": [')
    for k, part in enumerate(chart.charts):
        out.write((", " if k else "") + _opened(
            name=part.name, centre=part.centre if isfinite(part.centre) else None))
        out.write(', "points": [')
        points = map(_point_json, result.points(part))
        out.write(next(points, ""))
        while some := list(islice(points, POINTS_AT_ONCE)):
            out.write(", " + ", ".join(some))
        out.write("]}")
    more = _opened(baseline=_baseline(result), cautions=[*result.cautions, *result.notes],
                   change=_change(result))
    out.write("], " + more.removeprefix("{") + "}\n")


def _baseline(result: FileChart) -> dict[str, Any] | None:
    """The points the limits come from; null where centre and spread were given."""
    base = result.chart.baseline
    return None if base is None else asdict(base)


def _change(result: FileChart) -> dict[str, Any] | None:
    """First point of the new level, with its 90 % interval where there is one."""
    change = result.change
    if change is None:
        return None
    between = None if change.first is None else [change.first, change.last]
    return {"at": change.at, "between": between}


def _opened(**fields: Any) -> str:
    """A JSON object without its closing brace."""
    return json.dumps(fields, ensure_ascii=False, allow_nan=False)[:-1]


def _point_json(point: PlottedPoint) -> str:
    value, lower, upper = (_number(x) for x in (point.value, point.lower, point.upper))
    label = point.label
    label = f'"{label}"' if label.isalnum() else json.dumps(label, ensure_ascii=False)
    centre = "" if point.centre is None else f' "centre": {_number(point.centre)},'
    return (f'{{"at": {point.at}, "label": {label}, "value": {value},{centre} "lower": {lower},'
            f' "upper": {upper}, "signals": {_listed(point.signals)}}}')


@cache
def _listed(signals: tuple[str, ...]) -> str:
    return json.dumps(signals)


def _number(value: float) -> str:
    return repr(value) if isfinite(value) else "null"
