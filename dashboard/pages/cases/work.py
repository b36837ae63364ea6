"""What is done about a case: the steps to take, the steps taken, and whether it worked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN
from dashboard.components.page import name_field
from dashboard.components.states import mark, notice
from dashboard.formats import Clock
from dashboard.text import cases as case_text
from qc.domain.case_words import cause_words, step_words
from qc.domain.cases import CaseFile, CaseStep, missing_to_close
from qc.domain.causes import RankedCause
from qc.domain.flags import Flag
from qc.domain.instants import from_us
from qc.domain.whereabouts import TO_BE_HELD

FIELDS = ("cause", "cause-words", "action", "owner", "due", "note", "reopen")
"""What a person can write; `case-<field>` on the page."""
SAID_ONCE = frozenset({"acknowledge", "cause", "action", "owner", "due"})
"""Steps whose means are folded away once the step was taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doing:
    """All that the steps of a case are drawn from. ``n_to_hold``: pieces in the house; ``n_held``:
    on hold, found in the records at ``held_at``; ``is_early``: too early to tell whether its action
    worked."""

    case: CaseFile | None
    causes: tuple[RankedCause, ...]
    n_to_hold: int
    now_us: int
    n_held: int = 0
    held_at: str = ""
    is_early: bool = False


def work_panel(doing: Doing, clock: Clock, *, can_act: bool) -> Component:
    """The steps with the name they are taken under."""
    if not can_act:
        return notice(case_text.WORK_TITLE, case_text.LOOKS_BACK)
    return html.Section(
        [html.H3(case_text.WORK_TITLE),
         name_field(className="your-name"),
         html.Ol(ladder(doing, clock), id="case-ladder", className="ladder"),
         html.Div(id="case-said", role="status", className="said"),
         dcc.Interval(id="case-tick", interval=10_000)],
        className="paper case-work",
    )


def ladder(doing: Doing, clock: Clock) -> list[Component]:
    """One rung for each step, with what was said last and the means to say it."""
    case = doing.case
    if case is not None and case.is_closed:
        return [*_still_held(doing),
                _rung("reopen", case, clock, _field("reopen", case_text.REOPEN_WORDS),
                      _do("reopen")),
                _rung("note", None, clock, _field("note", case_text.NOTE_WORDS), _do("note"))]
    return [
        _rung("acknowledge", case, clock, _do("acknowledge")),
        _hold_rung(doing, clock), _cause_rung(doing, clock),
        _rung("action", case, clock, dmc.Textarea(
            id="case-action", label=case_text.ACTION_WORDS, autosize=True, minRows=2, size="md"),
            _do("action")),
        _rung("owner", case, clock, _field("owner", case_text.OWNER_NAME), _do("owner")),
        _due_rung(doing, clock),
        _rung("note", None, clock, _field("note", case_text.NOTE_WORDS), _do("note")),
        _close_rung(doing, clock),
    ]


def _still_held(doing: Doing) -> list[Component]:
    """What a closed case leaves on the racks, and how it gets off hold."""
    if not doing.n_held:
        return []
    said = html.P([html.Strong(still_held(doing.n_held)), f" {case_text.RELEASE} ",
                   dcc.Link(case_text.TO_HELD, href=doing.held_at)], className="told")
    return [html.Li([html.H4([html.Span("●", className="rung-mark", **UNSEEN),
                              case_text.RUNGS["contain"]]), said], className="rung")]


def still_held(n: int) -> str:
    """How many pieces are on hold still."""
    return (case_text.STILL_HELD_ONE if n == 1
            else case_text.STILL_HELD.format(n=formats.count(n)))


def done_words(step: str, doing: Doing) -> str:
    """What is said of a step once it was taken; of closing, also what is still open."""
    said = [case_text.DONE_WORDS[step]]
    if step == "close":
        said += [case_text.CLOSED_EARLY] if doing.is_early else []
        said += [f"{still_held(doing.n_held)} {case_text.RELEASE}"] if doing.n_held else []
    return " ".join(said)


def _hold_rung(doing: Doing, clock: Clock) -> Component:
    n = doing.n_to_hold
    words = case_text.HELD_HINT if n else case_text.NOTHING_TO_HOLD
    return _rung("contain", doing.case, clock, html.P(words, className="hint"),
                 _do("contain", n=formats.count(n), disabled=n == 0))


def _cause_rung(doing: Doing, clock: Clock) -> Component:
    known = [{"value": one.code, "label": case_text.cause_label(one)} for one in doing.causes]
    none = [{"value": value, "label": label} for value, label in case_text.NO_CAUSE_WORDS.items()]
    groups = [{"group": case_text.CAUSE_GROUP, "items": known}] if known else []
    choose = dmc.Select(
        id="case-cause", label=case_text.CAUSE_CHOOSE, size="md", clearable=True,
        maxDropdownHeight=420, comboboxProps={"shadow": "md"},
        data=[*groups, {"group": case_text.NO_CAUSE_GROUP, "items": none}],
    )
    first = next((one.first_check for one in doing.causes[:1]), "")
    hint = html.P(case_text.CHECK_FIRST.format(check=first), className="hint") if first else None
    return _rung("cause", doing.case, clock, hint, choose,
                 _field("cause-words", case_text.CAUSE_OWN), _do("cause"))


