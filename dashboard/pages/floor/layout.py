"""The floor: a card for each press, to be read at a glance from across the room."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import urlencode

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN
from dashboard.components.built import built
from dashboard.components.page import one_of, page, page_link
from dashboard.components.states import cautions, mark, notice, waiting, ways_to_begin
from dashboard.formats import Clock
from dashboard.view import (
    ANY_DEFECT,
    CasesView,
    FloorView,
    PressesView,
    address,
    read_view,
    records_address,
)
from qc.desk.floor import Floor, PressNow, PressState, ShareNow, concerns
from qc.desk.shares import is_above, is_known
from qc.domain.flags import Flag, FlagList
from qc.domain.platens import PlatenHealth

MOST_REASONS = 3
SOON_MS = 800
_ORDER = {"act": 0, "watch": 1, "running": 2, "quiet": 3, "unseen": 4}


def layout(search: str) -> Component:
    """The page before its content."""
    view = read_view(FloorView, search)
    return page(
        "/",
        html.Div(one_of("floor-show", text.FLOOR_SHOW, tuple(text.FLOOR_SHOW_WORDS.items()),
                        view.show), className="choices"),
        html.Div(waiting(420), id="floor-cards"),
        dcc.Store(id="floor-flags-ready"),
        # the cards first: looking for flags keeps the machine busy
        dcc.Interval(id="floor-soon", interval=SOON_MS, max_intervals=1),
        name="floor",
    )


def cards(
    floor: Floor, states: Sequence[tuple[PressNow, PressState]], flags: FlagList | None,
    clock: Clock, *, show: str, notes: tuple[str, ...] = (),
) -> Component:
    """All cards, those that need somebody first; ``flags`` None: still being looked for.
    ``notes``: what is to be said of the baseline."""
    if not floor.presses:
        return notice(text.FLOOR_NONE_TITLE, text.FLOOR_NONE_HELP, ways_to_begin())
    ordered = sorted(states, key=lambda pair: (_ORDER[pair[1].state], pair[0].press))
    shown = [pair for pair in ordered if show == "all" or pair[1].state in ("act", "watch")]
    top = _most(floor)
    inside = [card(now, state, floor, clock, top=top) for now, state in shown]
    empty = notice(text.FLOOR_ALL_WELL_TITLE, text.FLOOR_ALL_WELL_HELP, tone="calm")
    return html.Div([
        _elsewhere(floor, flags, clock),
        built(inside, className="floor-grid") if inside else empty,
        cautions(notes),
        html.P([html.Span(formats.unbroken(part)) for part in text.FLOOR_LEGEND],
               className="legend"),
    ])


def card(
    now: PressNow, state: PressState, floor: Floor, clock: Clock, *, top: float
) -> Component:
    """One press."""
    tone, words = text.PRESS_STATE_WORDS[state.state]
    return html.Article(
        [
            html.Div(
                [html.Div([html.H2(now.press), html.P(now.name, className="called")
                           if now.name and now.name != now.press else None])],
                className="top",
            ),
            html.Div(mark(tone, words, large=True)),
            _runs(now, state, floor.as_of_us, clock),
            _reasons(state, clock, floor.as_of_us),
            html.P(page_link(text.FLOOR_BENCH, "/bench?" + urlencode({"press": now.press})),
                   className="to-bench"),
            html.Div([html.H3(text.FLOOR_GAUGES), gauge(text.SHIFT, now.shift, top, now.press),
                      gauge(text.TODAY, now.today, top, now.press)], className="gauges"),
        ],
        className=f"press-card tone-{tone}",
    )


def gauge(label: str, share: ShareNow, top: float, press: str) -> Component:
    """A share with its interval on a strip, the usual share marked, all of it in words too; the
    number opens its records."""
    if share.share is None or share.low is None or share.high is None:
        return html.Div([html.Div(label, className="label"), html.Div("–", className="big"),
                         html.Div(text.NO_PIECES, className="words")], className="gauge")
    usual, few = share.usual, not is_known(share.low, share.high)
    above = is_above(share.n_defective, share.n_pieces, usual)
    big = formats.share(share.share, 1) if not few else text.FLOOR_FEW.format(
        bad=formats.count(share.n_defective), n=formats.count(share.n_pieces))
    defective = dcc.Link(big, className="big", href=_records(share, press, ANY_DEFECT),
                         title=text.FLOOR_OPEN.format(press=press, label=label.lower()))
    return html.Div(
        [
            html.Div(label, className="label"), defective,
            _strip(share.share, share.low, share.high, None if few and not above else usual, top,
                   above=above),
            html.Div(_gauge_words(share, press, few=few, above=above), className="words"),
        ],
        className="gauge",
    )


def _gauge_words(
    share: ShareNow, press: str, *, few: bool, above: bool
) -> list[Component | str]:
    """The count, of all its pieces, which have a way of their own; what is usual beside it."""
    every = dcc.Link(text.FLOOR_PIECES.format(n=formats.count(share.n_pieces)),
                     href=_records(share, press))
    if few and not above:
        return [text.FLOOR_TOO_FEW, html.Br(), every]
    bad = dcc.Link(formats.count(share.n_defective), href=_records(share, press, ANY_DEFECT))
    counted = html.Span([bad, text.FLOOR_OF, every])
    usual = text.FLOOR_USUAL.format(usual=formats.share(share.usual))
    return [counted, html.Br(), usual, html.Strong(text.FLOOR_ABOVE) if above else ""]


def _records(share: ShareNow, press: str, kind: str = "") -> str:
    return records_address([("press", press)], kind=kind, since_us=share.since_us, first=True)


def _strip(
    at: float, low: float, high: float, usual: float | None, top: float, *, above: bool
) -> Component:
    def place(value: float) -> str:
        return f"{100 * min(value / top, 1):.1f}%"

    width = f"{100 * max(min(high, top) - min(low, top), 0) / top:.1f}%"
    marks = [html.I(className="range", style={"left": place(low), "width": width}),
             html.I(className="at", style={"left": place(at)})]
    if usual is not None:
        marks.append(html.I(className="usual", style={"left": place(usual)}))
    return html.Div(marks, className="strip" + (" above" if above else ""),
                    **UNSEEN)


def _most(floor: Floor) -> float:
    """The right end of every strip: one scale for all cards, so that they can be compared."""
    seen = [s.share or 0.0 for p in floor.presses for s in (p.today, p.shift)]
    usual = [s.usual or 0.0 for p in floor.presses for s in (p.today, p.shift)]
    return max(1.6 * max([*seen, *usual], default=0.0), 0.05)


def _runs(now: PressNow, state: PressState, as_of_us: int, clock: Clock) -> Component:
    last, check = now.last, _next_check(state.platens, as_of_us, clock)
    if last is None:
        return html.P([text.NEVER_LOOKED, html.Small(check)], className="runs")
    what = " on ".join(filter(None, (last.transfer, last.fabric)))
    job = text.FLOOR_JOB.format(job=last.job) if last.job else ""
    who = ", ".join(filter(None, (job, last.operator)))
    when = text.LAST_LOOK.format(formats.ago(last.inspected_at_us, as_of_us))
    return html.P([what, html.Small(who), html.Small(when), html.Small(check)], className="runs")


def _next_check(platens: Sequence[PlatenHealth], as_of_us: int, clock: Clock) -> str:
    """When the first of a press's platens must be checked; one never surveyed must be now."""
    if any(platen.last_survey_at_us is None for platen in platens):
        return text.FLOOR_FIRST_CHECK
    due = [platen.due_at_us for platen in platens if platen.due_at_us is not None]
    if not due:
        return text.FLOOR_NO_CHECK
    return text.FLOOR_NEXT_CHECK.format(clock.until(min(due), as_of_us))


