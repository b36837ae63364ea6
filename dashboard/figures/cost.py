"""What pieces with a defect cost, step by step, beside what the usual rates would have cost."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard import formats
from dashboard.figures.parts import new_figure, see_through
from dashboard.formats import Clock
from dashboard.text import trends as words
from qc.desk.quality_cost import QualityCost
from qc.desk.trends import RateTrend


def cost_figure(
    cost: QualityCost, trend: RateTrend, scheme: str, clock: Clock, *, links: Sequence[str]
) -> go.Figure:
    """Bars by day or week, each opening its records; the usual cost as a dotted line."""
    figure, colours = new_figure(scheme, height=300)
    x = [clock.wall(int(us)) for us in trend.start_us]
    currency = cost.price.currency
    hover = [
        f"<b>{clock.day(int(us))}</b><br>{formats.money(float(seen), currency)}"
        f" (usual {formats.money(float(usual), currency)})"
        for us, seen, usual in zip(trend.start_us, cost.cost, cost.usual, strict=True)
    ]
    figure.add_bar(x=x, y=cost.cost, name=words.COST_SEEN, customdata=list(links), text=hover,
                   textposition="none", hovertemplate="%{text}<extra></extra>",
                   marker={"color": see_through(colours["ink"], 0.62), "line": {"width": 0}})
    figure.add_scatter(x=x, y=cost.usual, mode="lines+markers", name=words.COST_USUAL,
                       hoverinfo="skip", marker={"size": 6, "color": colours["accent"]},
                       line={"color": colours["accent"], "width": 2, "dash": "dot"})
    figure.update_yaxes(rangemode="tozero", nticks=6, tickformat=",.0f")
    figure.update_xaxes(nticks=6, tickformat="%d %b")
    figure.update_layout(bargap=0.25)
    return figure
