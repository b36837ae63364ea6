"""Set-up: all its parts, or one of them with its form."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats
from dashboard.components.attributes import named
from dashboard.components.page import name_field, page
from dashboard.components.states import notice, waiting
from dashboard.text import setup as setup_text
from dashboard.view import SetupView, address


def layout(search: str) -> Component:
    """The page before its content."""
    del search
    return page(
        "/setup", html.Div(waiting(420), id="setup-body"),
        html.Div(id="setup-said", role="status", className="said"), dcc.Store(id="setup-news"),
        name="setup",
    )


def overview(counts: Mapping[str, int]) -> Component:
    """Every part, with how much stands there."""
    cards = [
        dcc.Link(
            [html.H2(name), html.P(setup_text.PART_LEADS[part]), _count(counts.get(part))],
            href="/setup" + address(SetupView(part=part)), className="part-card",
        ) for part, name in setup_text.PARTS.items()
    ]
    return html.Nav(cards, className="part-cards", **named(setup_text.PARTS_LABEL))


def _count(n: int | None) -> Component | None:
    if n is None:
        return None
    words = setup_text.COUNT["one"].format(n=formats.count(n)) if n else setup_text.COUNT["none"]
    return html.Span(words, className="part-count")


def part_frame(view: SetupView, inside: list[Any], *, can_act: bool) -> Component:
    """One part: the way to the others, what it is for, who does it, its content."""
    links = [dcc.Link(setup_text.ALL_PARTS, href="/setup", className="part-link")]
    links += [
        dcc.Link(name, href="/setup" + address(SetupView(part=part)),
                 className="part-link" + (" here" if part == view.part else ""))
        for part, name in setup_text.PARTS.items()
    ]
    here = view.item or view.do
    title = dcc.Link(setup_text.PARTS[view.part], className="part-back",
                     href="/setup" + address(SetupView(part=view.part))) if here else None
    head = [title] if here else [html.H2(setup_text.PARTS[view.part]),
                                 html.P(setup_text.PART_LEADS[view.part], className="lead")]
    return html.Div([
        html.Nav(links, className="part-links", **named(setup_text.PARTS_LABEL)),
        html.Div([
            html.Div(head, className="part-head"),
            None if can_act else notice(setup_text.LOOKS_BACK_TITLE, setup_text.LOOKS_BACK),
            *inside,
        ], className="part-body stack"),
    ], className="part")


def who_field() -> Component:
    """Who changes the set-up, and what the name is for."""
    return name_field(
        description=setup_text.YOUR_NAME_WHY, required=True, className="your-name setup-by",
        inputWrapperOrder=["label", "input", "description", "error"])
