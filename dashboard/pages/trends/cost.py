"""Cost of poor quality: by period, and of what is ranked highest."""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.charts import chart_box, drawn
from dashboard.components.states import notice, waiting
from dashboard.components.tables import table
from dashboard.figures.cost import cost_figure
from dashboard.formats import Clock
from dashboard.pages.trends.ranking import mix_words
from dashboard.text import trends as words
from dashboard.view import ANY_DEFECT, TrendsView, records_address
from qc.desk.quality_cost import Price, QualityCost, level_costs, quality_cost
from qc.desk.ranking import tells_apart
from qc.desk.trends import RateTrend
from qc.domain.ranking import Pareto

SETTINGS = "/setup?part=settings"
MOST_RANKED = 5


def cost_section() -> Component:
    """The section before its content."""
    return html.Section([html.H2(words.COST_HEADING, id="cost"),
                         html.Div(waiting(120), id="trends-cost")], className="section")


def no_price() -> Component:
    """One line that says where to set it."""
    return html.P([words.COST_NO_PRICE, " ",
                   dcc.Link(words.COST_NO_PRICE_LINK, href=SETTINGS)], className="no-price")


def cost_panel(
    trend: RateTrend, price: Price, view: TrendsView, scheme: str, clock: Clock,
    links: Sequence[str],
) -> Component:
    """The cost of the period, step by step."""
    if not trend.n_pieces.sum():
        return notice(text.NOTHING_TITLE, text.NOTHING_HELP)
    cost = quality_cost(trend, price)
    what = text.kind_in_sentence(view.kind)
    title = words.COST_TITLE.format(what=what)
    period = (words.whole_weeks(clock.day(int(trend.start_us[0]))) if trend.step == "week"
              else words.period_words(view.period))
    said = words.COST_SAID.format(
        total=formats.money(cost.total, price.currency), period=period,
        usual=formats.money(cost.usual_total, price.currency))
    if view.kind:
        said = f"{said} {text.KIND_COUNTED}"
    unit = (words.COST_UNIT.format(currency=price.currency, step=trend.step) if price.currency
            else words.COST_UNIT_PLAIN.format(step=trend.step))
    figure = cost_figure(cost, trend, scheme, clock, links=links)
    return chart_box(
        drawn("cost", figure, label=f"{title}. {said}", opens=True), title=title, unit=unit,
        description=said, table=_by_step(trend, cost, links, clock, title),
        source=words.COST_SOURCE.format(what=what,
                                        each=formats.money(price.each, price.currency)))


def _by_step(
    trend: RateTrend, cost: QualityCost, links: Sequence[str], clock: Clock, title: str
) -> Component:
    currency = cost.price.currency
    most = float(max(cost.cost.max(), cost.usual.max()))
    rows = [
        (clock.day(int(trend.start_us[i])), formats.count(int(trend.n_defective[i])),
         *(formats.money(float(one[i]), currency, beside=most) for one in (cost.cost, cost.usual)),
         dcc.Link(text.OPEN_RECORDS, href="/trends" + links[i]))
        for i in reversed(range(len(trend.start_us)))
    ]
    return table((text.with_capital(trend.step), *words.COST_HEADS), rows, label=title,
                 numeric=(1, 2, 3))


def ranked_costs(pareto: Pareto, price: Price, view: TrendsView, since_us: int | None) -> Component:
    """The costliest rows of the ranking, with what is more than their mix explains."""
    by = text.RANK_AND.join(text.DIMENSION_WORDS[name] for name in pareto.by)
    costs = level_costs(pareto, price)[:MOST_RANKED]
    if not costs or not costs[0].n_defects:
        return html.Div()
    rows, compared = [], tells_apart(pareto)
    most = max(abs(end) for one in costs for end in (one.cost, one.low, one.high))
    for one in costs:
        levels = tuple(zip(pareto.by, one.level, strict=True))
        mark = "▲ " if compared and one.stands_out and one.beyond > 0 else ""
        beyond = (mark + formats.money(one.beyond, price.currency, beside=most),
                  formats.money_range(one.low, one.high, price.currency, beside=most))
        rows.append((
            " · ".join(text.level_name(*level) for level in levels), formats.count(one.n_defects),
            formats.money(one.cost, price.currency, beside=most), formats.share(one.share),
            *(beyond if compared else (formats.NOT_KNOWN, formats.NOT_KNOWN)),
            dcc.Link(text.OPEN_RECORDS, href=records_address(
                levels, kind=view.kind or ANY_DEFECT, since_us=since_us, first=True))))
    heads = (text.with_capital(by), *(
        head.format(mix=mix_words(pareto.by)) for head in words.COST_RANKED_HEADS))
    return html.Div([
        html.H3(words.COST_RANKED),
        table(heads, rows, label=words.COST_RANKED, numeric=(1, 2, 3, 4, 5)),
        html.P(formats.unbroken(words.COST_RANKED_NOTE), className="source"),
    ], className="paper")
