"""What the baseline answers to: shown once the page is there, frozen at the button."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, no_update
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard import text
from dashboard.answers import Answers
from dashboard.components.page import NAME_FIELD
from dashboard.components.states import guarded
from dashboard.pages.trends.baseline import baseline_panel, period_of
from qc.errors import QcError


def register_baseline(app: Dash, answers: Answers) -> None:
    """The callbacks of the baseline."""

    def panel() -> Component:
        return baseline_panel(answers.baseline(), answers.shop, can_freeze=answers.is_live)

    @app.callback(Output("baseline-panel", "children"), Input("baseline-panel", "id"))
    @guarded
    def show(_id: str) -> Component:
        return panel()

    @app.callback(
        Output("baseline-panel", "children", allow_duplicate=True),
        Output("baseline-said", "children"), Input("baseline-freeze", "n_clicks"),
        State(NAME_FIELD, "value"), State("baseline-why", "value"),
        State("baseline-period", "data"), prevent_initial_call=True,
    )
    def freeze(clicks: int | None, by: str | None, why: str | None, data: list[int]) -> Any:
        if not clicks or not answers.is_live:
            raise PreventUpdate
        try:
            answers.freeze_baseline(period_of(data), by=by or "", why=why or "")
        except QcError as refused:
            return no_update, text.with_capital(f"{refused}.")
        return panel(), text.BASELINE_DONE
