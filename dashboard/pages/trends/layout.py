"""Trends: yield and defect rate over time, ranked defects, and the records behind them."""

from __future__ import annotations

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import named
from dashboard.components.charts import chart_box, drawn
from dashboard.components.page import one_from, one_of, page
from dashboard.components.states import cautions, notice, waiting, ways_to_begin
from dashboard.components.tables import table
from dashboard.figures.trend import rate_figure
from dashboard.formats import Clock
from dashboard.pages.trends.baseline import baseline_section
from dashboard.pages.trends.compared import compared_section
from dashboard.pages.trends.cost import cost_section
from dashboard.pages.trends.months import months_line
from dashboard.pages.trends.moved import moved_section
from dashboard.text import trends as words
from dashboard.view import SPANS, ChartsView, TrendsView, address, read_view
from qc.desk.shares import Share, whole_share
from qc.desk.trends import PieceRecords, RateTrend
from qc.domain.kinds import defect_kinds, findings_in_words
from qc.domain.ranking import DIMENSIONS, ORDERS

CHOICES = ("period", "step", "kind", "by", "then", "order", "span", "of")
LATER_MS = 400
"""What is further down is asked so much later: the first look comes first."""
BLANK = {"kind": "any", "then": "none", "of": "all"}
"""What a list shows for an empty choice."""


def layout(search: str) -> Component:
    """The page before its content."""
    view = read_view(TrendsView, search)
    return page(
        "/trends",
        html.Div([
            one_of("trends-period", text.PERIOD_LABEL, tuple(text.PERIOD_WORDS.items()),
                   view.period),
            one_of("trends-step", text.STEP_LABEL, tuple(text.STEP_WORDS.items()), view.step),
            one_from("trends-kind", text.KIND_LABEL, kind_choices(tuple(defect_kinds())),
                     view.kind or "any"),
        ], className="choices"),
        html.Div(waiting(150), id="trends-glance"), months_line(),
        html.Div([html.Div(waiting(430), id="trends-yield"),
                  html.Div(waiting(430), id="trends-rate", className="fills")], className="two"),
        moved_section(),
        html.Section([
            html.H2(text.RANK_HEADING, id="ranking"),
            html.Div([
                one_from("trends-by", text.BY_LABEL, dimension_choices(), view.by),
                one_from("trends-then", text.THEN_LABEL,
                         (("none", text.THEN_NONE), *dimension_choices()), view.then or "none"),
                one_of("trends-order", text.RANK_ORDER, tuple(text.RANK_ORDERS.items()),
                       view.order),
                _take_out(),
            ], className="choices"),
            html.Div(waiting(420), id="trends-ranking"), dcc.Download(id="trends-file"),
        ], className="section"),
        cost_section(),
        compared_section(view),
        baseline_section(),
        dcc.Store(id="trends-choices"), dcc.Store(id="trends-followed"),
        dcc.Interval(id="trends-soon", interval=LATER_MS, max_intervals=1),
        dmc.Drawer(
            html.Div(id="trends-records"), id="trends-panel", title=text.RECORDS_TITLE,
            position="right", size="min(100vw, 62rem)", opened=False,
            closeButtonProps={"aria-label": text.CLOSE},
        ),
        name="trends",
    )


def _take_out() -> Component:
    return html.Div([
        html.Span(words.TAKE_OUT, className="choice-label", id="trends-take-label"),
        html.Div([html.Button(said, id=f"trends-take-{form}", className="button", type="button",
                              **named(f"{words.TAKE_OUT} {said}"))
                  for form, said in (("csv", words.TAKE_CSV), ("xlsx", words.TAKE_XLSX))],
                 className="takes"),
    ], className="choice take-out")


def dimensions_of(view: TrendsView) -> tuple[str, ...]:
    """What a view ranks by: one dimension or two different ones."""
    return (view.by, view.then) if view.then and view.then != view.by else (view.by,)


def allowed_choices(
    kinds: tuple[str, ...], levels: tuple[tuple[str, str], ...] = ()
) -> dict[str, list[str]]:
    """The values each choice can take, its default first."""
    options = {
        "period": tuple(text.PERIOD_WORDS), "step": tuple(text.STEP_WORDS),
        "kind": ("any", *kinds), "by": DIMENSIONS,
        "then": ("none", *DIMENSIONS), "order": ORDERS, "span": SPANS,
        "of": ("all", *(f"{factor}:{level}" for factor, level in levels)),
    }
    default = TrendsView()
    first = {name: getattr(default, name) or BLANK[name] for name in CHOICES}
    return {name: [first[name], *(v for v in options[name] if v != first[name])]
            for name in CHOICES}


