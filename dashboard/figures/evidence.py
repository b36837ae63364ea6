"""A flagged stream over time: seen against usual, the start of the change shaded."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from dashboard import formats, text
from dashboard.figures.parts import add_band, new_figure, see_through
from dashboard.formats import Clock
from qc.desk.cases import CaseDays
from qc.domain.flags import Flag
from qc.domain.instants import HOUR_US

NOON_US = 12 * HOUR_US
"""Days of a stream begin at midnight UTC; drawn at noon their date is right in any zone."""


def evidence_figure(
    days: CaseDays, flag: Flag, scheme: str, clock: Clock, *, links: Sequence[str] = ()
) -> go.Figure:
    """Share of pieces by day with its 95 % interval; the usual share as a dotted line.

    ``links``: the address each day opens; empty: none.
    """
    figure, colours = new_figure(scheme, height=330)
    x = [clock.wall(int(us) + NOON_US) for us in days.day_start_us]
    seen = 100 * days.n_seen / days.n_pieces
    usual = 100 * days.expected / days.n_pieces
    since, until = (clock.wall(us) for us in flag.changed_between_us)
    figure.add_vrect(x0=since, x1=until, fillcolor=see_through(colours["watch"], 0.25),
                     line={"width": 1.5, "color": colours["watch"], "dash": "dot"})
    figure.add_annotation(x=clock.wall(flag.changed_at_us), y=1, yref="paper", yanchor="bottom",
                          text=text.CHANGED_ABOUT, showarrow=False,
                          font={"size": 14, "color": colours["watch"]})
    add_band(figure, x, list(100 * days.low), list(100 * days.high),
             colour=see_through(colours["ink"], 0.12), name=text.INTERVAL_95)
    figure.add_scatter(x=x, y=usual, mode="lines", name=text.USUAL, hoverinfo="skip",
                       line={"color": colours["accent"], "width": 2, "dash": "dot"})
    figure.add_scatter(
        x=x, y=seen, mode="lines+markers", name=text.SEEN, customdata=list(links) or None,
        line={"color": see_through(colours["ink"], 0.5), "width": 1.5},
        marker={"size": 7, "color": colours["ink"]},
        text=[_hover(days, i, clock) for i in range(len(x))],
        hovertemplate="%{text}<extra></extra>",
    )
    figure.update_yaxes(ticksuffix="\u202f%", rangemode="tozero", nticks=6,
                        range=[0, float(max(seen.max(), usual.max()) * 1.25) or 1.0])
    figure.update_xaxes(nticks=6, tickformat="%d %b")
    figure.update_layout(legend={"y": -0.16, "yanchor": "top"}, margin={"t": 28})
    return figure


def _hover(days: CaseDays, i: int, clock: Clock) -> str:
    return (
        f"<b>{clock.day(int(days.day_start_us[i]) + NOON_US)}</b><br>"
        f"{formats.count(days.n_seen[i])} of {formats.count(days.n_pieces[i])} pieces<br>"
        f"usual: {formats.decimal(days.expected[i])}"
    )
