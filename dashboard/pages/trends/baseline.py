"""The foot of the trends: what the usual rates rest on, who decided it, and what is proposed."""

from __future__ import annotations

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import text
from dashboard.components.page import name_field
from dashboard.components.states import cautions, waiting
from dashboard.components.tables import table
from dashboard.formats import Clock
from qc.desk import baseline_words as words
from qc.desk.baseline import BaselineStanding, Period
from qc.desk.shop import Shop
from qc.domain.baselines import FrozenBaseline, Proposal


def baseline_section() -> Component:
    """The section before its content."""
    return html.Section([
        html.H2(text.BASELINE_HEADING),
        html.Div(waiting(160), id="baseline-panel"),
        html.P(id="baseline-said", className="said", role="status"),
    ], className="section")


def baseline_panel(standing: BaselineStanding, shop: Shop, *, can_freeze: bool) -> Component:
    """What counts now, what is proposed, and the way to freeze it."""
    parts: list[Component | None] = [
        html.P(words.rests_on(standing, shop), className="baseline-now")]
    if standing.decision is not None:
        parts.append(html.P(words.reason(standing.decision, shop)))
    parts.append(cautions(words.baseline_cautions(standing, shop)))
    if standing.proposal is None:
        parts.append(html.P(text.BASELINE_NO_WORK))
    else:
        parts += _proposed(standing.proposal, shop, can_freeze)
    if len(standing.history) > 1:
        parts.append(_earlier(standing.history[:-1], shop))
    return html.Div([part for part in parts if part is not None], className="paper baseline")


def _proposed(proposal: Proposal, shop: Shop, can_freeze: bool) -> list[Component | None]:
    found: list[Component | None] = [
        html.H3(words.proposed(proposal, shop)),
        html.Ul([html.Li(line) for line in words.judged(proposal, shop)], className="reasons"),
    ]
    if proposal.is_ready:
        found.append(_form(proposal) if can_freeze else html.P(text.BASELINE_LOOKS_BACK))
    return found


def _form(proposal: Proposal) -> Component:
    """Name, reason and button; what would be frozen is what is shown, whatever comes in since."""
    return html.Div([
        name_field(radius="sm", className="choice"),
        dmc.TextInput(id="baseline-why", label=text.BASELINE_WHY, size="md", radius="sm",
                      className="choice baseline-why"),
        html.Button(text.BASELINE_FREEZE, id="baseline-freeze", className="button",
                    type="button"),
        dcc.Store(id="baseline-period", data=[proposal.from_us, proposal.until_us]),
        html.P(text.BASELINE_MEANS, className="baseline-means"),
    ], className="choices")


def period_of(data: list[int]) -> Period:
    """The period kept beside the form."""
    return Period(from_us=int(data[0]), until_us=int(data[1]))


def _earlier(history: tuple[FrozenBaseline, ...], shop: Shop) -> Component:
    clock = Clock(shop.zone)
    rows = [
        (clock.day(one.decision.decided_at_us),
         text.with_capital(words.period(one.decision, shop)), one.decision.by, one.decision.why)
        for one in reversed(history)
    ]
    return html.Div([html.H3(text.BASELINE_EARLIER),
                     table(text.BASELINE_HEADS, rows, label=text.BASELINE_EARLIER)])
