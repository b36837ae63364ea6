"""The shell around every page: masthead, the way between pages, the place a page goes."""

from __future__ import annotations

from typing import Any

import dash_mantine_components as dmc
from dash import ALL, ClientsideFunction, Dash, Input, Output, State, dcc, html
from dash.development.base_component import Component

from dashboard import text, theme
from dashboard.answers import Answers
from dashboard.components.attributes import UNSEEN, named
from dashboard.components.page import page_link
from dashboard.formats import Clock
from dashboard.pages.cases import layout as cases_layout
from dashboard.pages.charts import layout as charts_layout
from dashboard.pages.floor import layout as floor_layout
from dashboard.pages.missing import layout as missing_layout
from dashboard.pages.presses import layout as presses_layout
from dashboard.pages.records import layout as records_layout
from dashboard.pages.setup import layout as setup_layout
from dashboard.pages.trends import layout as trends_layout

TICK_MS = 60_000
_TURN: dict[str, Any] = {
    "data-to-dark": text.TO_DARK, "data-to-dark-hint": text.TO_DARK_HINT,
    "data-to-light": text.TO_LIGHT, "data-to-light-hint": text.TO_LIGHT_HINT,
    "data-light": theme.to_light(),
}
"""The words of the button that turns the scheme, where the browser finds them."""
LAYOUTS = {
    "/": floor_layout.layout, "/trends": trends_layout.layout, "/cases": cases_layout.layout,
    "/presses": presses_layout.layout, "/charts": charts_layout.layout,
    "/records": records_layout.layout, "/setup": setup_layout.layout,
}


def shell(answers: Answers) -> Component:
    """The page before any content: it needs no data but the shop's name."""
    return dmc.MantineProvider(
        id="provider",
        theme={"fontFamily": "var(--font)", "fontSizes": {"sm": "1rem", "md": "1rem"},
               "defaultRadius": "sm"},
        children=[
            dcc.Location(id="address", refresh=False),
            dcc.Store(id="scheme", storage_type="local"),
            dcc.Interval(id="tick", interval=TICK_MS, disabled=not answers.is_live),
            html.A(text.SKIP, href="#page", className="skip"),
            _masthead(answers.shop.name),
            html.Main(id="page", tabIndex=-1),
            html.Div(id="arrived", hidden=True),
        ],
    )


def _masthead(shop_name: str) -> Component:
    return html.Header(
        [
            html.Div(
                [
                    html.Span(className="peel", **UNSEEN),
                    html.Span([html.Strong(text.PRODUCT), html.Span(shop_name, className="shop"),
                               html.Span(id="as-of", className="shop")], className="maker"),
                ],
                className="name",
            ),
            html.Nav(_links(None), id="nav", **named(text.NAV_LABEL)),
            html.Div(html.Button(id="turn", className="turn", type="button", **_TURN),
                     className="tools"),
        ],
        className="masthead",
    )


def _links(current: str | None) -> list[Component]:
    """Every page; on a narrow screen those of `text.MORE_PAGES` open above the button."""
    tabs = {
        path: page_link(name, path, className="tab" + (" here" if path == current else ""),
                        title=text.PAGE_LEADS[path])
        for path, name in text.PAGES.items()
    }
    more = html.Button(text.MORE, id="more", type="button", className="tab more-button" + (
        " here" if current in text.MORE_PAGES else ""),
        **{"aria-expanded": "false", "aria-controls": "more-pages"})  # type: ignore[arg-type]
    return [
        *(tab for path, tab in tabs.items() if path not in text.MORE_PAGES), more,
        html.Div([tabs[path] for path in text.MORE_PAGES], id="more-pages"),
    ]


def page_of(pathname: str | None, search: str | None) -> Component:
    """The layout an address leads to."""
    path = tidy(pathname)
    return LAYOUTS[path](search or "") if path in LAYOUTS else missing_layout.layout(path)


def tidy(pathname: str | None) -> str:
    """A path without its closing slash."""
    return "/" + (pathname or "").strip("/")


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the shell."""

    @app.callback(
        Output("page", "children"), Output("nav", "children"),
        Input("address", "pathname"), State("address", "search"),
    )
    def show_page(pathname: str | None, search: str | None) -> tuple[Component, list[Component]]:
        return page_of(pathname, search), _links(tidy(pathname))

    @app.callback(Output("as-of", "children"), Input("tick", "n_intervals"))
    def show_moment(_: int | None) -> str:
        clock = Clock(answers.shop.zone)
        return text.AS_OF.format(clock.minute(answers.quick_as_of_us()))

    app.clientside_callback(
        ClientsideFunction("shell", "turn"),
        Output("scheme", "data"), Input("turn", "n_clicks"), State("scheme", "data"),
    )
    app.clientside_callback(
        ClientsideFunction("shell", "dress"),
        Output("provider", "forceColorScheme"), Output("turn", "children"), Output("turn", "title"),
        Input("scheme", "data"),
    )
    app.clientside_callback(
        ClientsideFunction("shell", "open"),
        Output("address", "search", allow_duplicate=True),
        Input({"type": "opens", "name": ALL}, "clickData"), prevent_initial_call=True,
    )
    app.clientside_callback(
        ClientsideFunction("shell", "arrive"),
        Output("arrived", "children"), Input("address", "pathname"), Input("page", "children"),
    )
