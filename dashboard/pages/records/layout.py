"""Records: find looks, correct them, bring files in, take lists out."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.components.attributes import named
from dashboard.components.page import page
from dashboard.components.states import notice
from dashboard.pages.records.files import files_part
from dashboard.pages.records.grid import LIBRARY
from dashboard.text import records as words
from dashboard.view import RecordsView, read_view


def layout(search: str) -> Component:
    """The page before its content."""
    view = read_view(RecordsView, search)
    return page(
        "/records", dcc.Store(id="records-shown", data=view.show),
        html.Nav(switch(view.show), id="records-switch", className="switch",
                 **named(words.SWITCH)),
        html.Div(part(view.show), id="records-part"), name="records")


def switch(show: str) -> list[Component]:
    """The two things to do here."""
    ways = (("", words.SHOW_LOOKS, "/records"), ("files", words.SHOW_FILES, "/records?show=files"))
    return [dcc.Link(label, href=href, className="way" + (" here" if name == show else ""))
            for name, label, href in ways]


def part(show: str) -> list[Component]:
    """One of them, before its content."""
    if show == "files":
        return [files_part()]
    return [
        dcc.Store(id="grid-ready"), dcc.Store(id="records-news", data=0),
        dcc.Store(id="look-shown", data=""),
        html.Div(id="records-find"),
        html.Div(id="records-chips", className="chips"),
        html.Div([html.Div(id="records-count", role="status", className="counted"),
                  html.Div([html.Button(words.AGAIN, id="records-again", type="button",
                                        className="button"),
                            html.Span(id="records-take", className="takes")], className="takes")],
                 className="counted-row"),
        html.P(id="records-said", role="status", className="said"),
        html.Div(
            [html.Div(html.Div(html.Span(words.GRID_WAITS), className="waiting", role="status"),
                      id="records-grid", className="looks", **LIBRARY),
             html.Div(id="records-look", className="look-place")],
            id="records-split", className="records-split"),
    ]


def empty_part() -> Component:
    """A store without looks: the ways in."""
    ways = [html.Li([html.A(label, href=href), html.Span(why)])
            for label, href, why in words.EMPTY_WAYS]
    inside = notice(words.EMPTY_TITLE, words.EMPTY_HELP, html.Ul(ways, className="ways"),
                    html.P(words.EMPTY_DEMO))
    return html.Div(inside, className="no-looks")
