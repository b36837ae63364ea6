"""What the parts beside rates and ranking answer to: the address, and the comparison's choices."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, ctx, dcc, html
from dash.development.base_component import Component
from dash.exceptions import PreventUpdate

from dashboard.answers import Answers
from dashboard.components.states import guarded
from dashboard.formats import Clock
from dashboard.pages.trends import asked
from dashboard.pages.trends.compared import chosen_us, compared_panel, of_choices, shown_day
from dashboard.pages.trends.cost import cost_panel, no_price, ranked_costs
from dashboard.pages.trends.headline import headline
from dashboard.pages.trends.layout import dimensions_of, point_link
from dashboard.pages.trends.moved import moved_panel
from dashboard.view import TrendsView, address, read_view
from qc.desk.quality_cost import price_of
from qc.desk.ranking import in_order
from reports.ranking import ranking_document
from reports.writing import FORMS

TYPES = {"csv": "text/csv",
         "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


def register_parts(app: Dash, answers: Answers) -> None:
    """The callbacks of the head, the changes, the cost, the comparison and what is taken out."""
    _register_glance(app, answers)
    _register_cost(app, answers)
    _register_compared(app, answers)
    _register_taking(app, answers)


def _register_glance(app: Dash, answers: Answers) -> None:
    @app.callback(Output("trends-glance", "children"), Input("address", "search"))
    @guarded
    def show_glance(search: str | None) -> Component | None:
        view = read_view(TrendsView, search)
        return headline(asked.glance(answers, view), view)

    @app.callback(Output("trends-moved", "children"), Input("trends-soon", "n_intervals"),
                  Input("tick", "n_intervals"))
    @guarded
    def show_moved(soon: int | None, _tick: int | None) -> Component:
        _wait_for(soon)
        return moved_panel(asked.changes(answers))


def _wait_for(*needed: Any) -> None:
    """What is further down the page is not asked before the page and its scheme are there."""
    if not all(needed):
        raise PreventUpdate


def _register_cost(app: Dash, answers: Answers) -> None:
    @app.callback(Output("trends-cost", "children"), Input("address", "search"),
                  Input("scheme", "data"), Input("trends-soon", "n_intervals"))
    @guarded
    def show_cost(search: str | None, scheme: str, soon: int | None) -> Component:
        _wait_for(scheme, soon)
        price, view = price_of(answers.shop), read_view(TrendsView, search)
        if price is None:
            return no_price()
        trend = asked.trend_of(answers, view)
        links = [point_link(view, trend, i) for i in range(len(trend.start_us))]
        ranked = asked.ranking_of(answers, view, dimensions_of(view))
        return html.Div([
            cost_panel(trend, price, view, scheme, Clock(answers.shop.zone), links),
            ranked_costs(ranked, price, view, answers.since_us(view.period)),
        ], className="stack")


def _register_compared(app: Dash, answers: Answers) -> None:
    @app.callback(Output("trends-compared", "children"), Input("address", "search"),
                  Input("scheme", "data"), Input("trends-soon", "n_intervals"))
    @guarded
    def show_compared(search: str | None, scheme: str, soon: int | None) -> Component:
        _wait_for(scheme, soon)
        view = read_view(TrendsView, search)
        return compared_panel(asked.comparison(answers, view), asked.moment(answers, view),
                              scheme, Clock(answers.shop.zone))

    @app.callback(Output("trends-at", "value"), Input("address", "search"))
    def show_moment(search: str | None) -> str:
        view = read_view(TrendsView, search)
        return shown_day(asked.moment(answers, view), Clock(answers.shop.zone))

    @app.callback(Output("trends-of", "data"), Input("trends-of", "id"))
    def offer(_id: str) -> list[dict[str, str]]:
        return [{"value": value, "label": label}
                for value, label in of_choices(asked.levels(answers))]

    @app.callback(
        Output("address", "search", allow_duplicate=True), Input("trends-at", "value"),
        State("address", "search"), prevent_initial_call=True,
    )
    def choose_moment(day: str | None, search: str | None) -> str:
        view = read_view(TrendsView, search)
        shown = asked.moment(answers, view)
        chosen = chosen_us(day, shown, Clock(answers.shop.zone))
        if chosen == shown:
            raise PreventUpdate
        return address(view, at=str(chosen), open="", level="", level2="")


def _register_taking(app: Dash, answers: Answers) -> None:
    @app.callback(
        Output("trends-file", "data"), Input("trends-take-csv", "n_clicks"),
        Input("trends-take-xlsx", "n_clicks"), State("address", "search"),
        prevent_initial_call=True,
    )
    def take(csv: int | None, xlsx: int | None, search: str | None) -> Any:
        if not (csv or xlsx):
            raise PreventUpdate
        form = str(ctx.triggered_id).removeprefix("trends-take-")
        view, shop, price = read_view(TrendsView, search), answers.shop, price_of(answers.shop)
        pareto = in_order(asked.ranking_of(answers, view, dimensions_of(view)), view.order)
        document = ranking_document(
            pareto, shop_name=shop.name, zone=shop.zone, price=price.each if price else 0.0,
            currency=price.currency if price else "")
        content, name = FORMS[f".{form}"](document), f"ranking-{'-'.join(pareto.by)}.{form}"
        if form == "xlsx":
            return dcc.send_bytes(content, name, type=TYPES[form])
        return {"filename": name, "content": content.decode("utf-8"), "type": TYPES[form]}
