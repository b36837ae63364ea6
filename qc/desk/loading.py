"""Loading files: read, judged row by row, kept in one transaction for each file."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from sqlalchemy import func, select

from qc.config import checked_value
from qc.desk.heat_limits import heat_warnings
from qc.desk.shop import Shop, change_setting, open_shop
from qc.domain.records import FABRICS, INSPECTIONS, PLATEN_READINGS, RECIPES, RECORD_KINDS
from qc.errors import InputError, QcError
from qc.intake import (
    Parsed,
    RawTable,
    Rules,
    parse_part,
    plan_columns,
    read_chunks,
    read_columns,
    recognise,
    united,
)
from qc.intake.rejects import rejects_path, write_rejects
from qc.intake.row_report import WrongCell, wrong_cells
from qc.presses.entry import survey_cautions
from qc.presses.instruments import instrument_cautions
from qc.store.codes import known_codes
from qc.store.inspections import add_inspections
from qc.store.judging import Added
from qc.store.records import add_records, read_records
from qc.store.schema import records as tables_of_kinds

ORDER = ("presses", "fabrics", "transfers", "instruments", "placements", "recipes", "jobs",
         "platen_readings", "machine_checks", "pull_checks", "inspections")
"""Lists come before the rows that name their codes, whatever the order of the files."""

MEASURED_WITH = ("platen_readings", "machine_checks")
"""Kinds whose rows name the instrument they were measured with."""

Progress = Callable[[str, float], None]
"""Called with a file's name and how far into it (0..1) reading has come."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRequest:
    """What to load and how; ``rejects`` names the rejects file, else it goes next to the input.

    ``dry_rejects``: rejects files are written in a dry run too. ``row_report``: of how many
    rejected rows the report says what is wrong, cell by cell.
    """

    paths: tuple[str, ...]
    kind: str | None = None
    sheet: str | None = None
    new_codes: bool = False
    as_read: bool = False
    rejects: str | None = None
    dry_run: bool = False
    dry_rejects: bool = False
    row_report: int = 0
    ignore: tuple[str, ...] = ()
    say: Callable[[str], str] = str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileReport:
    """What became of one file. ``error`` is set when nothing of it was loaded. ``new_codes``: codes
    put on their lists, or that would be; ``unknown_codes``: rows were rejected for want of that;
    ``wrong``: what is wrong with the first rejected rows."""

    file: str
    kind: str | None = None
    n_read: int = 0
    n_loaded: int = 0
    n_already_there: int = 0
    n_rejected: int = 0
    rejects_file: str | None = None
    warnings: tuple[str, ...] = ()
    error: str | None = None
    exit_code: int = 0
    new_codes: tuple[tuple[str, tuple[str, ...]], ...] = ()
    unknown_codes: bool = False
    wrong: tuple[WrongCell, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadReport:
    """What became of each file, in the order they were named; the worst exit code."""

    files: tuple[FileReport, ...]

    @property
    def exit_code(self) -> int:
        return max((file.exit_code for file in self.files), default=0)


@dataclass(slots=True, kw_only=True)
class _Run:
    """One run over several files: what it has learnt on the way."""

    shop: Shop
    request: LoadRequest
    by: str
    at_us: int
    progress: Progress | None
    known: dict[str, frozenset[str]]
    before: dict[str, list[Parsed]] = field(default_factory=dict)
    rejects_taken: set[str] = field(default_factory=set)


@contextmanager
def shop_to_load(place: str, *, timezone: str | None, dry_run: bool, by: str,
                 at_us: int) -> Iterator[Shop]:
    """The shop to load into, made if it is not there; a dry run leaves no trace.

    Raises
    ------
    InputError
        There is no such zone, or the shop has rows read in another one.
    """
    if timezone is not None:
        checked_value("timezone", timezone)
    with tempfile.TemporaryDirectory() as folder:
        fresh = dry_run and "://" not in place and not _has_bytes(place)
        shop = open_shop(os.path.join(folder, "trial.db") if fresh else place,  # noqa: PTH118
                         create=fresh or not dry_run)
        try:
            yield shop if timezone is None else _in_zone(shop, timezone, dry_run, by, at_us)
        finally:
            shop.store.close()


def load_files(
    shop: Shop, request: LoadRequest, *, by: str, at_us: int, progress: Progress | None = None
) -> LoadReport:
    """Load files, each in one transaction; one that cannot be read does not stop the others.

    Raises
    ------
    InputError
        The request itself cannot be carried out (kind unknown, rejects file impossible).
    """
    _check_request(request)
    run = _Run(shop=shop, request=request, by=by, at_us=at_us, progress=progress,
               known=known_codes(shop.store))
    reports: dict[int, FileReport] = {}
    kinds = [_kind_of(path, request) for path in request.paths]
    for at in sorted(range(len(kinds)), key=lambda n: _rank(kinds[n])):
        reports[at] = _reported(run, request.paths[at], kinds[at])
    return LoadReport(files=tuple(reports[at] for at in range(len(kinds))))


def _has_bytes(place: str) -> bool:
    return Path(place).exists() and (Path(place).is_dir() or Path(place).stat().st_size > 0)


def _in_zone(shop: Shop, timezone: str, dry_run: bool, by: str, at_us: int) -> Shop:
    kept = shop.settings["timezone"]
    if kept == timezone:
        return shop
    if _has_rows(shop):
        raise InputError(
            f"--timezone is {timezone}, but this shop's rows were read in {kept}; leave it out,"
            f" write times with an offset, or change the shop's zone for files to come with"
            f" qc settings timezone {timezone}")
    if dry_run:
        return replace(shop, settings={**shop.settings, "timezone": timezone})
    return change_setting(shop, name="timezone", value=timezone, by=by, at_us=at_us)


def _has_rows(shop: Shop) -> bool:
    """Whether anything with a time of its own is stored."""
    timed = ("inspections", "platen_readings", "machine_checks", "pull_checks", "recipes",
             "instruments")
    with shop.store.reading() as connection:
        return any(connection.scalar(select(func.max(tables_of_kinds[kind].c.number)))
                   for kind in timed)


def _check_request(request: LoadRequest) -> None:
    if request.kind is not None and request.kind not in RECORD_KINDS:
        raise InputError(f"--as is {request.kind!r}; known kinds: {', '.join(RECORD_KINDS)}")
    if request.rejects is None:
        return
    target = Path(request.rejects)
    if len(request.paths) > 1:
        raise InputError("--rejects names one file, for one input; leave it out and each input"
                         " gets its own next to it")
    if target.is_dir() or not target.absolute().parent.is_dir():
        raise InputError(f"--rejects is {request.rejects!r}; name a file in a folder that exists")
    if any(target.resolve() == Path(path).resolve() for path in request.paths):
        raise InputError(f"--rejects is {request.rejects!r}, the input itself; name another file")


def _kind_of(path: str, request: LoadRequest) -> str | QcError:
    """The kind of record in a file, or why it cannot be told."""
    if request.kind is not None:
        return request.kind
    try:
        columns = read_columns(path, sheet=request.sheet)
    except QcError as error:
        return error
    try:
        return recognise(columns)
    except InputError as error:
        return InputError(f"{path}: {error}")


def _rank(kind: str | QcError) -> int:
    return ORDER.index(kind) if isinstance(kind, str) else len(ORDER)


def _reported(run: _Run, path: str, kind: str | QcError) -> FileReport:
    try:
        if isinstance(kind, QcError):
            raise kind
        return _load(run, path, kind)
    except QcError as error:
        return FileReport(file=path, kind=kind if isinstance(kind, str) else None,
                          error=str(error), exit_code=error.exit_code)


def _load(run: _Run, path: str, kind: str) -> FileReport:
    target = _rejects_target(run, path)
    parsed = _parsed(run, path, kind)
    added = _added(run, path, parsed)
    rejects = parsed.rejects | _conflicts(parsed, added)
    _learn(run, parsed)
    if rejects and (run.request.dry_rejects or not run.request.dry_run):
        said = {row: (line, run.request.say(why)) for row, (line, why) in rejects.items()}
        write_rejects(target, read_chunks(path, sheet=run.request.sheet), said)
    return FileReport(
        file=path, kind=kind, n_read=parsed.n_read, n_loaded=added.n_loaded,
        n_already_there=int(added.already_there.sum()), n_rejected=len(rejects),
        rejects_file=str(target) if rejects else None, exit_code=1 if rejects else 0,
        warnings=(*parsed.warnings, *_no_rows(parsed), *_held(parsed), *_measured(run, parsed),
                  *_too_hot(run, parsed), *_stale(run, target, bool(rejects))),
        new_codes=tuple(sorted(parsed.new_codes.items())), wrong=_wrong(run, path, rejects),
        unknown_codes=any("--new-codes" in reasons for _, reasons in rejects.values()),
    )


def _wrong(
    run: _Run, path: str, rejects: Mapping[int, tuple[int, str]]
) -> tuple[WrongCell, ...]:
    if not run.request.row_report or not rejects:
        return ()
    return wrong_cells(read_chunks(path, sheet=run.request.sheet), rejects,
                       most=run.request.row_report)


def _rejects_target(run: _Run, path: str) -> Path:
    """Where this file's rejects go; refused before loading where they could not be written."""
    target = Path(run.request.rejects) if run.request.rejects else rejects_path(path)
    if str(target) in run.rejects_taken:  # a.csv and a.xlsx in one run
        target = Path(f"{path}.rejects.csv")
    run.rejects_taken.add(str(target))
    if not os.access(target.absolute().parent, os.W_OK):
        raise InputError(f"{path}: no rejects file can be written to {target.absolute().parent};"
                         " name one elsewhere with --rejects")
    return target


def _no_rows(parsed: Parsed) -> tuple[str, ...]:
    return () if parsed.n_read else ("there are no rows below the header; nothing was loaded",)


def _held(parsed: Parsed) -> tuple[str, ...]:
    """That rows say nothing of what was done with a piece that has a defect."""
    n = parsed.n_held
    if not n:
        return ()
    rows = "1 row with defects does" if n == 1 else f"{n:,} rows with defects do"
    return (f"{rows} not say what was done with the piece (column disposition); such pieces are"
            " taken as on hold",)


def _measured(run: _Run, parsed: Parsed) -> tuple[str, ...]:
    if parsed.kind not in MEASURED_WITH:
        return ()
    return measured_cautions(parsed.kind, parsed.frame, _there(run, parsed.kind),
                             _there(run, "instruments"), run.shop.zone)


def _too_hot(run: _Run, parsed: Parsed) -> tuple[str, ...]:
    if parsed.kind != RECIPES.name:
        return ()
    return heat_warnings(run.shop, parsed.frame, _there(run, FABRICS.name))


def measured_cautions(
    kind: str, frame: pd.DataFrame, there: pd.DataFrame, instruments: pd.DataFrame, zone: ZoneInfo
) -> tuple[str, ...]:
    """What looks wrong with measurements that come in (``frame``) and with what they were made
    with. ``there``: what is stored of the kind, those that come in too."""
    rows = frame.reindex(columns=["measured_at", "instrument"])
    said = instrument_cautions(rows, instruments, zone)
    if kind == PLATEN_READINGS.name:
        said += survey_cautions(there, set(frame["survey_id"].unique()), zone)
    return said


def _there(run: _Run, kind: str) -> pd.DataFrame:
    """What is stored of a kind, or would be by now had this not been a dry run."""
    before = [earlier.frame for earlier in run.before.get(kind, [])]
    return pd.concat([read_records(run.shop.store, kind), *before])


def _stale(run: _Run, target: Path, rejected: bool) -> tuple[str, ...]:
    if rejected or run.request.rejects is not None or not target.exists():
        return ()
    return (f"{target} is from an earlier load; this load rejected nothing",)


def _parsed(run: _Run, path: str, kind: str) -> Parsed:
    rules = Rules(zone=run.shop.zone, known=run.known, new_codes=run.request.new_codes,
                  now_us=run.at_us, as_read=run.request.as_read)
    chunks = read_chunks(path, sheet=run.request.sheet)
    try:
        return united(_parts(run, path, kind, chunks, rules))
    except InputError as error:
        said = [one if one.startswith(path) else f"{path}: {one}" for one in error.problems]
        raise InputError(said) from None


def _parts(
    run: _Run, path: str, kind: str, chunks: Iterator[RawTable], rules: Rules
) -> Iterator[Parsed]:
    plan = None
    for raw in chunks:
        plan = plan or plan_columns(raw.columns, kind, kinds=run.known["kinds"],
                                    ignore=run.request.ignore)
        yield parse_part(raw, plan, rules)
        if run.progress:
            run.progress(path, raw.share)


def _added(run: _Run, path: str, parsed: Parsed) -> Added:
    if run.request.dry_run:
        return _would_add(run, path, parsed)
    return _add(run, path, parsed.kind, parsed.frame, parsed.findings, parsed.new_codes)


def _add(
    run: _Run, path: str, kind: str, frame: pd.DataFrame, findings: pd.DataFrame,
    new_codes: Mapping[str, Sequence[str]],
) -> Added:
    dry = run.request.dry_run
    source = Path(path).name
    if kind == INSPECTIONS.name:
        return add_inspections(run.shop.store, frame, findings, by=run.by, at_us=run.at_us,
                               source=source, new_codes=new_codes, dry_run=dry)
    return add_records(run.shop.store, kind, frame, by=run.by, at_us=run.at_us, source=source,
                       new_codes=new_codes, dry_run=dry)


def _would_add(run: _Run, path: str, parsed: Parsed) -> Added:
    """What a real load would answer: files of the same kind before this one count as stored."""
    earlier = run.before.get(parsed.kind, [])
    run.before[parsed.kind] = [*earlier, parsed]
    alone = _add(run, path, parsed.kind, parsed.frame, parsed.findings, {})
    if not earlier:
        return alone
    both = united([*earlier, parsed])
    judged = _add(run, path, parsed.kind, both.frame, both.findings, {})
    mine = slice(len(both.frame) - len(parsed.frame), None)
    already, conflict = judged.already_there[mine], judged.conflict[mine]
    if RECORD_KINDS[parsed.kind].versioned:  # a row that differs from another file's is a version
        conflict = alone.conflict
    already = already & ~conflict
    return Added(n_loaded=int((~already & ~conflict).sum()), already_there=already,
                 conflict=conflict)


def _conflicts(parsed: Parsed, added: Added) -> dict[int, tuple[int, str]]:
    """Rows refused because a different one has their identity."""
    kind = RECORD_KINDS[parsed.kind]
    key = ", ".join(kind.identity)
    way = ("correct the stored look with qc correct" if kind is INSPECTIONS
           else "give it an identity of its own, or leave it out")
    reason = f"conflict: a different row with the same {key} is stored or stands above, {way}"
    return {int(parsed.row_of[at]): (int(parsed.line_of[at]), reason)
            for at in np.flatnonzero(added.conflict)}


def _learn(run: _Run, parsed: Parsed) -> None:
    """Codes of this file are known to the files behind it."""
    codes = {name: set(new) for name, new in parsed.new_codes.items()}
    if parsed.kind in run.known:
        own = RECORD_KINDS[parsed.kind].identity[0]
        codes.setdefault(parsed.kind, set()).update(parsed.frame[own].dropna().unique())
    for name, new in codes.items():
        run.known[name] = run.known[name] | frozenset(new)
