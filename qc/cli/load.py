"""`qc load`: read files into the store."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli import shared

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.loading import LoadReport, Progress

LONG_BYTES = 5_000_000
"""Files from this size on are loaded with progress shown."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("load")(load)


def load(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", show_default=False,
                                               help="CSV or XLSX files.")],
    kind: Annotated[str | None, typer.Option(
        "--as", metavar="KIND", show_default=False,
        help="Kind of record; told from the columns when not given.")] = None,
    sheet: Annotated[str | None, typer.Option(
        "--sheet", metavar="NAME", show_default=False,
        help="Sheet of an XLSX file; default: the first.")] = None,
    new_codes: Annotated[bool, typer.Option(
        "--new-codes", help="Put codes that are on no list yet on their lists.")] = False,
    as_read: Annotated[bool, typer.Option(
        "--as-read", help="Take readings of a platen far from its setpoint as they are, where they "
                          "look like the other unit.")] = False,
    ignore: Annotated[list[str] | None, typer.Option(
        "--ignore", metavar="COL", show_default=False,
        help="Leave a column out; may be given several times.")] = None,
    rejects: Annotated[str | None, typer.Option(
        "--rejects", metavar="FILE", show_default=False,
        help="Where rejected rows go; default: NAME.rejects.csv next to the input.")] = None,
    timezone: Annotated[str | None, typer.Option(
        "--timezone", metavar="AREA/CITY", show_default=False,
        help="The shop's time zone, kept in the store.")] = None,
    dry_run: Annotated[bool, typer.Option(
        "--dry-run", help="Answer the same, but write nothing.")] = False,
    store: shared.Store = None,
    by: Annotated[str | None, typer.Option(
        "--by", metavar="NAME", show_default=False,
        help="Who loads, for the audit log; else QC_USER, else your log-in name.")] = None,
    json: shared.Json = False,
) -> None:
    """Read files into the store; rows that cannot be right go to a rejects file, with reasons."""
    from qc.config import store_location, user_name
    from qc.desk.loading import LoadRequest, load_files, shop_to_load

    request = LoadRequest(
        paths=tuple(files), kind=kind, sheet=sheet, new_codes=new_codes, rejects=rejects,
        as_read=as_read, dry_run=dry_run, ignore=tuple(ignore or ()))
    who, now = user_name(by), shared.now_us()
    place = store_location(store)
    # names that are all wrong make no store
    trial = dry_run or not any(Path(path).is_file() for path in files)
    with shop_to_load(place, timezone=timezone, dry_run=trial, by=who,
                      at_us=now) as shop, _progress(request.paths) as progress:
        report = load_files(shop, request, by=who, at_us=now, progress=progress)
    for file in report.files:
        if file.error:
            shared.say(f"qc: {file.error}")
        for warning in file.warnings:
            shared.say(f"qc: {file.file}: {warning}")
    if dry_run:
        shared.say("qc: a dry run, nothing was written; without --dry-run this would follow")
    shared.answer(report, as_json=json, to_json=_to_json, to_text=_to_text)
    raise typer.Exit(report.exit_code)


@contextmanager
def _progress(paths: tuple[str, ...]) -> Iterator[Progress | None]:
    """A bar on standard error for long loads."""
    sizes = [Path(path).stat().st_size for path in paths if Path(path).is_file()]
    if max(sizes, default=0) < LONG_BYTES:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn()
    with Progress(*columns, console=Console(stderr=True)) as bar:
        tasks: dict[str, Any] = {}

        def seen(path: str, share: float) -> None:
            if path not in tasks:
                tasks[path] = bar.add_task(f"reading {Path(path).name}", total=1.0)
            words = f"{'keeping' if share >= 1 else 'reading'} {Path(path).name}"
            bar.update(tasks[path], completed=share, description=words)

        yield seen


def _to_json(report: LoadReport) -> dict[str, Any]:
    return {"files": [_file_json(file) for file in report.files]}


def _file_json(file: Any) -> dict[str, Any]:
    answer = {
        "file": file.file, "as": file.kind, "read": file.n_read, "loaded": file.n_loaded,
        "already_there": file.n_already_there, "rejected": file.n_rejected,
        "rejects_file": file.rejects_file, "warnings": list(file.warnings),
    }
    return answer | ({"error": file.error} if file.error else {})


def _to_text(report: LoadReport, console: Console) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.table import Column, Table
    from rich.text import Text

    numbers = ("read", "loaded", "already there", "rejected")
    table = Table(
        *(Column(name, overflow="fold") for name in ("file", "as")),
        *(Column(name, justify="right") for name in numbers),
        Column("rejects file", overflow="fold"), box=SIMPLE_HEAD, padding=(0, 1, 0, 0))
    for file in report.files:
        counts = (file.n_read, file.n_loaded, file.n_already_there, file.n_rejected)
        words = [file.file, file.kind or "-", *map(str, counts), file.rejects_file or "-"]
        table.add_row(*map(Text, words))
    console.print(table)
