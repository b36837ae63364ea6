"""The head of a page and the choices at its top."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.attributes import named

APART = ("/bench",)
"""Pages that stand by themselves: they are loaded anew, not put into this one."""
NAME_FIELD = "your-name"


def page_link(name: str, path: str, **more: Any) -> Component:
    """A way to a page."""
    apart = path.partition("?")[0] in APART
    return html.A(name, href=path, **more) if apart else dcc.Link(name, href=path, **more)


def page(path: str, *children: Any, name: str) -> Component:
    """A page with its heading."""
    head = html.Div(
        [html.H1(text.PAGES[path], tabIndex=-1), html.P(text.PAGE_LEADS[path], className="lead")],
        className="page-head",
    )
    # where an empty shop is led to its first record; pages/setup fills it
    first_run = [html.Div(id="first-run"), dcc.Store(id="first-run-news")]
    return html.Div([head, *first_run, *children], className=f"page page-{name}")


def one_of(name: str, label: str, options: Sequence[tuple[str, str]], value: str) -> Component:
    """A few choices side by side."""
    return html.Div(
        [
            html.Span(label, className="choice-label", id=f"{name}-label"),
            dmc.SegmentedControl(
                id=name, value=value, size="md", radius="sm", fullWidth=True,
                data=[{"value": v, "label": words} for v, words in options],
                **named(label),
            ),
        ],
        className="choice",
    )


def name_field(**looks: Any) -> Component:
    """Who does it: asked once on a device, the same on every page; shell.js tells the Bench."""
    return dmc.TextInput(
        id=NAME_FIELD, label=text.YOUR_NAME, size="md", persistence=True,
        persistence_type="local", inputProps={"autoComplete": "name"}, **looks)


def one_from(name: str, label: str, options: Sequence[tuple[str, str]], value: str) -> Component:
    """One choice from a longer list."""
    return dmc.Select(
        id=name, label=label, value=value, allowDeselect=False, size="md", radius="sm",
        className="choice", checkIconPosition="right", comboboxProps={"shadow": "md"},
        maxDropdownHeight=360, data=[{"value": v, "label": words} for v, words in options],
    )
