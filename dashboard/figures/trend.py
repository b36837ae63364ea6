"""A rate over time inside the band that luck would give."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import plotly.graph_objects as go

from dashboard import formats, text
from dashboard.figures.parts import add_band, new_figure, see_through
from dashboard.formats import Clock
from qc.desk.trends import RateTrend


def rate_figure(
    trend: RateTrend, scheme: str, clock: Clock, *, links: Sequence[str], as_yield: bool = False,
) -> go.Figure:
    """Shares by day or week; ``as_yield`` shows the pieces without a defect instead.

    ``links``: the address each point opens.
    """
    figure, colours = new_figure(scheme, height=330)
    x = [clock.wall(int(us)) for us in trend.start_us]
    seen, usual = _sides(trend.share, as_yield), _sides(trend.usual, as_yield)
    lower, upper = _sides(trend.lower, as_yield), _sides(trend.upper, as_yield)
    if as_yield:
        lower, upper = upper, lower
    add_band(figure, x, lower, upper, colour=see_through(colours["accent"], 0.16), name=text.BAND)
    figure.add_scatter(x=x, y=usual, mode="lines", name=text.USUAL, hoverinfo="skip",
                       line={"color": colours["accent"], "width": 1.5, "dash": "dot"})
    hover = [_hover(trend, i, clock, as_yield) for i in range(len(x))]
    figure.add_scatter(
        x=x, y=seen, mode="lines+markers", name=text.SEEN, customdata=list(links),
        text=hover, hovertemplate="%{text}<extra></extra>",
        line={"color": see_through(colours["ink"], 0.45), "width": 1.5},
        marker={"size": 7, "color": colours["ink"]},
    )
    _mark_outside(figure, trend, x, seen, hover, links, colours["alarm"])
    _axes(figure, [*seen, *upper], [*seen, *lower], as_yield)
    return figure


def _sides(share: np.ndarray, as_yield: bool) -> list[float]:
    shown = 1 - share if as_yield else share
    return [float(100 * value) for value in shown]


def _mark_outside(
    figure: go.Figure, trend: RateTrend, x: list[str], seen: list[float], hover: list[str],
    links: Sequence[str], colour: str,
) -> None:
    at = [int(i) for i in np.flatnonzero(trend.outside)]
    if at:
        figure.add_scatter(
            x=[x[i] for i in at], y=[seen[i] for i in at], mode="markers", name=text.STANDS_OUT,
            customdata=[links[i] for i in at], text=[hover[i] for i in at],
            hovertemplate="%{text}<extra></extra>",
            marker={"size": 15, "symbol": "diamond-open", "color": colour, "line": {"width": 3}},
        )


def _hover(trend: RateTrend, i: int, clock: Clock, as_yield: bool) -> str:
    bad, n = int(trend.n_defective[i]), int(trend.n_pieces[i])
    share = 1 - trend.share[i] if as_yield else trend.share[i]
    usual = 1 - trend.usual[i] if as_yield else trend.usual[i]
    return (
        f"<b>{clock.day(int(trend.start_us[i]))}</b><br>{formats.share(share)}"
        f" (usual {formats.share(usual)})<br>{formats.count(bad)} of {formats.count(n)} pieces"
    )


def _axes(figure: go.Figure, high: list[float], low: list[float], as_yield: bool) -> None:
    if as_yield:
        bottom = max(0.0, min(low, default=0.0) - 1)
        figure.update_yaxes(range=[bottom, 100.4])
    else:
        figure.update_yaxes(range=[0, max(high, default=1.0) * 1.12 or 1.0])
    figure.update_yaxes(ticksuffix="\u202f%", nticks=6)
    figure.update_xaxes(nticks=6, tickformat="%d %b")
