"""A platen's service order, and the form to write a survey on a drawing of the platen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.attributes import named
from dashboard.components.page import name_field
from dashboard.components.states import danger, mark
from dashboard.components.tables import table
from dashboard.formats import Clock, Heat, count, in_sentence
from dashboard.text import service as service_text
from qc.domain.platens import HOT_PLATEN_CAUTION, LOCK_OUT_CAUTION, PlatenMap
from qc.domain.service import OrderStanding
from qc.domain.service_words import (
    decision_with_caution,
    found_several,
    pressed_words,
    step_words,
    survey_words,
)
from reports.pdf import MOST_ROWS

MOST_SIDE = 7
ROWS_A_PAGE = 31
"""Pieces on a page of a printed list, as a list of 1000 has them."""
USUAL_SETPOINT_C = 160.0
NOT_NAMED = "\u2013"
"""No instrument: a choice needs a value, and no code is a dash alone."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatenService:
    """All that a platen's service is drawn from: its orders, open one first; its latest survey;
    the instruments of the shop; what waiting costs, in words."""

    press: str
    platen: str
    orders: tuple[OrderStanding, ...]
    survey: PlatenMap | None
    instruments: tuple[str, ...]
    delay: str = ""

    @property
    def current(self) -> OrderStanding | None:
        """The open order."""
        return next((one for one in self.orders if one.order.is_open), None)


def service_panel(it: PlatenService, clock: Clock, heat: Heat) -> list[Component]:
    """The order, and the form for a survey."""
    return [
        html.Div([
            html.H3(service_text.SERVICE_TITLE),
            html.Div(delay_part(it), id="service-delay"),
            name_field(className="your-name"),
            html.Fieldset(order_part(it, clock, heat), id="service-order", className="order"),
            html.Div(id="service-busy", role="status", className="hint"),
            html.Div(id="service-said", role="status", className="said"),
            html.Div(past_part(it, clock), id="service-past"),
        ], className="paper case-work"),
        survey_form(it, heat),
    ]


def delay_part(it: PlatenService) -> Component | None:
    """What waiting costs, as the latest survey has it."""
    return html.P(it.delay, className="finding") if it.delay else None


def order_part(it: PlatenService, clock: Clock, heat: Heat) -> list[Component | None]:
    """The open order with what to do next; a button to make one where there is none."""
    one = it.current
    if one is None:
        return [html.P(service_text.NO_ORDER), _button("open", service_text.OPEN_ORDER)]
    order = one.order
    surveys = [("found", one.found), ("left", one.left)]
    if one.check is not None and one.check != one.left:
        surveys.append(("check", one.check))
    facts = [(service_text.SURVEY_HEADS[name],
              service_text.NOT_YET if found is None
              else in_sentence(survey_words(found, clock.zone, heat.suffix)))
             for name, found in surveys]
    if several := found_several(one):
        facts.insert(1, (service_text.FOUND_SEVERAL, several))
    if one.pressed is not None:
        facts.append((service_text.PRESSED, pressed_words(one.pressed, clock.zone)))
    return [
        html.H4(service_text.ORDER_HEAD.format(order=order.order_id)),
        mark(*service_text.STATE_TONES[one.state], large=True),
        html.P(html.Strong(one.next_step)),
        html.P(service_text.OPENED_BY.format(
            when=clock.minute(order.opened_at_us), by=order.opened_by,
            why=in_sentence(order.words)),
            className="hint"),
        html.Dl([html.Div([html.Dt(name), html.Dd(words)]) for name, words in facts],
                className="order-facts"),
        *_prints(one),
        danger(LOCK_OUT_CAUTION), _steps_form(), _close(one), _history(one, clock),
    ]


