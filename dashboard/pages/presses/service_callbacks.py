"""Service orders and surveys written down on the presses page."""

from __future__ import annotations

from typing import Any

import flask
from dash import ALL, Dash, Input, Output, State, ctx, no_update
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import guarded, mark, notice
from dashboard.formats import Clock, Heat
from dashboard.pages.presses.layout import chosen
from dashboard.pages.presses.service import (
    NOT_NAMED,
    PlatenService,
    delay_part,
    order_part,
    past_part,
    platen_drawing,
    service_panel,
    step_field,
)
from dashboard.text import service as service_text
from dashboard.view import PressesView, read_view
from qc.desk.entering import SurveyWritten, point_name
from qc.desk.service import OrderWanted
from qc.domain.service_words import counted_points
from qc.errors import FormError, NotFound, QcError
from reports.service_order import service_document
from reports.writing import FORMS

MARKED = ("setpoint", "when")
"""The fields of a survey's head that can be marked."""
TYPES = {".html": "text/html", ".pdf": "application/pdf", ".csv": "text/csv"}


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the service part, and the printed order at its own address."""
    _register_orders(app, answers)
    _register_surveys(app, answers)

    @app.server.route("/orders/<order_id><any('.html', '.pdf', '.csv'):form>")
    def printed(order_id: str, form: str) -> flask.Response:
        try:
            standing, pieces = answers.order(order_id)
        except NotFound:
            flask.abort(404)
        if flask.request.args.get("list") == "no":
            pieces = ()
        document = service_document(standing, pieces, shop_name=answers.shop.name,
                                    zone=answers.shop.zone, as_of_us=answers.quick_as_of_us(),
                                    heat_unit=answers.shop.settings["temperature_unit"])
        return flask.Response(FORMS[form](document), mimetype=TYPES[form])


def _register_orders(app: Dash, answers: Answers) -> None:
    @app.callback(Output("presses-service", "children"), Input("address", "search"))
    @guarded
    def show(search: str | None) -> Any:
        it = _of_address(answers, search)
        if it is None:
            return None
        if not answers.is_live:
            return notice(service_text.SERVICE_TITLE, service_text.LOOKS_BACK)
        return service_panel(it, Clock(answers.shop.zone), _heat(answers))

    @app.callback(
        Output("service-order", "children"), Output("service-said", "children"),
        Output("service-past", "children"), Output("service-delay", "children"),
        Input({"type": "service-do", "step": ALL}, "n_clicks"),
        State("service-step", "value", allow_optional=True),
        State("service-words", "value", allow_optional=True),
        State(NAME_FIELD, "value"), State("survey-of", "data"), prevent_initial_call=True,
        running=[(Output("service-order", "disabled"), True, False),
                 (Output("service-busy", "children"), service_text.WORKING, "")],
    )
    def take(clicks: list[int | None], step: str | None, words: str | None, by: str | None,
             of: list[str]) -> Any:
        if not any(clicks) or not ctx.triggered_id or not answers.is_live:
            raise PreventUpdate
        press, platen = of
        said: str | Component
        try:
            if not (by or "").strip():
                return (no_update, mark("alarm", service_text.YOUR_NAME_NEEDED),
                        no_update, no_update)
            said = _do(answers, str(ctx.triggered_id["step"]), step or "", words or "",
                       str(by), OrderWanted(press=press, platen=platen))
        except FormError as refused:
            return no_update, mark("alarm", str(refused)), no_update, no_update
        except QcError as refused:  # somebody else may have been at it: show how it stands
            said = mark("alarm", text.with_capital(f"{refused}."))
        it, clock = _service(answers, press, platen), Clock(answers.shop.zone)
        return (order_part(it, clock, _heat(answers)), said, past_part(it, clock),
                delay_part(it))

    @app.callback(
        Output("service-words", "label"), Output("service-words", "inputProps"),
        Output("service-words", "value"), Input("service-step", "value"),
        prevent_initial_call=True,
    )
    def ask(step: str) -> Any:
        field = step_field(step)
        return field["label"], field["inputProps"], field["value"]


def _do(
    answers: Answers, button: str, step: str, words: str, by: str, wanted: OrderWanted
) -> str:
    """Open an order, or carry on the open one; what to say."""
    if button == "open":
        return service_text.OPENED.format(order=answers.open_order(wanted, by=by).order_id)
    one = _service(answers, wanted.press, wanted.platen).current
    if one is None:
        raise NotFound(service_text.NO_ORDER_NOW)
    if button == "close":
        answers.service_step(one.order.order_id, "close", "", by=by)
        return service_text.CLOSED
    if not words.strip():
        raise FormError({"words": [service_text.STEP_NEEDS[step]]})
    answers.service_step(one.order.order_id, step, words, by=by)
    return service_text.TAKEN


def _register_surveys(app: Dash, answers: Answers) -> None:
    @app.callback(Output("survey-platen", "children"), Input("survey-rows", "value"),
                  Input("survey-cols", "value"), prevent_initial_call=True)
    def draw(rows: str, cols: str) -> Any:
        return platen_drawing(int(rows), int(cols), _heat(answers))

    boxes = {"type": "survey-point", "row": ALL, "col": ALL}

    @app.callback(
        output={"said": Output("survey-said", "children"),
                "order": Output("service-order", "children", allow_duplicate=True),
                "delay": Output("service-delay", "children", allow_duplicate=True),
                "news": Output("presses-news", "data"), "points": Output(boxes, "error"),
                "head": {name: Output(f"survey-{name}", "error") for name in MARKED}},
        inputs={"clicks": Input("survey-keep", "n_clicks")},
        state={
            "points": State(boxes, "value"), "places": State(boxes, "id"),
            "head": {name: State(f"survey-{name}", "value")
                     for name in ("state", "setpoint", "instrument", "when")},
            "as_read": State("survey-as-read", "checked"), "of": State("survey-of", "data"),
            "by": State(NAME_FIELD, "value"),
        },
        prevent_initial_call=True, running=[(Output("survey-keep", "disabled"), True, False)],
    )
    def keep(clicks: int | None, points: list[str | None], places: list[dict[str, int]],
             head: dict[str, str | None], as_read: bool | None, of: list[str],
             by: str | None) -> Any:
        if not clicks or not answers.is_live:
            raise PreventUpdate
        nothing = {"order": no_update, "delay": no_update, "news": no_update,
                   "points": [None] * len(places), "head": dict.fromkeys(MARKED)}
        if not (by or "").strip():
            return nothing | {"said": mark("alarm", service_text.YOUR_NAME_NEEDED)}
        written = SurveyWritten(
            press=of[0], platen=of[1], unit=answers.shop.settings["temperature_unit"],
            readings={(at["row"], at["col"]): value or ""
                      for at, value in zip(places, points, strict=True)},
            as_read=bool(as_read), **{
                name: "" if value in (None, NOT_NAMED) else str(value)
                for name, value in head.items()})
        try:
            kept = answers.enter_survey(written, by=str(by))
        except FormError as refused:
            return nothing | _marks(refused, places)
        except QcError as refused:
            return nothing | {"said": mark("alarm", text.with_capital(f"{refused}."))}
        words = service_text.KEPT_ALREADY if kept.already_there else service_text.KEPT
        n = counted_points(kept.n_points)
        said = [words.format(survey=kept.survey_id, n=n), *kept.cautions]
        it = _service(answers, *of)
        return nothing | {"said": " ".join(text.with_capital(one) for one in said),
                          "order": order_part(it, Clock(answers.shop.zone), _heat(answers)),
                          "delay": delay_part(it), "news": clicks}


def _marks(refused: FormError, places: list[dict[str, int]]) -> dict[str, Any]:
    """What is wrong in words, and marks at the boxes it is about."""
    why = "; ".join(dict.fromkeys(refused.problems))
    wrong = refused.by_field
    return {"said": mark("alarm", service_text.SURVEY_REFUSED.format(why=f"{why}.")),
            "points": [point_name(at["row"], at["col"]) in wrong for at in places],
            "head": {name: name in wrong for name in MARKED}}


def _of_address(answers: Answers, search: str | None) -> PlatenService | None:
    here = chosen(answers.health(), read_view(PressesView, search), answers.retired()["presses"])
    return None if here is None else _service(answers, here.press, here.platen)


def _service(answers: Answers, press: str, platen: str) -> PlatenService:
    orders = tuple(
        answers.order(one.order.order_id)[0] if one.order.is_open else one
        for one in answers.orders() if (one.order.press, one.order.platen) == (press, platen))
    return PlatenService(press=press, platen=platen, orders=orders,
                         survey=answers.surveys().get((press, platen)),
                         delay=answers.delays().get((press, platen), ""),
                         instruments=answers.instruments())


def _heat(answers: Answers) -> Heat:
    return Heat(answers.shop.settings["temperature_unit"])
