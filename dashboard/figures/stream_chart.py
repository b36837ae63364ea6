"""The control chart of a stream: limits as a band, marks with shape and word, changes shaded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import plotly.graph_objects as go

from dashboard.figures.parts import add_band, new_figure, see_through
from dashboard.formats import Clock
from dashboard.text import charts as words
from dashboard.theme import Palette

Floats = npt.NDArray[np.float64]
MOST_WORDS = 14
"""So many words have room beside each other; points that signal between two have only a shape."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaded:
    """A stretch of an open case: first and last position, its number and where it leads."""

    first: float
    last: float
    name: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Drawn:
    """One plotted statistic as it is read: values in the shop's unit.

    ``at`` : 1-based positions of the points. ``tone`` : '' or how a point signals, 'above',
    'below', 'pattern'. ``base`` : first and last position limits come from. ``left_out`` : their
    positions. ``change`` : first, most likely and last position a change began at.
    """

    at: npt.NDArray[np.int64]
    value: Floats
    lower: Floats
    upper: Floats
    centre: Floats
    tone: tuple[str, ...]
    hover: tuple[str, ...]
    links: tuple[str, ...]
    centre_name: str = words.CENTRE
    base: tuple[int, int] | None = None
    left_out: tuple[int, ...] = ()
    change: tuple[int, int, int] | None = None
    shaded: tuple[Shaded, ...] = ()
    suffix: str = ""
    from_zero: bool = False


SHAPES = {"above": ("triangle-up", words.ABOVE, words.ABOVE_NAME),
          "below": ("triangle-down", words.BELOW, words.BELOW_NAME),
          "pattern": ("square-open", words.PATTERN, words.PATTERN_NAME)}


def stream_figure(
    drawn: Drawn, scheme: str, clock: Clock, starts: npt.NDArray[np.int64], *, height: int = 400,
    labels: Sequence[str] = (),
) -> go.Figure:
    """The figure. ``starts`` : when each position begins; ``labels`` : names of positions, if any.

    Points stand at equal distances, in order; the axis says when they were.
    """
    figure, colours = new_figure(scheme, height=height)
    x = drawn.at.astype(float)
    _shade(figure, drawn, colours)
    if not np.isnan(drawn.upper).all():
        low = np.where(np.isnan(drawn.lower), _floor(drawn), drawn.lower)
        add_band(figure, list(x), list(low), list(drawn.upper), stepped=True, name=words.BAND,
                 colour=see_through(colours["accent"], 0.17))
    if np.isfinite(drawn.centre).all():
        figure.add_scatter(x=x, y=drawn.centre, mode="lines", name=drawn.centre_name,
                           hoverinfo="skip", line={"color": colours["accent"], "width": 1.6,
                                                   "dash": "dot", "shape": "hvh"})
    many = len(x) > 300
    figure.add_scatter(
        x=x, y=drawn.value, mode="markers" if many else "lines+markers", name=words.SEEN,
        customdata=list(drawn.links), text=list(drawn.hover),
        hovertemplate="%{text}<extra></extra>",
        line={"color": see_through(colours["ink"], 0.4), "width": 1.4},
        marker={"size": 4 if many else 7, "color": colours["ink"]},
    )
    _mark(figure, drawn, colours)
    _axes(figure, drawn, clock, starts, labels, colours)
    return figure


def _floor(drawn: Drawn) -> float:
    """Where a band without a lower limit ends."""
    return 0.0 if drawn.from_zero else float(np.nanmin(drawn.value))


