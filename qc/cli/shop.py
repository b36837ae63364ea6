"""Commands about the store itself: settings, corrections, check, backup, rebuild."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli import shared

if TYPE_CHECKING:
    from qc.desk.correcting import Corrected
    from qc.desk.shop import Shop

By = Annotated[
    str | None,
    typer.Option("--by", metavar="NAME", show_default=False,
                 help="Who does it, for the audit log; else QC_USER, else your log-in name."),
]


def register(app: typer.Typer) -> None:
    """Add the commands of this group."""
    app.command("settings")(settings)
    app.command("correct")(correct)
    app.command("check")(check)
    app.command("backup")(backup)
    app.command("rebuild")(rebuild)


def settings(
    name: Annotated[str | None, typer.Argument(
        metavar="NAME", show_default=False, help="Which setting; default: all are shown.")] = None,
    value: Annotated[str | None, typer.Argument(
        metavar="VALUE", show_default=False, help="What it is from now on.")] = None,
    store: shared.Store = None,
    by: By = None,
    json: shared.Json = False,
) -> None:
    """Show the shop's settings, one of them, or set one to a value."""
    from qc.config import setting, user_name
    from qc.desk.shop import change_setting

    if name is not None:
        setting(name)
    shop = shared.open_store(store, create=value is not None)
    if name is not None and value is not None:
        shop = change_setting(shop, name=name, value=value, by=user_name(by),
                              at_us=shared.now_us())
    kept = shop.settings if name is None else {name: shop.settings[name]}
    shared.answer(kept, as_json=json, to_json=_settings_json, to_text=_settings_text)


def correct(
    piece_id: Annotated[str, typer.Argument(
        metavar="PIECE_ID", show_default=False, help="The piece whose look it is.")],
    why: Annotated[str, typer.Option("--why", metavar="TEXT", show_default=False,
                                     help="The reason, kept with the new version.")],
    changes: Annotated[
        list[str] | None,
        typer.Option("--set", metavar="FIELD=VALUE", show_default=False,
                     help="New value, unit in the field's name (temperature_f=320, "
                          "defects=lifted_edge@top_left:6); nothing after = empties it."),
    ] = None,
    withdraw: Annotated[bool, typer.Option(
        "--take-back", help="The look was a mistake: it counts no more, and stays readable.")
    ] = False,
    attempt: Annotated[int | None, typer.Option(
        "--attempt", metavar="N", show_default=False,
        help="Which pressing, 1 the first; needed where the piece has several.")] = None,
    location: Annotated[str | None, typer.Option(
        "--location", metavar="PLACE", show_default=False,
        help="Which place on the garment; needed where it has several.")] = None,
    stage: Annotated[str | None, typer.Option(
        "--stage", metavar="STAGE", show_default=False,
        help="Which look, as after_peel or wash; needed where there are several.")] = None,
    store: shared.Store = None,
    by: By = None,
    json: shared.Json = False,
) -> None:
    """Correct what is recorded of a look at a piece, or take it back; what was stays readable."""
    from qc.config import user_name
    from qc.desk.correcting import WhichLook, take_back
    from qc.desk.correcting import correct as correct_look
    from qc.errors import InputError

    if withdraw == bool(changes):
        raise InputError("say either what it should be, with --set, or --take-back")
    shop = shared.open_store(store)
    which = WhichLook(piece_id=piece_id, attempt=attempt, location=location, stage=stage)
    if withdraw:
        was = take_back(shop, which, why=why, by=user_name(by), at_us=shared.now_us())
        shared.answer(was, as_json=json, to_json=lambda look: {
            **{name: look[name] for name in ("piece_id", "attempt", "location", "stage")},
            "taken_back": True, "why": why}, to_text=lambda look, console: console.print(
                f"taken back: piece {piece_id} no longer counts", markup=False, highlight=False))
        return
    done = correct_look(shop, which, changes or [], why=why, by=user_name(by),
                        at_us=shared.now_us())
    shared.answer(done, as_json=json, to_json=lambda made: _corrected_json(made, shop),
                  to_text=lambda made, console: console.print(
                      f"corrected: piece {piece_id} is now at version {made.version}",
                      markup=False, highlight=False))


def check(store: shared.Store = None, json: shared.Json = False) -> None:
    """Check the store: the file, the audit chain, the records and the tallies."""
    from qc.desk.shop import check as check_shop

    problems = check_shop(shared.open_store(store))
    if json:
        shared.print_json({"sound": not problems, "problems": list(problems)})
    for problem in problems:
        shared.say(f"qc: {problem}")
    if problems:
        raise typer.Exit(1)
    shared.say("the store is sound")


def backup(
    file: Annotated[str, typer.Argument(
        metavar="FILE", show_default=False, help="A file that is not there yet.")],
    store: shared.Store = None,
    json: shared.Json = False,
) -> None:
    """Copy the store to a new file while work goes on."""
    from qc.desk.shop import back_up

    made = back_up(shared.open_store(store), file)
    if json:
        shared.print_json({"file": str(made)})
    shared.say(f"backed up to {made}")


def rebuild(store: shared.Store = None, by: By = None) -> None:
    """Count the tallies anew from the records."""
    from qc.config import user_name
    from qc.desk.shop import rebuild as rebuild_shop

    rebuild_shop(shared.open_store(store), by=user_name(by), at_us=shared.now_us())
    shared.say("the tallies were counted anew")


def _settings_json(kept: dict[str, str]) -> Any:
    return kept


def _settings_text(kept: dict[str, str], console: Any) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.table import Column, Table
    from rich.text import Text

    from qc.config import setting

    table = Table(Column("setting", no_wrap=True), Column("value", overflow="fold"), "unit",
                  "what it is", box=SIMPLE_HEAD, padding=(0, 1, 0, 0))
    for name, value in kept.items():
        known = setting(name)
        table.add_row(name, Text(value), known.unit, known.help)
    console.print(table)


def _corrected_json(done: Corrected, shop: Shop) -> dict[str, Any]:
    changed = {name: [_shown(name, done.before[name], shop), _shown(name, done.after[name], shop)]
               for name in done.after
               if name not in _VERSION_FIELDS and done.before[name] != done.after[name]}
    return {**done.identity, "version": done.version, "changed": changed, "why": done.after["why"]}


_VERSION_FIELDS = frozenset({"version", "changed_at", "changed_by", "why", "withdrawn"})


def _shown(name: str, value: Any, shop: Shop) -> Any:
    return shop.iso(value) if name.endswith("_at") and value is not None else value
