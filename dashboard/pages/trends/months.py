"""The months as documents: which there are, and each at its own address."""

from __future__ import annotations

import flask
from dash import Dash, Input, Output, html
from dash.development.base_component import Component

from dashboard.answers import Answers
from dashboard.components.attributes import named
from dashboard.components.states import guarded
from dashboard.text import trends as words
from qc.desk.case_list import CaseEntry
from qc.desk.month_record import MonthKnown, month_record
from qc.domain.days import month_period, parse_month
from qc.domain.instants import from_us
from qc.errors import InputError
from reports.month_record import month_document
from reports.writing import FORMS

TYPES = {"pdf": "application/pdf",
         "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}
N_MONTHS = 3


def months_line() -> Component:
    """Where the months are offered."""
    return html.P(id="trends-months", className="hint months")


def register_months(app: Dash, answers: Answers) -> None:
    """The line of months, and the address of every month."""

    @app.callback(Output("trends-months", "children"), Input("address", "search"))
    @guarded
    def show_months(_search: str | None) -> list[object]:
        return [words.MONTHS, *(part for start_us in _starts(answers)
                                for part in _links(start_us, answers))]

    @app.server.route("/months/<month>.<any('pdf', 'xlsx'):form>")
    def month_file(month: str, form: str) -> flask.Response:
        shop, now_us = answers.shop, answers.quick_as_of_us()
        try:
            record = month_record(shop, moment_us=parse_month(month, shop.zone), as_of_us=now_us,
                                  known=_known(answers))
        except InputError:
            flask.abort(404)
        document = month_document(record, shop_name=shop.name, zone=shop.zone)
        return flask.Response(FORMS[f".{form}"](document), mimetype=TYPES[form], headers={
            "Content-Disposition": f'inline; filename="{month}.{form}"'})


def _known(answers: Answers) -> MonthKnown:
    """Flags and checks of cases as the other pages show them: nothing is scanned anew."""
    now_us = answers.quick_as_of_us()
    cases = tuple(CaseEntry(case=case, check=answers.check(name),
                            is_overdue=case.is_overdue(now_us))
                  for name, case in answers.cases().items())
    return MonthKnown(flags=answers.flags().flags, cases=cases)


def _starts(answers: Answers) -> list[int]:
    """The month that is going on, and those before it."""
    start_us, _ = month_period(answers.quick_as_of_us(), answers.shop.zone)
    starts = [start_us]
    while len(starts) < N_MONTHS:
        starts.append(month_period(starts[-1] - 1, answers.shop.zone)[0])
    return starts


def _links(start_us: int, answers: Answers) -> list[object]:
    start = from_us(start_us, answers.shop.zone)
    name, code = f"{start:%B %Y}", f"{start:%Y-%m}"
    return [" ", html.Span([name, *(
        link for form, said in (("pdf", words.MONTH_PDF), ("xlsx", words.MONTH_XLSX))
        for link in (" ", html.A(said, href=f"/months/{code}.{form}", target="_blank",
                                 **named(f"{name}, {said}"))))], className="month")]