def _due_rung(doing: Doing, clock: Clock) -> Component:
    today = from_us(doing.now_us, clock.zone).date()
    days = [(today + timedelta(days=n), words) for n, words in case_text.DUE_IN.items()]
    choose = dmc.Select(
        id="case-due", label=case_text.DUE_DAY, size="md", comboboxProps={"shadow": "md"},
        data=[{"value": day.isoformat(), "label": f"{words}, {day:%a} {day.day} {day:%b}"}
              for day, words in days],
    )
    return _rung("due", doing.case, clock, choose, _do("due"))


def _close_rung(doing: Doing, clock: Clock) -> Component:
    case = doing.case
    missing = missing_to_close(case)
    words = (case_text.CLOSE_NEEDS.format(missing=" and its ".join(missing)) if missing
             else case_text.CLOSE_READY)
    early = (html.P(case_text.CLOSE_EARLY, className="hint")
             if doing.is_early and not missing else None)
    return _rung("close", case, clock, html.P(words, className="hint"), early,
                 _do("close", disabled=bool(missing)))


def _rung(step: str, case: CaseFile | None, clock: Clock, *inside: Any) -> Component:
    newest = case.newest(step) if case else None
    if step in ("close", "reopen"):
        newest = None
    told = None
    if newest is not None:
        told = html.P(f"{_step_words(newest, clock)} · {newest.by}, "
                      f"{clock.short_minute(newest.at_us)}", className="told")
    tick = html.Span("●" if newest else "○", className="rung-mark", **UNSEEN)
    means: Component = html.Div(inside, className="rung-means")
    if newest is not None and step in SAID_ONCE:
        means = html.Details([html.Summary(case_text.SAY_ANEW[step]), means], className="anew")
    return html.Li([html.H4([tick, case_text.RUNGS[step]]), told, means],
                   className="rung" + (" done" if newest else ""))


def _field(name: str, label: str) -> Component:
    return dmc.TextInput(id=f"case-{name}", label=label, size="md")


def _do(step: str, *, disabled: bool = False, **words: str) -> Component:
    return html.Button(case_text.BUTTONS[step].format(**words), type="button", disabled=disabled,
                       id={"type": "case-do", "step": step}, className="button do")


def log(flag_id: str, case: CaseFile | None, clock: Clock) -> list[Component]:
    """The steps taken, newest first; with it which flag is shown and the newest step seen, so
    that a step goes to what the person has before them, whatever became of the list."""
    seen = dcc.Store(id="case-seen", data=[flag_id, case.last if case else 0])
    if case is None:
        return [seen, html.P(case_text.LOG_NOBODY)]
    rows = [
        html.Li([html.Time(clock.minute(step.at_us)), html.Strong(step.by),
                 html.Span(_step_words(step, clock))])
        for step in reversed(case.steps)
    ]
    return [seen, html.Ol(rows, className="case-log")]


def _step_words(step: CaseStep, clock: Clock) -> str:
    said = step_words(step, clock.minute)
    return formats.in_sentence(said) if step.step == "contain" else said  # others hold own words


def to_hold(by_status: dict[str, int]) -> int:
    """Pieces still in the house and not out of the way."""
    return sum(by_status[status] for status in TO_BE_HELD)


def marks(flag: Flag, case: CaseFile | None, now_us: int, clock: Clock) -> list[Component]:
    """How the flag and how its case stand."""
    tone, words = ("alarm", text.OPEN) if flag.is_open else ("quiet", text.ENDED)
    state = state_words(flag, case, now_us, clock)
    return [mark(tone, words, large=True), mark(*state, large=True)]


def state_words(
    flag: Flag, case: CaseFile | None, now_us: int, clock: Clock
) -> tuple[str, str]:
    """How a case stands, as a mark: tone and words."""
    if case is None and flag.part_of is not None:
        return "quiet", case_text.STATE_EXPLAINED
    if case is None:
        return "alarm", case_text.STATE_NEW
    if case.closed is not None:
        return "quiet", case_text.STATE_CLOSED.format(by=case.closed.by)
    if case.due_us is not None:
        tone, words = (("alarm", case_text.STATE_OVERDUE) if case.is_overdue(now_us)
                       else ("watch", case_text.STATE_DUE))
        return tone, words.format(when=clock.short_minute(case.due_us))
    if case.newest("contain"):
        return "watch", case_text.STATE_HELD
    first = case.first("acknowledge")
    return "watch", case_text.STATE_SEEN.format(by=first.by if first else case.steps[0].by)


def cause_line(case: CaseFile) -> str:
    """The cause of a case in a few words."""
    return cause_words(case.cause) if case.cause else text.NOT_SAID
