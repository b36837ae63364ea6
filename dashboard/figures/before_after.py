"""Two stretches side by side: each share with its interval, and what no change would have given."""

from __future__ import annotations

from collections.abc import Mapping

import plotly.graph_objects as go

from dashboard import formats, text
from dashboard.figures.parts import new_figure
from dashboard.text import trends as words
from qc.desk.before_after import BeforeAfter, Side


def before_after_figure(
    found: BeforeAfter, scheme: str, *, links: Mapping[str, str]
) -> go.Figure:
    """One row for each stretch, the earlier at the top. ``links``: what each row opens."""
    figure, colours = new_figure(scheme, height=210)
    sides = [(name, side) for name, side in (("after", found.after), ("before", found.before))
             if side.share is not None]
    tone = {"rose": colours["alarm"], "fell": colours["accent"]}.get(found.verdict, colours["ink"])
    shown = {"before": words.BEFORE, "after": words.AFTER}
    figure.add_scatter(
        x=[100 * (side.share or 0) for _, side in sides], y=[shown[name] for name, _ in sides],
        mode="markers", name=text.SEEN, customdata=[links[name] for name, _ in sides],
        marker={"size": 13, "color": [tone if name == "after" else colours["ink"]
                                      for name, _ in sides]},
        error_x={
            "type": "data", "symmetric": False, "thickness": 2.5, "width": 7,
            "color": colours["ink"],
            "array": [100 * ((side.high or 0) - (side.share or 0)) for _, side in sides],
            "arrayminus": [100 * ((side.share or 0) - (side.low or 0)) for _, side in sides],
        },
        text=[_hover(side) for _, side in sides], hovertemplate="%{text}<extra></extra>",
    )
    stayed = found.as_before
    if stayed is not None:
        figure.add_scatter(
            x=[100 * stayed], y=[words.AFTER], mode="markers", name=words.LIKE_BEFORE,
            marker={"symbol": "line-ns", "size": 26,
                    "line": {"width": 3, "color": colours["accent"]}}, hoverinfo="skip")
    figure.update_xaxes(rangemode="tozero", ticksuffix="\u202f%", nticks=6, showgrid=True)
    figure.update_yaxes(showgrid=False, range=[-0.6, len(sides) - 0.4],
                        tickfont={"size": 16, "color": colours["ink"]})
    figure.update_layout(legend={"y": -0.25, "yanchor": "top"}, margin={"t": 8})
    return figure


def _hover(side: Side) -> str:
    return (f"<b>{formats.share(side.share)}</b><br>"
            f"{formats.count(side.n_defective)} of {formats.count(side.n_pieces)} pieces")
