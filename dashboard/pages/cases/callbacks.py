"""What the cases answer to."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard.answers import Answers
from dashboard.components.states import guarded
from dashboard.formats import Clock
from dashboard.pages.cases.layout import body, detail
from dashboard.view import CasesView, read_view
from reports.csv import render_csv
from reports.hold_list import hold_list


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the cases."""

    @app.callback(Output("cases-body", "children"), Input("address", "search"),
                  Input("tick", "n_intervals"))
    @guarded
    def show_cases(search: str | None, _tick: int | None) -> Component:
        return body(answers.flags(), read_view(CasesView, search), Clock(answers.shop.zone))

    @app.callback(Output("case-detail", "children"), Input("case-detail", "id"),
                  Input("scheme", "data"), State("address", "search"))
    @guarded
    def show_detail(_id: str, scheme: str | None, search: str | None) -> Any:
        flags = answers.flags().flags
        if scheme is None or not flags:
            raise PreventUpdate
        chosen = read_view(CasesView, search).flag or flags[0].id
        return detail(answers.case(chosen), scheme, Clock(answers.shop.zone))

    @app.callback(Output("case-file", "data"), Input("case-take", "n_clicks"),
                  State("address", "search"), prevent_initial_call=True)
    def take_list(clicks: int | None, search: str | None) -> dict[str, str]:
        if not clicks:
            raise PreventUpdate
        flags = answers.flags().flags
        chosen = read_view(CasesView, search).flag or flags[0].id
        document = hold_list(
            answers.case(chosen), shop_name=answers.shop.name, zone=answers.shop.zone,
            as_of_us=answers.slow_as_of_us(),
        )
        content = render_csv(document).decode("utf-8")
        return {"filename": f"hold-{chosen}.csv", "content": content, "type": "text/csv"}
