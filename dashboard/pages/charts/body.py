"""All below the questions: the chart, and beside it what it rests on."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard import text
from dashboard.pages.charts.limits import base_panel, cost_panel, how_panel
from dashboard.pages.charts.panel import Shown, cases_panel, chart_panel, missing_panel, says_panel


def body(shown: Shown, *, can_freeze: bool) -> Component:
    """The chart with everything that says whether to trust it."""
    if shown.found.chart is None:
        return html.Div([missing_panel(shown), *([how_panel(shown)] if shown.found.kinds else [])],
                        className="stack")
    cases = cases_panel(shown, [text.flag_headline(flag) for flag in shown.flags])
    left = [chart_panel(shown), cases, says_panel(shown), base_panel(shown, can_freeze=can_freeze)]
    return html.Div([
        html.Div([one for one in left if one is not None], className="stack"),
        html.Div([how_panel(shown), cost_panel(shown)], className="stack"),
    ], className="charts-two")
