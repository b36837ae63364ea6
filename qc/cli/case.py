"""`qc case`: what is being done about each flag, and whether it worked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli import shared
from qc.cli.shop import By
from qc.errors import InputError, QcError

if TYPE_CHECKING:
    from qc.desk.case_list import CaseEntry
    from qc.desk.shop import Shop

Words = dict[str, str]


def _text(name: str, help_: str, metavar: str = "TEXT") -> Any:
    return typer.Option(name, metavar=metavar, show_default=False, help=help_)


Cause = Annotated[str | None, _text(
    "--cause", "What it was: a code of the list that qc case FLAG_ID shows, 'agreed change', "
    "'false', or your own words.", "CODE_OR_TEXT")]
Action = Annotated[str | None, _text("--action", "What was done about it.")]
Done = Annotated[str | None, _text("--done", "When the action was taken, if not now.", "TIME")]
Owner = Annotated[str | None, _text("--owner", "Who sees to it.", "NAME")]
Due = Annotated[str | None, _text("--due", "Until when: a day (to its end) or a time.", "DATE")]
Note = Annotated[str | None, _text("--note", "Anything worth keeping.")]
Reopen = Annotated[str | None, _text("--reopen", "Open a closed case again: why.", "WHY")]
Acknowledge = Annotated[bool, typer.Option("--acknowledge", help="I have seen it.")]
Contain = Annotated[bool, typer.Option(
    "--contain", help="Put the pieces at risk that are still in the house on hold.")]
Close = Annotated[bool, typer.Option(
    "--close", help="Close it; needs a cause, and an action if something was wrong.")]
FlagId = Annotated[str | None, typer.Argument(
    metavar="FLAG_ID", show_default=False,
    help="The flag, as qc flags names it; without one every case is listed.")]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("case")(case)


def case(
    flag_id: FlagId = None, acknowledge: Acknowledge = False, contain: Contain = False,
    cause: Cause = None, action: Action = None, done: Done = None, owner: Owner = None,
    due: Due = None, note: Note = None, close: Close = False, reopen: Reopen = None,
    store: shared.Store = None, by: By = None, as_of: shared.AsOf = None,
    json: shared.Json = False,
) -> None:
    """List the cases, show one, or take steps: who saw it, hold, cause, action, owner, close."""
    given = {
        "reopen": reopen, "acknowledge": _ticked(acknowledge), "contain": _ticked(contain),
        "cause": cause, "action": action, "owner": owner, "due": due, "note": note,
        "close": _ticked(close),
    }
    steps: Words = {step: text for step, text in given.items() if text is not None}
    if done is not None and "action" not in steps:
        raise InputError("--done is the time of an action; say which with --action")
    shop = shared.open_store(store)
    if steps:
        if flag_id is None:
            raise InputError("a step needs the flag it is about: qc case FLAG_ID ...; "
                             "qc flags lists them")
        if as_of is not None:
            raise InputError("steps are taken now; leave --as-of out")
        _take(shop, flag_id, steps, done=done or "", by=by)
    moment = shared.as_of_us(as_of, shop)
    if flag_id is None:
        _show_list(shop, moment, json)
    else:
        _show_one(shop, flag_id, moment, json)


def _ticked(wanted: bool) -> str | None:
    return "" if wanted else None


def _take(shop: Shop, flag_id: str, steps: Words, *, done: str, by: str | None) -> None:
    """Each step in its own transaction; what was kept before one that fails is said."""
    from qc.config import user_name
    from qc.desk.case_steps import StepWanted, take_step

    kept: list[str] = []
    for step, text in steps.items():
        wanted = StepWanted(flag_id=flag_id, step=step, text=text,
                            when=done if step == "action" else "")
        try:
            take_step(shop, wanted, by=user_name(by), at_us=shared.now_us())
        except QcError:
            if kept:
                shared.say(f"qc: kept: {', '.join(kept)}")
            raise
        kept.append(step)


def _show_list(shop: Shop, as_of_us: int, as_json: bool) -> None:
    from qc.cli.case_json import entry_json
    from qc.cli.case_text import show_list
    from qc.desk.case_list import list_cases

    shared.answer(
        list_cases(shop, as_of_us=as_of_us), as_json=as_json,
        to_json=lambda entries: [entry_json(entry, shop) for entry in entries],
        to_text=lambda entries, console: show_list(entries, shop, console),
    )


def _show_one(shop: Shop, flag_id: str, as_of_us: int, as_json: bool) -> None:
    from qc.cli.case_json import case_json
    from qc.cli.case_text import show_case
    from qc.desk.cases import by_status, case_of

    entry = _entry(shop, flag_id, as_of_us)
    evidence = case_of(shop, flag_id, as_of_us=as_of_us)
    pieces = by_status(evidence.pieces)
    shared.answer(
        entry, as_json=as_json,
        to_json=lambda found: case_json(found, evidence.flag, pieces, shop, as_of_us=as_of_us),
        to_text=lambda found, console: show_case(found, evidence.flag, pieces, shop, console,
                                                 as_of_us=as_of_us),
    )


def _entry(shop: Shop, flag_id: str, as_of_us: int) -> CaseEntry | None:
    from qc.desk.case_list import case_entry
    from qc.desk.case_steps import case_file

    found = case_file(shop, flag_id, as_of_us=as_of_us)
    return case_entry(shop, found, as_of_us=as_of_us) if found else None


