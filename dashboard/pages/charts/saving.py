"""The chart as a file: a picture of its own, or its numbers."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import flask
from dash import Dash

from dashboard.answers import Answers
from dashboard.formats import Clock
from dashboard.pages.charts.asking import chart_of, offer, settled
from dashboard.pages.charts.panel import Shown, source_line, verdict_words
from dashboard.pages.charts.saying import COLUMNS, Reading
from dashboard.text import charts as words
from dashboard.view import ChartsView, read_view
from qc.desk.stream_charts.filed import PLACED, UNITLESS, filed
from qc.errors import QcError
from reports.cells import sound
from reports.csv import FORMULA_STARTS
from reports.picture.charts.drawing import chart_sheet
from reports.picture.sheet import Sheet
from reports.picture.writing import FORMS

TYPES = {"svg": "image/svg+xml", "png": "image/png", "csv": "text/csv"}


def register_files(app: Dash, answers: Answers) -> None:
    """The addresses of the files: as the page's own, with the form behind a dot."""

    @app.server.route("/charts/stream.<any('svg', 'png', 'csv'):form>")
    def stream_file(form: str) -> flask.Response:
        view = settled(read_view(ChartsView, flask.request.query_string.decode()), offer(answers))
        try:
            shown = Shown(found=chart_of(answers, view), view=view, scheme="light",
                          clock=Clock(answers.shop.zone))
            data = numbers(shown) if form == "csv" else FORMS[f".{form}"](sheet_of(shown))
        except QcError:
            flask.abort(404)
        return flask.Response(data, mimetype=TYPES[form])


def sheet_of(shown: Shown) -> Sheet:
    """The chart as a picture stands on paper."""
    reading = shown.reading
    suffix = COLUMNS.get(reading.symbol, "")
    together = shown.found.kind in UNITLESS
    labels = tuple(reading.short(at) for at in range(1, len(shown.found.points) + 1))
    chart = filed(shown.found, labels, name=f"value_{suffix}" if suffix else "value",
                  measures=tuple(PLACED.values()) if together else ())
    return replace(chart_sheet(replace(chart, notes=())), title=reading.title,
                   kind=words.KINDS[shown.found.kind], verdict=verdict_words(shown),
                   foot=(source_line(shown),))


def numbers(shown: Shown) -> bytes:
    """The plotted numbers in the shop's units as CSV, moments with their offset."""
    found, reading = shown.found, shown.reading
    chart = filed(found, reading.points())
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("statistic", "point", "from", "until", "pieces", "value", "centre", "lower",
                     "upper", "unit", "signals"))
    for part in chart.chart.charts:
        for one in chart.points(part):
            k = one.at - 1
            centre = part.centre if one.centre is None else one.centre
            writer.writerow([
                part.name, _safe(one.label), shown.clock.iso(int(found.points.start_us[k])),
                shown.clock.iso(int(found.points.end_us[k])), int(found.points.n[k]),
                *(_number(value) for value in (one.value, centre, one.lower, one.upper)),
                _unit(reading), ";".join(one.signals)])
    return out.getvalue().encode("utf-8-sig")


def _unit(reading: Reading) -> str:
    return "share" if reading.is_share else reading.symbol


def _number(value: float) -> str:
    return f"{value:.10g}" if value == value else ""


def _safe(label: str) -> str:
    """A label that no spreadsheet runs."""
    text = sound(label)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
