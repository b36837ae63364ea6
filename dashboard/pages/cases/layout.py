"""Cases: the flags, most urgent first, and the evidence of one of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN, named
from dashboard.components.charts import chart_box, drawn
from dashboard.components.page import page
from dashboard.components.ratios import RatioRow, ratio_rows
from dashboard.components.states import cautions, danger, mark, notice, waiting, ways_to_begin
from dashboard.components.tables import table
from dashboard.figures.evidence import NOON_US, evidence_figure
from dashboard.formats import Clock
from dashboard.pages.cases.check import check_panel, comparison_address
from dashboard.pages.cases.pieces import pieces_panel
from dashboard.pages.cases.work import Doing, cause_line, log, marks, state_words, work_panel
from dashboard.text import cases as case_text
from dashboard.view import CasesView, ChartsView, PressesView, address, records_address
from qc.desk.cases import Case
from qc.domain.action_checks import ActionCheck
from qc.domain.cases import CaseFile
from qc.domain.flags import FactorShare, Flag, FlagList
from qc.domain.instants import DAY_US
from qc.domain.streams import LEVELS
from qc.units import ShopUnits

HEAT_KINDS = ("calibration",)


def layout(search: str) -> Component:
    """The page before its content."""
    del search
    return page("/cases", html.Div(waiting(420, text.CASES_WAIT), id="cases-body"), name="cases")


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What the list of cases is drawn from. ``checks``: by flag, of the open cases with an
    action."""

    flags: FlagList
    cases: Mapping[str, CaseFile]
    checks: Mapping[str, ActionCheck]
    now_us: int


def body(listed: Listed, view: CasesView, clock: Clock) -> Component:
    """The budget, the list, and the place of the chosen flag's evidence."""
    none, flags, cases = None, listed.flags, listed.cases
    if not flags.n_pieces and not cases:
        return html.Div(notice(text.CASES_EMPTY_TITLE, text.CASES_EMPTY_HELP, ways_to_begin()))
    if not flags.flags:
        none = notice(text.CASES_NONE_TITLE, text.CASES_NONE_HELP.format(
            pieces=formats.count(flags.n_pieces)), tone="calm")
        if not cases:
            return html.Div([_budget(flags, clock), none])
    here = chosen(flags, cases, view)
    return html.Div([
        _budget(flags, clock), none,
        html.Div(
            [html.Nav(case_list(listed, here, clock), id="case-list", className="case-list",
                      **named(text.CASES_LIST)),
             html.Div(waiting(420), id="case-detail", className="case-detail")],
            className="cases" + (" chosen" if view.flag else ""),
        ),
    ])


def chosen(flags: FlagList, cases: Mapping[str, CaseFile], view: CasesView) -> str:
    """The flag asked for, else the most urgent, else the newest case."""
    first = [flag.id for flag in flags.flags] or list(cases)[::-1]
    return view.flag or (first[0] if first else "")


def case_list(listed: Listed, here: str, clock: Clock) -> list[Component]:
    """A card for each flag and each open case; closed ones, and flags that another has explained
    before anybody took them up, are folded away."""
    cases, current = listed.cases, {flag.id: flag for flag in listed.flags.flags}
    still_open = {flag_id: case.flag for flag_id, case in cases.items()
                  if flag_id not in current and not case.is_closed}
    explained = [flag for flag in current.values()
                 if flag.part_of is not None and flag.id not in cases]
    shown = [flag for flag in current.values() if flag not in explained]
    closed = [case.flag for case in list(cases.values())[::-1] if case.is_closed]

    def cards(flags: Iterable[Flag]) -> list[Component]:
        return [case_card(flag, listed, clock, here=flag.id == here) for flag in flags]

    folded = [
        html.Details(
            [html.Summary(title.format(n=len(flags))),
             html.Div(cards(flags), className="case-list")],
            className="closed-cases", open=any(flag.id == here for flag in flags))
        for title, flags in ((case_text.EXPLAINED_LIST, explained),
                             (case_text.CLOSED_LIST, closed)) if flags
    ]
    return [*cards([*shown, *still_open.values()]), *folded]


def _budget(flags: FlagList, clock: Clock) -> Component:
    false = flags.false_flags_per_week
    delay = text.CASES_DELAY_UNKNOWN
    if flags.doubling_delay_days is not None:
        n = max(1, round(flags.doubling_delay_days))
        delay = text.CASES_DELAY.format(days=f"{n} day{'s' if n > 1 else ''}")
    line = text.CASES_BUDGET.format(
        streams=formats.count(flags.n_streams), false=f"{false:g}",
        every=text.every_so_often(false))
    looked = text.CASES_LOOKED.format(when=clock.minute(flags.as_of_us))
    return html.Div([html.P(f"{line} {delay} {looked}"), cautions(flags.cautions)],
                    className="budget")


