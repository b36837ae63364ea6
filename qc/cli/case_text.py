"""A case as people read it in the terminal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from qc.cli.lines import paragraph
from qc.domain.action_checks import check_sentence
from qc.domain.case_words import cause_words, step_words
from qc.domain.cases import missing_to_close
from qc.domain.instants import from_us
from qc.domain.whereabouts import STATUS_WORDS

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.case_list import CaseEntry
    from qc.desk.shop import Shop
    from qc.domain.flags import Flag

MOST_CAUSES = 5


def show_list(entries: Iterable[CaseEntry], shop: Shop, console: Console) -> None:
    """Every case: what is off, and how it stands."""
    entries = tuple(entries)
    if not entries:
        console.print("No flag has become a case yet; qc flags lists what is off.")
        return
    heads = ("Overdue", [e for e in entries if e.is_overdue]), (
        "Open", [e for e in entries if not e.case.is_closed and not e.is_overdue]), (
        "Closed", [e for e in entries if e.case.is_closed])
    for head, mine in heads:
        if mine:
            console.print(f"\n[bold]{head}[/bold] ({len(mine)})")
        for entry in mine:
            _show_entry(entry, shop, console)


def _show_entry(entry: CaseEntry, shop: Shop, console: Console) -> None:
    case = entry.case
    facts = [case.flag_id, f"owner {case.owner}" if case.owner else "no owner"]
    if case.due_us is not None:
        facts.append(f"due {_moment(case.due_us, shop)}")
    if case.closed is not None:
        facts.append(f"closed {_moment(case.closed.at_us, shop)}")
    if case.cause:
        facts.append(cause_words(case.cause))
    paragraph(console, case.flag.message, first="  ")
    paragraph(console, "; ".join(facts), first="    ", style="dim")
    if entry.check:
        paragraph(console, check_sentence(entry.check), first="    action: ", style=_style(entry))


def show_case(
    entry: CaseEntry | None, flag: Flag, pieces: dict[str, int], shop: Shop, console: Console, *,
    as_of_us: int,
) -> None:
    """One case: the flag, its steps, the check of the action, the pieces, what comes next."""
    paragraph(console, flag.message, style="bold")
    paragraph(console, flag.next_step, first="To do: ")
    paragraph(console, _where(pieces), first="Pieces at risk: ")
    for step in entry.case.steps if entry else ():
        said = step_words(step, lambda instant: _moment(instant, shop))
        paragraph(console, f"{_moment(step.at_us, shop)}  {step.by} {said}", first="  ")
    if entry and entry.check:
        paragraph(console, check_sentence(entry.check), first="Check of the action: ",
                  style=_style(entry))
        for caution in entry.check.cautions:
            paragraph(console, caution, first="Note: ", style="yellow")
    if entry is None or not entry.case.is_closed:
        _show_causes(flag, shop, console, as_of_us)
        paragraph(console, _next(entry, flag.id), style="dim")


def _show_causes(flag: Flag, shop: Shop, console: Console, as_of_us: int) -> None:
    from qc.desk.case_steps import causes_here

    causes = causes_here(shop, flag, as_of_us=as_of_us)
    if causes:
        paragraph(console, "Causes, the likeliest here first:")
    for one in causes[:MOST_CAUSES]:
        found = f", found {times(one.n_found)} here" if one.n_found else ""
        check = f"; check: {one.first_check}" if one.first_check else ""
        code = f"{one.code}  " if one.cause else ""
        paragraph(console, f"{code}{one.words}{found}{check}", first="  ")


def times(n: int) -> str:
    """How often."""
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


def _next(entry: CaseEntry | None, flag_id: str) -> str:
    if entry is None:
        return f"Nobody has taken it up: qc case {flag_id} --acknowledge --by NAME"
    missing = missing_to_close(entry.case)
    return ("Can be closed: --close" if not missing
            else f"Before it can be closed: {' and '.join(missing)}")


def _where(pieces: dict[str, int]) -> str:
    told = [f"{n:,} {STATUS_WORDS[status]}" for status, n in pieces.items() if n]
    return "; ".join(told) if told else "none"


def _style(entry: CaseEntry) -> str:
    verdict = entry.check.verdict if entry.check else ""
    return {"came_back": "green", "not_back": "bold red", "better": "yellow"}.get(verdict, "dim")


def _moment(instant_us: int, shop: Shop) -> str:
    return from_us(instant_us, shop.zone).strftime("%d %b %Y %H:%M")
