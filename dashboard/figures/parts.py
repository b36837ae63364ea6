"""What figures share: the template, hover words, bands."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

from dashboard.theme import PALETTES, Palette, figure_template


def new_figure(scheme: str, *, height: int) -> tuple[go.Figure, Palette]:
    """An empty figure in the scheme's look, with the scheme's colours."""
    figure = go.Figure(layout={"template": figure_template(scheme), "height": height})
    return figure, PALETTES[scheme]


def see_through(colour: str, alpha: float) -> str:
    """A #rrggbb colour with an opacity."""
    red, green, blue = (int(colour[i:i + 2], 16) for i in (1, 3, 5))
    return f"rgba({red},{green},{blue},{alpha:g})"


def add_band(
    figure: go.Figure, x: list[Any], lower: list[float], upper: list[float], *, colour: str,
    name: str, stepped: bool = False,
) -> None:
    """A filled band between two lines."""
    line = {"width": 0, "shape": "hvh" if stepped else "linear"}
    figure.add_scatter(x=x, y=lower, mode="lines", line=line, hoverinfo="skip", showlegend=False)
    figure.add_scatter(x=x, y=upper, mode="lines", line=line, fill="tonexty", fillcolor=colour,
                       hoverinfo="skip", name=name)