def case_card(flag: Flag, listed: Listed, clock: Clock, *, here: bool) -> Component:
    """A flag in the list, with how its case stands and whether its action worked."""
    case, check = listed.cases.get(flag.id), listed.checks.get(flag.id)
    tone, words = state_words(flag, case, listed.now_us, clock)
    top = [mark(tone, words), html.Span(text.FLAG_KIND_WORDS[flag.kind])]
    foot = text.CASE_FOOT.format(since=clock.short_minute(flag.changed_at_us),
                                 n=formats.count(flag.pieces_at_risk))
    if case is not None and case.closed is not None:
        foot = case_text.CLOSED_FOOT.format(when=clock.short_minute(case.closed.at_us),
                                            cause=cause_line(case))
    elif not flag.is_open:
        foot += f" · {text.ENDED.lower()}"
    return dcc.Link(
        [html.Div(top, className="case-top"),
         html.Div(text.flag_headline(flag), className="case-what"),
         html.Div(foot, className="case-foot"), _worked(check)],
        href="/cases" + address(CasesView(flag=flag.id)),
        className="case" + (" here" if here else ""),
    )


def _worked(check: ActionCheck | None) -> Component | None:
    if check is None:
        return None
    return html.Div([case_text.CHECK_TITLE, mark(case_text.VERDICT_TONES[check.verdict],
                                                 case_text.check_head(check.verdict))],
                    className="case-worked")


def detail(case: Case, doing: Doing, check: ActionCheck | None, scheme: str, clock: Clock,
           units: ShopUnits, *, can_act: bool) -> list[Component | None]:
    """All that is known of one flag, and what is done about it."""
    flag = case.flag
    return [
        dcc.Link(f"‹ {text.BACK_TO_CASES}", href="/cases", className="as-button back"),
        _head(flag, doing, clock, units), _first_step(flag),
        work_panel(doing, clock, can_act=can_act),
        html.Section([html.H3(case_text.LOG_TITLE),
                      html.Div(log(flag.id, doing.case, clock), id="case-log")], className="paper"),
        html.Section(check_panel(check, text.kind_in_sentence(case.shown_kind), scheme, clock,
                                 there=comparison_address(case, check)),
                     id="case-check", className="paper case-check"),
        html.Div(pieces_panel(case, clock), id="case-pieces"), dcc.Download(id="case-file"),
        dcc.Store(id="case-form"),
        _weights(flag), _over_time(case, scheme, clock), _peers(case),
    ]


def _head(flag: Flag, doing: Doing, clock: Clock, units: ShopUnits) -> Component:
    since, until = flag.changed_between_us

    def amount(value: float | None) -> str:
        return formats.of_flag(value, flag, units)

    facts = [
        (text.SINCE, clock.minute(flag.changed_at_us),
         text.BETWEEN.format(span=clock.span(since, until))),
        (text.NOW, amount(flag.after),
         text.NOW_USUAL.format(usual=amount(flag.expected_after),
                               before=amount(flag.before))),
        (text.PIECES_AT_RISK, formats.count(flag.pieces_at_risk), ""),
        (text.SIGNALLED, clock.minute(flag.signalled_at_us),
         "" if flag.ended_at_us is None
         else text.OVER_SINCE.format(when=clock.minute(flag.ended_at_us))),
    ]
    return html.Section(
        [html.Div(marks(flag, doing.case, doing.now_us, clock), id="case-marks",
                  className="marks"),
         html.H2(formats.in_sentence(flag.message)), _part_of(flag),
         html.Dl([html.Div([html.Dt(name), html.Dd([value, html.Small(more)])])
                  for name, value, more in facts], className="facts")],
        className="paper case-head",
    )


def _part_of(flag: Flag) -> Component | None:
    """The way to the flag that has explained this one."""
    if flag.part_of is None:
        return None
    return html.P(dcc.Link(case_text.PART_OF, href="/cases" + address(
        CasesView(flag=flag.part_of)), className="as-button"))


def _first_step(flag: Flag) -> Component:
    inside: list[Component] = [html.H3(text.FIRST_STEP), html.P(flag.next_step)]
    if flag.press and flag.platen:
        to = "/presses" + address(PressesView(press=flag.press, platen=flag.platen))
        inside.append(html.P(dcc.Link(text.TO_PRESS, href=to)))
    first = html.Section(inside, className="first")
    return html.Div([first, danger()], className="stack") if flag.kind in HEAT_KINDS else first


