"""What the charts answer to: the address alone; questions and buttons only write the address."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, no_update, set_props
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import guarded
from dashboard.formats import Clock
from dashboard.pages.charts.asking import (
    ONLY_LIMITS,
    asked_of,
    chart_of,
    flags_of,
    left_out,
    left_out_within,
    not_here,
    offer,
    settled,
    stream_of,
    with_left_out,
)
from dashboard.pages.charts.body import body, empty_body
from dashboard.pages.charts.layout import ANY, CHOICES, options
from dashboard.pages.charts.panel import Shown
from dashboard.pages.charts.saving import register_files
from dashboard.text import charts as words
from dashboard.view import ChartsView, address, read_view
from qc.desk.stream_charts.choices import Offered
from qc.desk.stream_charts.freezing import freeze_limits, period_of
from qc.domain.instants import DAY_US, parse_instant
from qc.errors import QcError


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the page."""
    _register_questions(app, answers)
    _register_body(app, answers)
    _register_limits(app, answers)
    _register_freezing(app, answers)
    register_files(app, answers)


def _register_questions(app: Dash, answers: Answers) -> None:
    @app.callback(
        *(Output(f"charts-{name}", "data") for name in CHOICES),
        *(Output(f"charts-{name}-box", "hidden") for name in CHOICES),
        Output("charts-of", "label"), Output("charts-whole", "data"),
        Input("address", "search"), State("address", "pathname"),
    )
    def offer_choices(search: str | None, path: str | None) -> tuple[Any, ...]:
        _only_here(path)
        there = offer(answers)
        whole = settled(read_view(ChartsView, search), there)
        lists = options(stream_of(whole), there)
        data = [[{"value": value, "label": name} for value, name in lists[each]]
                for each in CHOICES]
        hidden = [not lists[each] or (each in ("by", "step", "platen") and len(lists[each]) < 2)
                  for each in CHOICES]
        values = {name: getattr(whole, name) or ANY for name in CHOICES}
        return (*data, *hidden, words.OF_LABELS[whole.what], {"of": search, "values": values})

    # in the browser itself, at once: an answer that came late could undo a newer choice
    app.clientside_callback(
        ClientsideFunction("charts", "follow"),
        Output("charts-followed", "data"), Input("address", "search"),
    )
    app.clientside_callback(
        ClientsideFunction("charts", "complete"),
        Output("charts-followed", "data", allow_duplicate=True), Input("charts-whole", "data"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        *(Input(f"charts-{name}", "value") for name in CHOICES),
        State("address", "search"), State("address", "pathname"), prevent_initial_call=True,
    )
    def choose(*given: str | None) -> str:
        *values, search, path = given
        _only_here(path)
        there = offer(answers)
        view = settled(read_view(ChartsView, search), there)
        whole = chosen_view(view, dict(zip(CHOICES, values, strict=True)), there)
        if address(whole) == address(view):
            raise PreventUpdate
        return address(whole)


def _only_here(path: str | None) -> None:
    """An address of another page says nothing to this one, though it still stands for a moment."""
    if path is not None and not path.startswith("/charts"):
        raise PreventUpdate


def chosen_view(
    view: ChartsView, values: dict[str, str | None], there: Offered
) -> ChartsView:
    """A settled view with the choices made; another stream begins without what was said of the
    last."""
    clean = {name: "" if value in (None, ANY) else str(value) for name, value in values.items()}
    if clean["what"] not in words.SUBJECTS:
        raise PreventUpdate
    chosen = read_view(ChartsView, address(view, **clean))
    whole = settled(chosen, there)
    if stream_of(whole) == stream_of(view):
        return settled(read_view(ChartsView, address(view, period=whole.period)), there)
    fresh = {"kind": "", "rules": "", "base": "", "out": "", "frozen": ""}
    return settled(read_view(ChartsView, address(chosen, **fresh)), there)


def _register_body(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("charts-body", "children"), Input("address", "search"), Input("scheme", "data"),
        State("address", "pathname"),
    )
    @guarded
    def show(search: str | None, scheme: str | None, path: str | None) -> Component:
        _only_here(path)
        if scheme is None:
            raise PreventUpdate
        return shown_body(answers, search, scheme)

    # apart from the one above, which would wait for what is slow
    @app.callback(
        Output("charts-body", "children", allow_duplicate=True),
        Input("charts-on-page", "data"), State("address", "search"), State("scheme", "data"),
        State("address", "pathname"), prevent_initial_call=True,
    )
    @guarded
    def redraw(on_page: str | None, search: str | None, scheme: str | None,
               path: str | None) -> Any:
        _only_here(path)
        view = settled(read_view(ChartsView, search), offer(answers))
        mark = shown_of(answers, view, "light").flags_mark
        if on_page is None or mark == on_page:
            raise PreventUpdate
        if mark == "none" and not on_page:
            for name in ("charts-unlooked", "charts-freeze-unlooked"):
                set_props(name, {"children": ""})
            set_props("charts-cases", {"children": words.CASES_NONE})
            return no_update  # nothing changes in the chart: what is being written stays
        return shown_body(answers, search, scheme or "light")

    # what is slow begins when the chart is there: it would keep the browser's libraries waiting
    app.clientside_callback(
        ClientsideFunction("charts", "drawn"), Output("charts-followed", "data",
                                                      allow_duplicate=True),
        Input("charts-body", "children"), prevent_initial_call=True,
    )

    # the browser asks once at a time, and then what it has on the page is held against the answer
    @app.callback(
        Output("charts-flags-ready", "data"), Input("charts-drawn", "data"),
        prevent_initial_call=True,
    )
    def look_for_cases(drawn: int | None) -> int:
        if not drawn:
            raise PreventUpdate
        answers.flags()
        return drawn

    app.clientside_callback(
        ClientsideFunction("charts", "looked"), Output("charts-on-page", "data"),
        Input("charts-flags-ready", "data"), prevent_initial_call=True,
    )


def shown_body(answers: Answers, search: str | None, scheme: str) -> Component:
    """All below the questions."""
    there = offer(answers)
    if there.is_empty:
        return empty_body()
    whole = settled(read_view(ChartsView, search), there)
    shown = replace(shown_of(answers, whole, scheme), not_here=not_here(search, whole))
    return body(shown, can_freeze=answers.is_live)


def shown_of(answers: Answers, view: ChartsView, scheme: str) -> Shown:
    """What a settled view shows, with the flags as far as they are known."""
    return Shown(found=chart_of(answers, view), view=view, scheme=scheme,
                 clock=Clock(answers.shop.zone), flags=flags_of(answers, view))


def _register_limits(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("address", "search", allow_duplicate=True), Input("charts-rules", "value"),
        State("address", "search"), State("address", "pathname"), prevent_initial_call=True,
    )
    def switch(chosen: list[str] | None, search: str | None, path: str | None) -> str:
        _only_here(path)
        view = settled(read_view(ChartsView, search), offer(answers))
        if chosen is None or tuple(sorted(chosen)) == tuple(sorted(
                chart_of(answers, view).rules)):
            raise PreventUpdate
        return address(view, rules=",".join(sorted(chosen)) or ONLY_LIMITS)

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        Output("charts-said", "children", allow_duplicate=True),
        Input("charts-take", "n_clicks"), State("charts-from", "value"),
        State("charts-until", "value"), State("address", "search"), prevent_initial_call=True,
    )
    def take(clicks: int | None, first: str | None, last: str | None, search: str | None) -> Any:
        if not clicks:
            raise PreventUpdate
        zone = answers.shop.zone
        try:
            since = parse_instant(f"{(first or '').strip()}T00:00", zone)
            until = parse_instant(f"{(last or '').strip()}T00:00", zone) + DAY_US
        except (QcError, ValueError):
            return no_update, words.BASE_BAD_DAY
        if until <= since:
            return no_update, words.BASE_BAD_DAY
        view = settled(read_view(ChartsView, search), offer(answers))
        kept = left_out_within(view, chart_of(answers, view).points, (since, until))
        return with_left_out(replace(view, base=f"{since}..{until}"), kept), ""

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        Output("charts-said", "children", allow_duplicate=True),
        Input("charts-out", "n_clicks"), State("charts-out-point", "value"),
        State("charts-out-cause", "value"), State("address", "search"), prevent_initial_call=True,
    )
    def leave_out(clicks: int | None, point: str | None, cause: str | None,
                  search: str | None) -> Any:
        if not clicks or not point:
            raise PreventUpdate
        if not (cause or "").strip():
            return no_update, words.OUT_NEEDS
        view = settled(read_view(ChartsView, search), offer(answers))
        if not view.base:  # the proposal must not move while points of it are left out
            since, until = period_of(chart_of(answers, view))
            view = read_view(ChartsView, address(view, base=f"{since}..{until}"))
        rows = [row for row in left_out(view) if row[0] != point]
        return with_left_out(view, [*rows, (point, (cause or "").strip())]), ""


def _register_freezing(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("charts-body", "children", allow_duplicate=True),
        Output("address", "search", allow_duplicate=True), Output("charts-said", "children"),
        Input("charts-freeze", "n_clicks"), State(NAME_FIELD, "value"),
        State("charts-why", "value"), State("address", "search"), State("scheme", "data"),
        prevent_initial_call=True,
    )
    def freeze(clicks: int | None, by: str | None, why: str | None, search: str | None,
               scheme: str | None) -> Any:
        if not clicks or not answers.is_live:
            raise PreventUpdate
        view = settled(read_view(ChartsView, search), offer(answers))
        try:
            found = chart_of(answers, view)
            since, until = period_of(found)
            aside = found.asked.aside
            held = read_view(ChartsView, address(view, kind=found.kind, base=f"{since}..{until}"))
            freeze_limits(
                answers.shop, asked_of(held, aside), since_us=answers.since_us(view.period),
                by=by or "", why=why or "", at_us=answers.now_us())
        except QcError as refused:
            return no_update, no_update, text.with_capital(f"{refused}.")
        done = read_view(ChartsView, address(view, kind=found.kind, base="", out="", frozen=""))
        return shown_body(answers, address(done), scheme or "light"), address(done), (
            words.FROZEN_NOW)