def kind_choices(kinds: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """The defect kinds to choose from."""
    return (("any", text.with_capital(text.ALL_WORK)),
            *((code, text.kind_name(code)) for code in kinds))


def dimension_choices() -> tuple[tuple[str, str], ...]:
    return tuple((name, text.with_capital(text.DIMENSION_WORDS[name])) for name in DIMENSIONS)


def rate_panel(
    trend: RateTrend, view: TrendsView, scheme: str, clock: Clock, *, as_yield: bool
) -> Component | None:
    """A chart of the rate, or of its other side, the yield."""
    share = whole_share(trend)
    if share is None or not share.is_known:  # said once, in the place of the first chart
        if not as_yield:
            return None
        return (_too_few(share, view) if share else
                notice(text.NOTHING_TITLE, text.NOTHING_HELP, ways_to_begin()))
    links = [point_link(view, trend, i) for i in range(len(trend.start_us))]
    title = text.YIELD_TITLE if as_yield else text.RATE_TITLE.format(
        what=text.kind_in_sentence(view.kind))
    if as_yield and view.kind:
        title = text.YIELD_OF_KIND.format(what=text.kind_in_sentence(view.kind))
    unit = (text.YIELD_UNIT if as_yield else text.RATE_UNIT).format(step=trend.step)
    said = _rate_words(trend, clock, as_yield=as_yield)
    if view.kind:
        said = f"{said} {text.KIND_COUNTED}"
    figure = rate_figure(trend, scheme, clock, links=links, as_yield=as_yield)
    return chart_box(
        drawn("yield" if as_yield else "rate", figure, label=f"{title}. {said}", opens=True),
        title=title, unit=unit, description=said, source=trend.source,
        table=_rate_table(trend, links, clock, as_yield, title),
        extra=None if as_yield else html.Div([
            cautions(trend.cautions),
            html.P(dcc.Link(text.AS_CHART, href="/charts" + address(ChartsView(
                of=view.kind, step=view.step, period=view.period))), className="hint")]),
    )


def _too_few(share: Share, view: TrendsView) -> Component:
    """So few pieces that a rate would look known where it is not."""
    return notice(words.TOO_FEW_TITLE, words.TOO_FEW_HELP.format(
        bad=formats.count(share.n_defective), n=formats.count(share.n_pieces),
        period=words.period_words(view.period), what=text.kind_in_sentence(view.kind),
        low_high=formats.share_range(1 - share.high, 1 - share.low)))


def _rate_words(trend: RateTrend, clock: Clock, *, as_yield: bool) -> str:
    if trend.overall is None or trend.overall_usual is None:
        return ""
    seen = 1 - trend.overall if as_yield else trend.overall
    usual = 1 - trend.overall_usual if as_yield else trend.overall_usual
    n_out = int(trend.outside.sum())
    some = text.ONE_OUTSIDE if n_out == 1 else text.SOME_OUTSIDE
    out = text.NONE_OUTSIDE if n_out == 0 else some.format(
        n=n_out, of=len(trend.outside), steps=f"{trend.step}s")
    weeks = ""
    if trend.step == "week":
        weeks = f" {words.whole_weeks(clock.day(int(trend.start_us[0])))}"
    return text.RATE_WORDS.format(
        seen=formats.share(seen), usual=formats.share(usual), weeks=weeks,
        n=formats.count(int(trend.n_pieces.sum())), out=out)



def point_link(view: TrendsView, trend: RateTrend, i: int) -> str:
    """The address at which the pieces of a point are shown."""
    return address(view, open=f"{int(trend.start_us[i])}..{int(trend.end_us[i])}",
                   level="", level2="")


def _rate_table(
    trend: RateTrend, links: list[str], clock: Clock, as_yield: bool, title: str
) -> Component:
    def side(value: float) -> str:
        return formats.share(1 - value if as_yield else value)

    counted = trend.n_pieces - trend.n_defective if as_yield else trend.n_defective
    rows = []
    for i in reversed(range(len(trend.start_us))):
        band = sorted((1 - trend.lower[i], 1 - trend.upper[i])) if as_yield else (
            trend.lower[i], trend.upper[i])
        ends = sorted((1 - trend.low[i], 1 - trend.high[i])) if as_yield else (
            trend.low[i], trend.high[i])
        interval = formats.share_range(*ends)
        rows.append((
            clock.day(int(trend.start_us[i])), formats.count(int(trend.n_pieces[i])),
            formats.count(counted[i]), side(trend.share[i]), interval, side(trend.usual[i]),
            formats.share_range(*band), text.STANDS_OUT if trend.outside[i] else "",
            dcc.Link(text.OPEN_RECORDS, href="/trends" + links[i]),
        ))
    heads = (text.with_capital(trend.step), *(text.YIELD_HEADS if as_yield else text.RATE_HEADS))
    return table(heads, rows, label=title, numeric=(1, 2, 3, 4, 5, 6))


def records_panel(found: PieceRecords, clock: Clock, all_of_them: str) -> Component:
    """The pieces behind a point or bar. ``all_of_them``: where they can be filtered and taken
    out."""
    if not found.rows:
        return html.P(text.RECORDS_NONE, className="records-lead")
    shown = formats.count(len(found.rows))
    lead = text.RECORDS_COUNT.format(shown=shown)
    if found.n_total > len(found.rows):
        lead = text.RECORDS_CUT.format(shown=shown, total=formats.count(found.n_total))
    rows = [
        (r.piece_id + (f" ({r.n})" if r.n > 1 else ""), clock.short_minute(r.pressed_at_us),
         r.press, r.fabric, r.transfer,
         text.level_name("location", r.location) if r.location else "", r.operator or "",
         r.transfer_lot or "", r.garment_lot or "", r.job or "", findings_in_words(r.defects),
         text.DISPOSITION_WORDS.get(r.disposition or "", ""))
        for r in found.rows
    ]
    return html.Div([html.P(lead, className="records-lead"),
                     html.P(dcc.Link(words.ALL_IN_RECORDS, href=all_of_them)),
                     table(text.RECORD_HEADS, rows, label=text.RECORDS_TITLE)])
