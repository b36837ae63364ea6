"""A platen's map and its drift."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboard import formats, text
from dashboard.figures.parts import add_band, new_figure, see_through
from dashboard.formats import Clock, Heat
from dashboard.theme import HEAT, Palette
from qc.domain.platens import DriftSeries, PlatenMap


def map_figure(platen: PlatenMap, scheme: str, heat: Heat) -> go.Figure:
    """Errors by place: smooth between the probed points, each of which shows with its number; far
    edge at the top."""
    per = heat.shown(1.0)
    error, surface = per * platen.error_c, per * platen.surface_c
    n_rows, n_cols = error.shape
    figure, colours = new_figure(scheme, height=96 * n_rows + 70)
    reach = max(float(np.nan_to_num(np.abs(error)).max()),
                heat.shown(platen.temperature_tolerance_c or 3.0))
    figure.add_heatmap(
        z=surface, x=np.linspace(0, n_cols - 1, surface.shape[1]),
        y=np.linspace(0, n_rows - 1, surface.shape[0]), zmin=-reach, zmax=reach, showscale=False,
        colorscale=[list(stop) for stop in HEAT[scheme]], hoverinfo="skip", hoverongaps=False,
        zsmooth="best",
    )
    at = [(int(i), int(j)) for i, j in np.argwhere(np.isfinite(error))]
    figure.add_scatter(
        x=[j for _, j in at], y=[i for i, _ in at], mode="markers", showlegend=False,
        marker={"size": 13, "color": colours["sheet"],
                "line": {"width": 3, "color": colours["ink"]}},
        customdata=[(i + 1, j + 1, error[i, j]) for i, j in at],
        hovertemplate=text.MAP_HOVER + f" {heat.symbol}<extra></extra>",
    )
    for i, j in at:
        _write(figure, (i, j), float(error[i, j]), _mark(platen, i + 1, j + 1), colours)
    room = 0.5
    figure.add_shape(type="rect", x0=-0.95 * room, x1=n_cols - 1 + 0.95 * room, y0=-0.95 * room,
                     y1=n_rows - 1 + 0.95 * room, line={"width": 2, "color": colours["edge"]},
                     layer="below")
    figure.update_yaxes(range=[n_rows - 1 + room, -room], showgrid=False,
                        tickvals=[0, n_rows - 1], ticktext=[text.FAR, text.NEAR], ticks="",
                        tickangle=-90)
    figure.update_xaxes(range=[-room, n_cols - 1 + room], showgrid=False, showline=False, ticks="",
                        side="top", tickvals=[0, n_cols - 1], ticktext=[text.LEFT, text.RIGHT])
    return figure


def _mark(platen: PlatenMap, row: int, col: int) -> str:
    if (row, col) == tuple(platen.coldest):
        return text.COLDEST
    return text.HOTTEST if (row, col) == tuple(platen.hottest) else ""


def _write(
    figure: go.Figure, at: tuple[int, int], value: float, mark: str, colours: Palette
) -> None:
    """The number of a probed point under it, on paper of its own so that it reads on any heat."""
    second = f" <span style='font-size:13px'>{mark}</span>" if mark else ""
    figure.add_annotation(
        x=at[1], y=at[0], yshift=-24, showarrow=False, borderpad=3,
        bgcolor=see_through(colours["sheet"], 0.86),
        text=f"<b>{formats.decimal(value, sign=True)}</b>{second}",
        font={"size": 17, "color": colours["ink"]},
    )


def drift_figure(drift: DriftSeries, scheme: str, clock: Clock, heat: Heat) -> go.Figure:
    """Mean error of each survey in its tolerance band, the line since adjustment, its fan ahead."""
    figure, colours = new_figure(scheme, height=360)
    at = [clock.wall(int(us)) for us in drift.at_us]
    ahead = [clock.wall(int(us)) for us in drift.forecast_at_us]
    per = heat.shown(1.0)
    if drift.temperature_tolerance_c is not None and (at or ahead):
        reach = heat.shown(drift.temperature_tolerance_c)
        ends = [at[0], (ahead or at)[-1]]
        add_band(figure, ends, [-reach] * 2, [reach] * 2, name=text.TOLERANCE,
                 colour=see_through(colours["accent"], 0.15))
    if ahead:
        add_band(figure, ahead, list(per * drift.forecast_low_c), list(per * drift.forecast_high_c),
                 name=text.FAN, colour=see_through(colours["watch"], 0.28))
        figure.add_scatter(x=ahead, y=per * drift.forecast_c, mode="lines", hoverinfo="skip",
                           name=text.FORECAST, line={"color": colours["watch"], "width": 2.5,
                                                     "dash": "dash"})
    if len(drift.fitted_at_us):
        figure.add_scatter(x=[clock.wall(int(us)) for us in drift.fitted_at_us],
                           y=per * drift.fitted_c, mode="lines", hoverinfo="skip",
                           name=text.LINE, line={"color": colours["watch"], "width": 2.5})
    _add_surveys(figure, drift, at, per, clock, heat, colours["ink"])
    figure.add_hline(y=0, line={"color": colours["edge"], "width": 1})
    figure.update_yaxes(ticksuffix=f"\u202f{heat.symbol}", nticks=7)
    figure.update_xaxes(nticks=6, tickformat="%d %b")
    figure.update_layout(legend={"y": -0.14, "yanchor": "top"})
    return figure


_SYMBOLS = {"routine": "circle", "as_found": "triangle-down-open", "as_left": "square"}


def _add_surveys(
    figure: go.Figure, drift: DriftSeries, at: list[str], per: float, clock: Clock, heat: Heat,
    colour: str,
) -> None:
    """One trace for each state of survey, each with its own shape."""
    for state, symbol in _SYMBOLS.items():
        mine = [i for i, s in enumerate(drift.states) if s == state]
        if mine:
            figure.add_scatter(
                x=[at[i] for i in mine], y=[per * float(drift.offset_c[i]) for i in mine],
                mode="markers", name=text.SURVEY_NAMES[state],
                marker={"size": 11, "symbol": symbol, "color": colour, "line": {"width": 2}},
                text=[_survey_words(drift, i, clock, heat) for i in mine],
                hovertemplate="%{text}<extra></extra>",
            )


def _survey_words(drift: DriftSeries, i: int, clock: Clock, heat: Heat) -> str:
    return (
        f"<b>{clock.day(int(drift.at_us[i]))}</b>, {text.SURVEY_STATES[drift.states[i]]}<br>"
        f"mean error {heat.difference(float(drift.offset_c[i]))}<br>"
        f"hottest minus coldest {heat.difference(float(drift.spread_c[i]), sign=False)}"
    )
