"""Levels against what their mix would give: a ratio with its interval, usual is 1."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10
from typing import Any

import plotly.graph_objects as go

from dashboard.figures.parts import new_figure, see_through

MOST_BARS = 15
_LEAST, _MOST = 0.1, 20.0
_TICKS = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioBar:
    """One level: its ratio with interval (None: not known), how it is spoken of, where it leads."""

    label: str
    ratio: float | None
    low: float | None
    high: float | None
    stands_out: bool
    hover: str
    link: str
    note: str


def ratio_figure(bars: Sequence[RatioBar], scheme: str) -> go.Figure:
    """Bars of the 95 % interval with a mark at the ratio, on a log scale about 1.

    A level that stands out has a heavy bar and a filled diamond, the others a light bar and a
    ring.
    """
    shown = list(bars)[:MOST_BARS]
    figure, colours = new_figure(scheme, height=80 + 46 * max(len(shown), 1))
    labels = [bar.label for bar in shown]
    known = [bar for bar in shown if bar.ratio is not None and bar.high is not None]
    for stands_out in (False, True):
        some = [bar for bar in known if bar.stands_out == stands_out]
        if some:
            _add(figure, some, colours["alarm"] if stands_out else colours["edge"], stands_out)
    figure.add_vline(x=1, line={"color": colours["ink"], "width": 1.5, "dash": "dot"})
    figure.update_yaxes(categoryorder="array", categoryarray=labels[::-1], showgrid=False,
                        ticks="", tickfont={"size": 15, "color": colours["ink"]})
    figure.update_xaxes(type="log", showgrid=True, range=_range(known), tickvals=_TICKS,
                        ticktext=[f"{tick:g}×" for tick in _TICKS], side="top", showline=False)
    figure.update_layout(barmode="overlay", bargap=0.45, showlegend=False, margin={"t": 8, "b": 6})
    return figure



def _add(figure: go.Figure, bars: list[RatioBar], colour: str, stands_out: bool) -> None:
    low = [max(bar.low or _LEAST, _LEAST) for bar in bars]
    high = [min(bar.high or _MOST, _MOST) for bar in bars]
    common: dict[str, Any] = {
        "y": [bar.label for bar in bars], "customdata": [bar.link for bar in bars],
        "text": [bar.hover for bar in bars], "hovertemplate": "%{text}<extra></extra>",
    }
    _add_span(figure, low, high, colour, stands_out, common)
    figure.add_scatter(
        x=[min(max(bar.ratio or _LEAST, _LEAST), _MOST) for bar in bars], mode="markers",
        marker={"size": 15 if stands_out else 11, "color": colour,
                "symbol": "diamond" if stands_out else "circle-open", "line": {"width": 2}},
        **common,
    )


def _add_span(
    figure: go.Figure, low: list[float], high: list[float], colour: str, stands_out: bool,
    common: dict[str, Any],
) -> None:
    figure.add_bar(
        x=[h - lo for lo, h in zip(low, high, strict=True)], base=low, orientation="h",
        textposition="none",
        marker={"color": see_through(colour, 0.45 if stands_out else 0.25),
                "line": {"color": colour, "width": 2 if stands_out else 1}}, **common,
    )


def _range(bars: list[RatioBar]) -> list[float]:
    """Ends of the log axis in decades: what is there, 1 always inside."""
    low = min([max(bar.low or _LEAST, _LEAST) for bar in bars] + [0.5])
    high = max([min(bar.high or _MOST, _MOST) for bar in bars] + [2.0])
    return [log10(low) - 0.05, log10(high) + 0.05]
