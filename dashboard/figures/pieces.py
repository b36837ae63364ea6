"""What the finished pieces say about a platen, as a map."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboard import formats, text
from dashboard.figures.parts import new_figure
from dashboard.theme import HEAT, between, ink_on
from qc.domain.piece_maps import SIDE, PieceMap

MOST_DOUBLINGS = 3.0
"""The deepest colour: eight times the usual or more."""


def pieces_figure(found: PieceMap, scheme: str) -> go.Figure:
    """Seen over usual by place, the numbers in every cell; far edge at the top. What stands out is
    framed and named."""
    figure, colours = new_figure(scheme, height=108 * SIDE + 70)
    ratio = np.divide(found.seen, found.expected, out=np.ones((SIDE, SIDE)),
                      where=found.expected > 0)
    depth = np.clip(np.log2(np.maximum(ratio, 2**-MOST_DOUBLINGS)) / MOST_DOUBLINGS, 0.0, 1.0)
    figure.add_heatmap(
        z=depth, zmin=-1, zmax=1, colorscale=[list(stop) for stop in HEAT[scheme]],
        showscale=False, xgap=5, ygap=5, hoverinfo="skip",
    )
    spots = {spot.place for spot in found.spots}
    for (i, j), value in np.ndenumerate(ratio):
        ink = ink_on(between(HEAT[scheme], 0.5 + float(depth[i, j]) / 2))
        named = f"<br><b>{text.TOO_MANY_HERE}</b>" if (i + 1, j + 1) in spots else ""
        times = formats.times(float(value)) if found.expected[i, j] > 0 else formats.NOT_KNOWN
        figure.add_annotation(
            x=j, y=i, showarrow=False, font={"size": 14, "color": ink},
            text=f"<b style='font-size:18px'>{times}</b><br>" + text.SEEN_OF_USUAL.format(
                seen=formats.count(float(found.seen[i, j])),
                usual=formats.decimal(float(found.expected[i, j]))) + named)
        if named:
            figure.add_shape(type="rect", x0=j - 0.46, x1=j + 0.46, y0=i - 0.46, y1=i + 0.46,
                             line={"width": 4, "color": colours["ink"]})
    figure.update_yaxes(autorange="reversed", showgrid=False, tickvals=[0, SIDE - 1],
                        ticktext=[text.FAR, text.NEAR], ticks="", tickangle=-90)
    figure.update_xaxes(showgrid=False, showline=False, ticks="", side="top",
                        tickvals=[0, SIDE - 1], ticktext=[text.LEFT, text.RIGHT])
    return figure
