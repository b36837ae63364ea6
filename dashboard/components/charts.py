"""The frame of every chart: title, unit, figure, source line, and its numbers as a table."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN, named, saving
from dashboard.components.tables import numbers

_CONFIG: Any = {
    "displayModeBar": False, "responsive": True, "scrollZoom": False, "doubleClick": False,
    "showTips": False,
}


def chart_box(
    drawing: Component, *, title: str, unit: str, source: str, table: Component,
    extra: Any = None, description: str = "", saves: Component | None = None,
) -> Component:
    """A chart in its frame. ``saves``: the ways to take it, where the browser cannot make them by
    itself from what it shows."""
    return html.Figure(
        [
            html.Figcaption([html.H3(title), html.P(formats.unbroken(unit), className="unit")]),
            html.P(formats.unbroken(description), className="finding") if description else None,
            html.Div(drawing, className="drawing"), extra,
            html.Div([numbers(table), saves or _saves(title)], className="chart-foot"),
            html.P(formats.unbroken(source), className="source"),
        ],
        className="chart",
    )


def _saves(title: str) -> Component:
    """Buttons that the browser answers by itself (`assets/save.js`)."""
    buttons = [
        html.Button(words, type="button", className="save", **saving(form),
                    **named(text.SAVE_AS.format(what=words, title=title)))
        for form, words in text.SAVE_FORMS.items()
    ]
    return html.Div([html.Span(text.SAVE, **UNSEEN), *buttons], className="saves")


def drawn(name: str, figure: go.Figure, *, label: str, opens: bool = False) -> Component:
    """A figure. ``opens``: a click on a point goes to the address in its customdata."""
    graph = dcc.Graph(
        id={"type": "opens" if opens else "chart", "name": name}, figure=figure, config=_CONFIG,
        className="chart-figure", responsive=True,
        style={"height": f"{figure.layout.height or 320}px"},
    )
    return html.Div(graph, role="img", **named(label))
