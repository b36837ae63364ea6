"""The page for an address that leads nowhere: says so, and where to go."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.page import page_link


def layout(path: str) -> Component:
    """What to show for an unknown path."""
    ways = [
        html.Li([page_link(name, to), f" {text.PAGE_LEADS[to]}"])
        for to, name in text.PAGES.items()
    ]
    return html.Div(
        [html.H1(text.MISSING_TITLE, tabIndex=-1), html.P(html.Code(path[:200])),
         html.P(text.MISSING_HELP), html.Ul(ways, className="ways")],
        className="page page-missing",
    )
