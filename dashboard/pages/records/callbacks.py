"""What the page answers to."""

from __future__ import annotations

from dash import Dash

from dashboard.answers import Answers


def register(app: Dash, answers: Answers) -> None:
    """The callbacks of the page."""
