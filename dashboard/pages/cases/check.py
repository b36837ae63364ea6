"""Did it work: the check of the newest action, as a sentence with a small figure."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.charts import chart_box, drawn
from dashboard.components.states import cautions, mark
from dashboard.components.tables import table
from dashboard.figures.action_check import check_figure
from dashboard.formats import Clock
from dashboard.text import cases as case_text
from dashboard.view import TrendsView, address
from qc.desk.before_after import FILTERS
from qc.desk.cases import Case
from qc.domain.action_checks import SYMBOLS, ActionCheck, Phase, check_sentence


def comparison_address(case: Case, check: ActionCheck | None) -> str:
    """Where Trends holds the pieces before an action against those after it; empty without an
    action, or where no share of pieces is concerned."""
    if check is None or case.days is None:
        return ""
    factor = case.flag.factor
    of = f"{factor.name}:{factor.level}" if factor.name in FILTERS and factor.level else ""
    view = TrendsView(kind=case.shown_kind or "", at=str(check.since_us), of=of)
    return f"/trends{address(view)}#before-after"


def sentence(check: ActionCheck) -> str:
    """The verdict with its numbers, written as everywhere here."""
    return formats.in_sentence(check_sentence(check))


def check_panel(
    check: ActionCheck | None, what: str, scheme: str, clock: Clock, *, there: str = ""
) -> list[Component]:
    """The verdict in words, then the figure it can be seen in. ``there``: where the same moment is
    compared in the Trends; empty: nowhere."""
    if check is None:
        return [html.H3(case_text.CHECK_TITLE), html.P(case_text.CHECK_NONE, className="hint")]
    head = html.Div(
        [html.H3(case_text.CHECK_TITLE),
         mark(case_text.VERDICT_TONES[check.verdict], case_text.check_head(check.verdict),
              large=True)], className="piece-head")
    words = html.P(text.with_capital(sentence(check)) + ".", className="check-words")
    told = cautions(tuple(text.with_capital(one) + "." for one in check.cautions))
    parts = [head, words, *([told] if told else [])]
    if any(phase.n_pieces for phase in check.phases):
        parts.append(_figure(check, what, scheme, clock))
    if there:
        parts.append(html.P(dcc.Link(case_text.CHECK_COMPARE, href=there)))
    return parts


def _figure(check: ActionCheck, what: str, scheme: str, clock: Clock) -> Component:
    unit = (case_text.CHECK_UNIT.format(what=what) if check.is_count
            else case_text.CHECK_UNIT_MEAN.format(symbol=SYMBOLS.get(check.unit, "")))
    source = case_text.CHECK_SOURCE.format(
        method=text.with_capital(check.method), risk=formats.share(check.risk, 0))
    rows = [_row(check, phase, clock) for phase in check.phases]
    return chart_box(
        drawn("check", check_figure(check, scheme), label=sentence(check)),
        title=case_text.CHECK_FIGURE, unit=unit, source=source,
        table=table(case_text.CHECK_HEADS, rows, label=case_text.CHECK_TITLE, numeric=(1, 2, 3, 4)),
    )


def _row(check: ActionCheck, phase: Phase, clock: Clock) -> tuple[str, ...]:
    when = f"{case_text.PHASE_WORDS[phase.name]}: {clock.span(phase.since_us, phase.until_us)}"
    if phase.n_pieces == 0:
        return when, "0", formats.NOT_KNOWN, formats.NOT_KNOWN, formats.NOT_KNOWN
    value, low, high, usual = (_shown(check, one)
                               for one in (phase.value, phase.low, phase.high, phase.usual))
    return when, formats.count(phase.n_pieces), value, f"{low} to {high}", usual


def _shown(check: ActionCheck, value: float) -> str:
    if check.is_count:
        return formats.share(value)
    if value != value:
        return formats.NOT_KNOWN
    scale = 100 if check.unit == "share" else 1
    return formats.decimal(scale * value, 2, sign=True) + SYMBOLS.get(check.unit, "")
