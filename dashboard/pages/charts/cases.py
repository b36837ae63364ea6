"""The flags that touch a stream, and how each stands."""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc, html
from dash.development.base_component import Component

from dashboard.formats import Clock
from dashboard.pages.charts.panel import Shown, case_mark
from dashboard.text import charts as words
from dashboard.view import CasesView, address
from qc.domain.flags import Flag


def cases_panel(shown: Shown, headlines: Sequence[str]) -> Component:
    """The flags that touch the stream, as they are numbered in the chart, and how each stands."""
    return html.Section([html.H3(words.CASES_TITLE), html.Div(
        _cases(shown, headlines), id="charts-cases")], className="paper")


def _cases(shown: Shown, headlines: Sequence[str]) -> Component:
    if not shown.flags:
        return html.P(words.CASES_LOOKING if shown.flags is None else words.CASES_NONE)
    return html.Ul([html.Li([
        html.Span(case_mark(flag, k),
                  className=f"mark tone-{'alarm' if flag.is_open else 'quiet'}"), " ",
        dcc.Link(headline, href="/cases" + address(CasesView(flag=flag.id))),
        html.Span(_standing(flag, shown.clock)),
    ]) for k, (flag, headline) in enumerate(zip(shown.flags, headlines, strict=True), start=1)],
        className="ways")


def _standing(flag: Flag, clock: Clock) -> str:
    """Since when, and whether it goes on: a flag that another explains is nobody's open case."""
    since = clock.day(flag.changed_at_us)
    if flag.ended_at_us is None:
        return words.CASE_OPEN.format(since=since)
    said = words.CASE_ENDED if flag.part_of is None else words.CASE_EXPLAINED
    return said.format(since=since, until=clock.day(flag.ended_at_us))
