"""All below the questions: the chart, and beside it what it rests on."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.attributes import flags_shown
from dashboard.components.states import cautions, notice, ways_to_begin
from dashboard.pages.charts.bare import bare_panels
from dashboard.pages.charts.cases import cases_panel
from dashboard.pages.charts.limits import base_panel, cost_panel, how_panel
from dashboard.pages.charts.panel import Shown, chart_panel, missing_panel, says_panel
from dashboard.text import charts as words


def body(shown: Shown, *, can_freeze: bool) -> Component:
    """The chart with everything that says whether to trust it."""
    head = html.Div(cautions((words.NOT_HERE.format(what=", ".join(shown.not_here)),)),
                    className="charts-not-here") if shown.not_here else None
    inside = _parts(shown, can_freeze=can_freeze)
    # what of the flags is on the page: with newer ones the browser asks for it anew
    return html.Div([one for one in (head, inside) if one is not None],
                    **flags_shown(shown.flags_mark))


def empty_body() -> Component:
    """What there is to do where no piece, survey or check is recorded."""
    return notice(text.CHARTS_EMPTY_TITLE, text.CHARTS_EMPTY_HELP, ways_to_begin())


def _parts(shown: Shown, *, can_freeze: bool) -> Component:
    found = shown.found
    cases = cases_panel(shown, [text.flag_headline(flag) for flag in shown.flags or ()])
    base = base_panel(shown, can_freeze=can_freeze)
    left: list[Component | None]
    if found.chart is None:
        bare = bare_panels(shown)
        left = [missing_panel(shown), *bare, *([cases] if bare else []),
                *([base] if found.kinds else [])]
        right = [how_panel(shown)] if found.kinds else []
    else:
        left = [chart_panel(shown), cases, says_panel(shown), base]
        right = [how_panel(shown), cost_panel(shown)]
    stack = html.Div([one for one in left if one is not None], className="stack")
    if not right:
        return stack
    return html.Div([stack, html.Div(right, className="stack")], className="charts-two")
