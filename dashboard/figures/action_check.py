"""The check of an action: before, during and since, each with its interval."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboard import text
from dashboard.figures.parts import new_figure
from dashboard.text import cases as case_text
from qc.domain.action_checks import SYMBOLS, ActionCheck, Phase


def check_figure(check: ActionCheck, scheme: str) -> go.Figure:
    """One row for each stretch of time, the newest at the top."""
    figure, colours = new_figure(scheme, height=265)
    phases = [phase for phase in check.phases if phase.n_pieces][::-1]
    names = [case_text.PHASE_WORDS[phase.name] for phase in phases]
    scale = 100 if check.unit == "share" else 1
    figure.add_scatter(
        x=[scale * phase.value for phase in phases], y=names, mode="markers", name=text.SEEN,
        marker={"size": 12, "color": [_colour(phase, colours) for phase in phases]},
        error_x={
            "type": "data", "symmetric": False, "thickness": 2.5, "width": 7,
            "color": colours["ink"],
            "array": [scale * _reach(phase.high - phase.value) for phase in phases],
            "arrayminus": [scale * _reach(phase.value - phase.low) for phase in phases],
        }, hoverinfo="skip",
    )
    figure.add_scatter(
        x=[scale * phase.usual for phase in phases], y=names, mode="markers", name=text.USUAL,
        marker={"symbol": "line-ns", "size": 22,
                "line": {"width": 3, "color": colours["accent"]}}, hoverinfo="skip",
    )
    if check.is_count:
        figure.update_xaxes(rangemode="tozero", ticksuffix="\u202f%")
    symbol = SYMBOLS.get(check.unit, "")
    axis = case_text.CHECK_AXIS if check.is_count else case_text.CHECK_AXIS_MEAN.format(
        symbol=symbol)
    figure.update_xaxes(nticks=6, title={"text": axis})
    figure.update_layout(legend={"y": -0.42, "yanchor": "top"}, margin={"t": 8})
    return figure


def _reach(width: float) -> float:
    return width if width == width else 0.0


def _colour(phase: Phase, colours: dict[str, str]) -> str:
    return colours["alarm"] if phase.name == "during" else colours["ink"]
