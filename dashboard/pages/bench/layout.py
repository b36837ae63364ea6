"""The bench: every finished piece, recorded in two taps."""

from __future__ import annotations

from dash.development.base_component import Component

from dashboard.components.page import page


def layout(search: str) -> Component:
    """The page before its content."""
    return page("/bench", name="bench")