def _mark(figure: go.Figure, drawn: Drawn, colours: Palette) -> None:
    """Points that signal: a shape, a word and a colour each; points left out as empty rings."""
    named = _named(drawn.tone)
    for tone, (symbol, word, name) in SHAPES.items():
        at = [k for k, one in enumerate(drawn.tone) if one == tone]
        if not at:
            continue
        colour = colours["watch" if tone == "pattern" else "alarm"]
        figure.add_scatter(
            x=[float(drawn.at[k]) for k in at], y=[float(drawn.value[k]) for k in at],
            mode="markers+text", name=name, customdata=[drawn.links[k] for k in at],
            hovertext=[drawn.hover[k] for k in at], hovertemplate="%{hovertext}<extra></extra>",
            text=[word.split()[1] if k in named else "" for k in at],
            textposition="bottom center" if tone == "below" else "top center",
            textfont={"size": 13, "color": colour}, cliponaxis=False,
            marker={"size": 14, "symbol": symbol, "color": colour, "line": {"width": 2.5}},
        )
    out = [k for k, at in enumerate(drawn.at.tolist()) if at in drawn.left_out]
    if out:
        figure.add_scatter(
            x=[float(drawn.at[k]) for k in out], y=[float(drawn.value[k]) for k in out],
            mode="markers", name=words.LEFT_OUT, hoverinfo="skip",
            marker={"size": 17, "symbol": "circle-open-dot", "color": colours["soft"],
                    "line": {"width": 2}})


def _named(tone: Sequence[str]) -> set[int]:
    """The points named by a word: as many as have room beside each other."""
    room, named, last = max(len(tone) / MOST_WORDS, 1.0), set(), -np.inf
    for k, one in enumerate(tone):
        if one and k - last >= room:
            named.add(k)
            last = k
    return named


def _shade(figure: go.Figure, drawn: Drawn, colours: Palette) -> None:
    """Open cases, the interval a change began in, and where limits come from."""
    for k, one in enumerate(drawn.shaded):
        figure.add_vrect(x0=one.first - 0.5, x1=one.last + 0.5, line={"width": 0}, layer="below",
                         fillcolor=see_through(colours["alarm"], 0.10))
        figure.add_annotation(x=one.first - 0.4, y=1, yref="paper", yanchor="top", yshift=-16 * k,
                              xanchor="left", text=one.name, showarrow=False,
                              font={"size": 13, "color": colours["alarm"]})
    if drawn.change is not None:
        first, best, last = drawn.change
        figure.add_vrect(x0=first - 0.5, x1=last + 0.5, layer="below",
                         fillcolor=see_through(colours["watch"], 0.3),
                         line={"width": 1.5, "color": colours["watch"], "dash": "dot"})
        figure.add_annotation(x=best, y=1, yref="paper", yanchor="bottom", text=words.CHANGE_BEGAN,
                              showarrow=False, font={"size": 14, "color": colours["watch"]})
    if drawn.base is not None:
        first, last = drawn.base
        figure.add_shape(type="line", x0=first - 0.4, x1=last + 0.4, y0=0.012, y1=0.012,
                         yref="paper", line={"width": 5, "color": colours["thread"]})
        figure.add_annotation(x=(first + last) / 2, y=0.02, yref="paper", yanchor="bottom",
                              text=words.LIMITS_FROM, showarrow=False,
                              bgcolor=see_through(colours["sheet"], 0.75),
                              font={"size": 13, "color": colours["soft"]})


def _axes(
    figure: go.Figure, drawn: Drawn, clock: Clock, starts: npt.NDArray[np.int64],
    labels: Sequence[str], colours: Palette,
) -> None:
    n = len(starts)
    every = max(int(np.ceil(n / 5)), 1)
    at = list(range(1, n + 1, every))
    ticks = [labels[k - 1] if labels else clock.short_day(int(starts[k - 1])) for k in at]
    figure.update_xaxes(tickvals=at, ticktext=ticks, range=[0.3, n + 0.7], tickangle=0)
    figure.update_yaxes(ticksuffix=drawn.suffix, nticks=6, range=list(_reach(drawn)))
    figure.update_layout(legend={"y": -0.14, "yanchor": "top"}, margin={"t": 26, "r": 10})


def _reach(drawn: Drawn) -> tuple[float, float]:
    """Lowest and highest of the axis: room for points, limits and words."""
    lines = (drawn.value, drawn.lower, drawn.upper)
    ends = [one[np.isfinite(one)] for one in lines]
    low = min(float(one.min()) for one in ends if len(one))
    high = max(float(one.max()) for one in ends if len(one))
    room = (high - low) or abs(high) or 1.0
    bottom = 0.0 if drawn.from_zero else low - 0.05 * room
    foot = 0.0 if drawn.base is None else 0.15 * room
    words_below = 0.1 * room if "below" in drawn.tone else 0.0
    return bottom - foot - words_below, high + 0.16 * room
