"""What the floor answers to: its address, the minute's tick, the flags when they are known."""

from __future__ import annotations

from dash import Dash, Input, Output, State
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard.answers import Answers
from dashboard.components.states import guarded
from dashboard.formats import Clock
from dashboard.pages.floor.layout import cards
from dashboard.view import FloorView, address, read_view
from qc.desk.floor import press_state


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the floor."""

    @app.callback(
        Output("floor-cards", "children"),
        Input("address", "search"), Input("tick", "n_intervals"),
        Input("floor-flags-ready", "data"), Input("first-run-news", "data"),
    )
    @guarded
    def show_cards(
        search: str | None, _tick: int | None, _ready: str | None, _news: str | None
    ) -> Component:
        floor, flags, health = answers.floor(), answers.flags_if_known(), answers.health()
        states = [
            (now, press_state(now, as_of_us=floor.as_of_us, flags=flags, health=health))
            for now in floor.presses
        ]
        view = read_view(FloorView, search)
        notes = () if flags is None else answers.baseline_cautions()
        return cards(floor, states, flags, Clock(answers.shop.zone), show=view.show, notes=notes)

    @app.callback(
        Output("floor-flags-ready", "data"),
        Input("floor-soon", "n_intervals"), Input("tick", "n_intervals"),
        State("floor-flags-ready", "data"), prevent_initial_call=True,
    )
    def look_for_flags(_soon: int | None, _tick: int | None, known: str | None) -> str:
        found = answers.flags()
        stamp = f"{found.as_of_us}/{found.n_pieces}"
        if stamp == known:
            raise PreventUpdate
        return stamp

    @app.callback(
        Output("address", "search", allow_duplicate=True), Input("floor-show", "value"),
        State("address", "search"), prevent_initial_call=True,
    )
    def choose(show: str, search: str | None) -> str:
        view = read_view(FloorView, search)
        if show == view.show:
            raise PreventUpdate
        return address(view, show=show)