def _reasons(state: PressState, clock: Clock, as_of_us: int) -> Component | None:
    lines = [_flag_line(flag, clock) for flag in state.flags[:MOST_REASONS]]
    flagged = {(f.press, f.platen) for f in state.flags if f.platen}
    lines += [
        _platen_line(health, as_of_us, clock) for health in state.platens
        if health.state in ("recalibrate", "overdue", "watch")
        and (health.press, health.platen) not in flagged
    ]
    more = len(state.flags) - MOST_REASONS
    if more > 0:
        lines.append(html.Li(dcc.Link(text.FLOOR_MORE.format(n=more), href="/cases")))
    return html.Ul(lines, className="reasons") if lines else None


def _flag_line(flag: Flag, clock: Clock) -> Component:
    to = "/cases" + address(CasesView(flag=flag.id))
    what = text.flag_headline(flag)
    when = text.FLOOR_FLAG_SINCE.format(clock.short_minute(flag.changed_at_us))
    return html.Li(dcc.Link([f"{what} ", html.Span(when, className="aside")], href=to))


def _platen_line(health: PlatenHealth, as_of_us: int, clock: Clock) -> Component:
    to = "/presses" + address(PressesView(press=health.press, platen=health.platen))
    words = text.PLATEN_STATE_WORDS[health.state][1].lower()
    due = ""
    if health.due_at_us is not None:
        due = text.FLOOR_DUE.format(clock.until(health.due_at_us, as_of_us))
    what = text.with_capital(f"{text.PLATEN_WORDS[health.platen]} {words} ")
    return html.Li(dcc.Link([what, html.Span(due, className="aside")], href=to))


def _elsewhere(floor: Floor, flags: FlagList | None, clock: Clock) -> Component:
    """Open flags that no card shows, or the word that they are still being looked for."""
    if flags is None:
        return html.P(text.FLOOR_FLAGS_WAIT, className="lead elsewhere", role="status")
    left = [f for f in flags.flags
            if f.is_open and not any(concerns(f, now) for now in floor.presses)]
    if not left:
        return html.Div()
    lines = html.Ul([_flag_line(flag, clock) for flag in left[:6]], className="reasons")
    return html.Section([mark("alarm", text.FLOOR_ELSEWHERE), lines], className="paper elsewhere")
