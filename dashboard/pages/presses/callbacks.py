"""What the presses page answers to: its address."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, html
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.states import bring_in, danger, guarded, notice
from dashboard.formats import Clock, Heat
from dashboard.pages.presses import service_callbacks
from dashboard.pages.presses.layout import (
    board,
    check_list,
    chosen,
    detail,
    due_list,
    pieces_place,
    pull_list,
)
from dashboard.pages.presses.pieces import pieces_panel, spots_list
from dashboard.pages.presses.settings import settings_section
from dashboard.view import PressesView, read_view


def _heat(answers: Answers) -> Heat:
    return Heat(answers.shop.settings["temperature_unit"])


def _gone(answers: Answers) -> frozenset[str]:
    """The presses that are no longer used."""
    return frozenset(answers.retired()["presses"])


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the presses page."""
    service_callbacks.register(app, answers)

    @app.callback(Output("presses-board", "children"), Input("address", "search"),
                  Input("tick", "n_intervals"), Input("presses-news", "data"))
    @guarded
    def show_board(search: str | None, _tick: int | None, _news: int | None) -> Component:
        health = answers.health()
        here = chosen(health, read_view(PressesView, search), _gone(answers))
        return board(health, here, answers.quick_as_of_us(), _heat(answers),
                     answers.surveys(), Clock(answers.shop.zone), _gone(answers))

    @app.callback(Output("presses-platen", "children"), Input("address", "search"),
                  Input("scheme", "data"), Input("presses-news", "data"))
    @guarded
    def show_platen(search: str | None, scheme: str | None, _news: int | None) -> Any:
        if scheme is None:
            raise PreventUpdate
        health = answers.health()
        if not health:
            return None
        here = chosen(health, read_view(PressesView, search), _gone(answers))
        if here is None or here.last_survey_at_us is None:
            way = html.A(text.TO_SURVEY, href="#survey-form", className="button do")
            return [notice(text.NO_SURVEY_TITLE, text.NO_SURVEY_HELP, way, bring_in()),
                    pieces_place()]
        survey, drift = answers.platen(here.press, here.platen)
        return detail(here, survey, drift, scheme, Clock(answers.shop.zone), _heat(answers))

    @app.callback(Output("presses-pieces", "children"), Input("address", "search"),
                  Input("scheme", "data"))
    @guarded
    def show_pieces(search: str | None, scheme: str | None) -> Any:
        if scheme is None:
            raise PreventUpdate
        here = chosen(answers.health(), read_view(PressesView, search), _gone(answers))
        found = {one.map.press: one for one in answers.pieces()}
        if here is None or here.press not in found:
            return None
        return pieces_panel(found[here.press], scheme, Clock(answers.shop.zone))

    @app.callback(Output("presses-spots", "children"), Input("tick", "n_intervals"),
                  Input("presses-news", "data"))
    @guarded
    def show_spots(_tick: int | None, _news: int | None) -> Component | None:
        return spots_list(answers.pieces())

    @app.callback(Output("presses-due", "children"), Input("tick", "n_intervals"),
                  Input("presses-news", "data"))
    @guarded
    def show_due(_tick: int | None, _news: int | None) -> Component | None:
        return due_list(answers.health(), answers.quick_as_of_us(),
                        Clock(answers.shop.zone), _gone(answers))

    @app.callback(Output("presses-checks", "children"), Input("tick", "n_intervals"))
    @guarded
    def show_checks(_tick: int | None) -> Component | None:
        clock = Clock(answers.shop.zone)
        checks, pulls = answers.checks(), answers.pulls()
        parts = [part for part in (check_list(checks, clock), pull_list(pulls, clock))
                 if part is not None]
        hot = any(one.state == "out" for one in checks) or any(
            one.state == "uneven" for one in pulls)
        return html.Div([*parts, danger() if hot else None], className="stack") if parts else None

    @app.callback(Output("presses-settings", "children"), Input("tick", "n_intervals"))
    @guarded
    def show_settings(_tick: int | None) -> Component | None:
        return settings_section(answers.settings_set())
