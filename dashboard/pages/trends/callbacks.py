"""What the trends answer to: the address alone; the choices only write the address."""

from __future__ import annotations

from dash import ClientsideFunction, Dash, Input, Output, State
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard.answers import Answers
from dashboard.components.states import guarded
from dashboard.formats import Clock
from dashboard.pages.trends.asked import levels, ranking_of, trend_of
from dashboard.pages.trends.baseline_callbacks import register_baseline
from dashboard.pages.trends.layout import (
    BLANK,
    CHOICES,
    allowed_choices,
    dimensions_of,
    kind_choices,
    rate_panel,
    records_panel,
)
from dashboard.pages.trends.months import register_months
from dashboard.pages.trends.part_callbacks import register_parts
from dashboard.pages.trends.ranking import ranking_panel
from dashboard.view import (
    ANY_DEFECT,
    NOT_SAID,
    TrendsView,
    address,
    point_us,
    read_view,
    records_address,
)
from qc.desk.ranking import in_order


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the trends."""
    _register_charts(app, answers)
    _register_ranking(app, answers)
    _register_records(app, answers)
    _register_choices(app, answers)
    register_parts(app, answers)
    register_baseline(app, answers)
    register_months(app, answers)


def _register_charts(app: Dash, answers: Answers) -> None:
    def panel(search: str | None, scheme: str | None, *, as_yield: bool) -> Component | None:
        if scheme is None:
            raise PreventUpdate
        view = read_view(TrendsView, search)
        return rate_panel(trend_of(answers, view), view, scheme, Clock(answers.shop.zone),
                          as_yield=as_yield)

    @app.callback(Output("trends-yield", "children"), Input("address", "search"),
                  Input("scheme", "data"))
    @guarded
    def show_yield(search: str | None, scheme: str | None) -> Component | None:
        return panel(search, scheme, as_yield=True)

    @app.callback(Output("trends-rate", "children"), Input("address", "search"),
                  Input("scheme", "data"))
    @guarded
    def show_rate(search: str | None, scheme: str | None) -> Component | None:
        return panel(search, scheme, as_yield=False)


def _register_ranking(app: Dash, answers: Answers) -> None:
    @app.callback(Output("trends-ranking", "children"), Input("address", "search"))
    @guarded
    def show_ranking(search: str | None) -> Component:
        view = read_view(TrendsView, search)
        return ranking_panel(
            in_order(ranking_of(answers, view, dimensions_of(view)), view.order), view)


def _register_records(app: Dash, answers: Answers) -> None:
    @app.callback(Output("trends-panel", "opened"), Input("address", "search"))
    def show_panel(search: str | None) -> bool:
        return bool(read_view(TrendsView, search).open)

    @app.callback(Output("trends-records", "children"), Input("address", "search"))
    @guarded
    def show_records(search: str | None) -> Component:
        view = read_view(TrendsView, search)
        if not view.open:
            raise PreventUpdate
        point = point_us(view.open)
        since_us, until_us = point or (answers.since_us(view.period), None)
        chosen = () if point else _levels(view)
        found = answers.records(since_us=since_us, until_us=until_us, kind=view.kind,
                                levels=chosen)
        there = records_address(chosen, kind=view.kind or ANY_DEFECT, since_us=since_us,
                                until_us=until_us, first=True)
        return records_panel(found, Clock(answers.shop.zone), there)

    @app.callback(
        Output("address", "search", allow_duplicate=True), Input("trends-panel", "opened"),
        State("address", "search"), prevent_initial_call=True,
    )
    def close_panel(opened: bool, search: str | None) -> str:
        view = read_view(TrendsView, search)
        if opened or not view.open:
            raise PreventUpdate
        return address(view, open="", level="", level2="")


def _register_choices(app: Dash, answers: Answers) -> None:
    @app.callback(Output("trends-kind", "data"), Output("trends-choices", "data"),
                  Input("trends-kind", "id"))
    def offer(_id: str) -> tuple[list[dict[str, str]], dict[str, list[str]]]:
        kinds = answers.kinds()
        options = [{"value": code, "label": name} for code, name in kind_choices(kinds)]
        return options, allowed_choices(kinds, levels(answers))

    # in the browser itself, at once: an answer that came late could undo a newer choice
    app.clientside_callback(
        ClientsideFunction("shell", "follow"),
        Output("trends-followed", "data"), Input("address", "search"),
        Input("trends-choices", "data"),
    )

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        *(Input(f"trends-{name}", "value") for name in CHOICES),
        State("address", "search"), prevent_initial_call=True,
    )
    def choose(*given: str | None) -> str:
        *values, search = given
        view = read_view(TrendsView, search)
        chosen = chosen_view(view, dict(zip(CHOICES, values, strict=True)))
        if address(chosen) == address(view):
            raise PreventUpdate
        return address(chosen, open="", level="", level2="")


def chosen_view(view: TrendsView, values: dict[str, str | None]) -> TrendsView:
    """The view with the choices made; the second dimension never repeats the first."""
    clean = {name: "" if value == BLANK.get(name) else (value or "")
             for name, value in values.items()}
    if clean.get("then") == clean.get("by"):
        clean["then"] = ""
    return read_view(TrendsView, address(view, **clean))


def _levels(view: TrendsView) -> tuple[tuple[str, str | None], ...]:
    names = (view.level, view.level2)
    return tuple(
        (dimension, None if level == NOT_SAID else level)
        for dimension, level in zip(dimensions_of(view), names, strict=False)
    )