def _weights(flag: Flag) -> Component:
    candidates = (flag.factor, *flag.other_factors[:5])
    bars = html.Div([_weight(c, top=i == 0) for i, c in enumerate(candidates)],
                    className="weights")
    rows = [(text.factor_name(c.name, c.level), formats.share(c.weight)) for c in candidates]
    return chart_box(
        bars, title=text.WEIGHTS_TITLE, unit=text.WEIGHTS_UNIT, source=text.SURE_SOURCE,
        description=" ".join(words for words in (flag.sure, flag.settle) if words),
        table=table(text.WEIGHTS_HEADS, rows, label=text.WEIGHTS_TITLE, numeric=(1,)))


def _records(case: Case, day_us: int) -> str:
    """Where the pieces of a day of the flagged stream are."""
    factor = case.flag.factor
    return records_address([(factor.name, factor.level)], kind=case.shown_kind or "",
                           since_us=day_us, until_us=day_us + DAY_US)


def _weight(candidate: FactorShare, *, top: bool) -> Component:
    percent = 100 * candidate.weight
    return html.Div(
        [html.Span(text.factor_name(candidate.name, candidate.level)),
         html.Div(html.I(style={"width": f"{percent:.1f}%"}), className="bar",
                  **UNSEEN),
         html.Span(formats.share(candidate.weight), className="number")],
        className="weight" + (" top" if top else ""),
    )


def _over_time(case: Case, scheme: str, clock: Clock) -> Component:
    days, flag = case.days, case.flag
    if days is None:
        return notice(text.EVIDENCE_TITLE, text.NO_SERIES)
    links = [_records(case, int(day)) for day in days.day_start_us]
    rows = [
        (clock.day(int(day) + NOON_US), formats.count(n), formats.count(seen),
         formats.decimal(expected), dcc.Link(text.OPEN_RECORDS, href=_records(case, int(day))))
        for day, n, seen, expected in zip(
            days.day_start_us[::-1], days.n_pieces[::-1], days.n_seen[::-1],
            days.expected[::-1], strict=True)
    ]
    where = text.factor_name(flag.factor.name, flag.factor.level)
    what = text.kind_in_sentence(case.shown_kind)
    title = f"{text.EVIDENCE_TITLE}: {where}"
    unit = text.EVIDENCE_UNIT.format(what=what)
    figure = evidence_figure(days, flag, scheme, clock, links=links)
    return chart_box(
        drawn("evidence", figure, label=f"{title}. {unit}", opens=True), title=title, unit=unit,
        source=text.EVIDENCE_SOURCE,
        table=table(text.EVIDENCE_HEADS, rows, label=text.EVIDENCE_TITLE, numeric=(1, 2, 3)),
        extra=_as_chart(case),
    )


def _as_chart(case: Case) -> Component | None:
    """The way to the control chart of what the case is about, where there is one."""
    name, level = case.flag.factor.name, case.flag.factor.level
    if name not in LEVELS["defects"] or not case.shown_kind:
        return None
    view = ChartsView(what="defects", of=case.shown_kind, by=name, level=level or "")
    return html.P(dcc.Link(text.AS_CHART, href="/charts" + address(view)), className="hint")


def _peers(case: Case) -> Component | None:
    if len(case.levels) < 2:
        return None
    name = case.flag.factor.name
    rows = [
        RatioRow(
            label=text.level_name(name, row.level), n=row.n_seen, ratio=row.ratio, low=row.low,
            high=row.high,
            link=records_address([(name, row.level)], kind=case.shown_kind or "",
                                 since_us=case.flag.changed_at_us),
            stands="worse" if row.level == case.flag.factor.level else "",
            note=text.THIS_CASE if row.level == case.flag.factor.level else "",
            of=text.PEER_OF.format(n=formats.count(row.n_pieces)))
        for row in case.levels
    ]
    numbers = [
        (row.label, formats.count(level.n_pieces), formats.count(level.n_seen),
         formats.decimal(level.expected), formats.times(level.ratio),
         formats.times_range(level.low, level.high))
        for row, level in zip(rows, case.levels, strict=True)
    ]
    heading = text.with_capital(text.DIMENSION_WORDS.get(name, name))
    return chart_box(
        ratio_rows(rows, heading=heading), title=text.PEERS_TITLE, unit=text.PEERS_UNIT,
        source=text.PEERS_SOURCE,
        table=table((heading, *text.PEER_HEADS), numbers, label=text.PEERS_TITLE,
                    numeric=(1, 2, 3, 4, 5)),
    )