def _prints(one: OrderStanding) -> list[Component | None]:
    """The order on paper, and the pieces pressed meanwhile by themselves: they may be many."""
    order_id, n = one.order.order_id, one.pressed.n_pieces if one.pressed else 0
    on_paper = n <= MOST_ROWS
    listed = (service_text.PRINT_LIST.format(n=count(n), pages=count(-(-n // ROWS_A_PAGE)))
              if on_paper else service_text.LIST_FILE.format(n=count(n)))
    return [
        html.A(service_text.PRINT, href=f"/orders/{order_id}.pdf{'?list=no' if n else ''}",
               target="_blank", className="button do"),
        html.A(listed, href=f"/orders/{order_id}.{'pdf' if on_paper else 'csv'}", target="_blank",
               className="order-list") if n else None,
    ]


def _button(step: str, words: str, *, disabled: bool = False) -> Component:
    return html.Button(words, type="button", className="button do", disabled=disabled,
                       id={"type": "service-do", "step": step})


def _steps_form() -> Component:
    return html.Div([
        dmc.Select(id="service-step", label=service_text.STEP_LABEL, size="md", value="done",
                   allowDeselect=False, comboboxProps={"shadow": "md"},
                   data=[{"value": step, "label": words}
                         for step, words in service_text.STEPS.items()]),
        dmc.TextInput(id="service-words", size="md", **step_field("done")),
        _button("step", service_text.TAKE_STEP),
    ], className="order-step")


def step_field(step: str) -> dict[str, Any]:
    """What the field of a step is called and takes."""
    kind = "date" if step == "due" else "text"
    return {"label": service_text.STEP_WORDS[step], "value": "",
            "inputProps": {"type": kind, "autoComplete": "name" if step == "owner" else "off"}}


def _close(one: OrderStanding) -> Component:
    return _button("close", service_text.CLOSE_ORDER, disabled=one.state != "ready")


def _history(one: OrderStanding, clock: Clock) -> Component | None:
    if len(one.order.steps) < 2:
        return None
    rows = [html.Li([html.Time(clock.minute(step.at_us)), html.Strong(step.by),
                     html.Span(step_words(step, clock.zone))])
            for step in reversed(one.order.steps[1:])]
    return html.Div([html.H4(service_text.STEPS_TITLE), html.Ol(rows, className="case-log")])


def past_part(it: PlatenService, clock: Clock) -> Component | None:
    """The orders that are closed."""
    past = [one for one in it.orders if not one.order.is_open]
    if not past:
        return None
    rows = []
    for one in past:
        tone, words = service_text.STATE_TONES[one.state]
        rows.append((
            html.A(one.order.order_id, href=f"/orders/{one.order.order_id}.pdf", target="_blank"),
            clock.day(one.order.opened_at_us), mark(tone, words),
            decision_with_caution(one.found) if one.found else service_text.NOT_YET,
            decision_with_caution(one.left) if one.left else service_text.NOT_YET,
            in_sentence(one.order.words)))
    title = service_text.PAST_TITLE.format(n=len(past))
    return html.Details([html.Summary(title),
                         table(service_text.PAST_HEADS, rows, label=title)],
                        className="numbers folded")


def survey_form(it: PlatenService, heat: Heat) -> Component:
    """The readings of a survey on a drawing of the platen, with the cautions beside it."""
    one, waits = it.current, ("find", "found_few", "leave", "check", "check_few", "order_wrong")
    rows, cols = (3, 3) if it.survey is None else it.survey.error_c.shape
    setpoint = USUAL_SETPOINT_C if it.survey is None else it.survey.setpoint_c
    state = "routine" if one is None else (
        "as_found" if one.found is None or one.state == "found_few" else "as_left")
    used = None if it.survey is None else it.survey.instrument
    sizes = [{"value": str(n), "label": str(n)} for n in range(1, MOST_SIDE + 1)]
    return html.Details([
        html.Summary(service_text.SURVEY_TITLE),
        html.P(service_text.SURVEY_LEAD, className="hint"), danger(HOT_PLATEN_CAUTION),
        html.Div([
            dmc.Select(id="survey-state", label=service_text.STATE, size="md", value=state,
                       allowDeselect=False, data=[
                           {"value": code, "label": words}
                           for code, words in text.SURVEY_STATES.items()]),
            dmc.TextInput(id="survey-setpoint", size="md",
                          label=service_text.SETPOINT.format(unit=heat.symbol),
                          value=heat.plain(setpoint), inputProps={"inputMode": "decimal"}),
            dmc.Select(id="survey-instrument", label=service_text.INSTRUMENT, size="md",
                       value=used if used in it.instruments else NOT_NAMED,
                       allowDeselect=False, data=[
                           {"value": NOT_NAMED, "label": service_text.NO_INSTRUMENT},
                           *({"value": code, "label": code} for code in it.instruments)]),
            dmc.TextInput(id="survey-when", label=service_text.WHEN, size="md",
                          placeholder=service_text.WHEN_HINT),
            dmc.Select(id="survey-rows", label=service_text.ROWS, size="md", data=sizes,
                       value=str(rows), allowDeselect=False),
            dmc.Select(id="survey-cols", label=service_text.COLUMNS, size="md", data=sizes,
                       value=str(cols), allowDeselect=False),
        ], className="survey-head"),
        html.Div(platen_drawing(rows, cols, heat), id="survey-platen"),
        dmc.Checkbox(id="survey-as-read", label=service_text.AS_READ, size="md"),
        html.Button(service_text.SAVE_SURVEY, type="button", id="survey-keep",
                    className="button do"),
        html.Div(id="survey-said", role="status", className="said"),
        dcc.Store(id="survey-of", data=[it.press, it.platen]),
    ], className="paper case-work survey", id="survey-form",
        open=it.survey is None or (one is not None and one.state in waits))


def platen_drawing(rows: int, cols: int, heat: Heat) -> list[Component]:
    """A platen with a box for each point, seen by the operator."""
    boxes = [
        dmc.TextInput(
            id={"type": "survey-point", "row": row, "col": col}, className="survey-point",
            size="md", inputProps={"inputMode": "decimal", "autoComplete": "off"},
            **named(service_text.POINT.format(row=row, col=col, unit=heat.symbol)))
        for row in range(1, rows + 1) for col in range(1, cols + 1)
    ]
    return [
        html.P(text.FAR, className="edge-word"),
        html.Div(boxes, className="survey-platen",
                 style={"gridTemplateColumns": f"repeat({cols}, minmax(3.2rem, 1fr))"}),
        html.P(text.OPERATOR_STANDS, className="edge-word"),
    ]
