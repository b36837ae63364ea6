"""Looks at pieces: appended in bulk with their findings, and read back as frames."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import ColumnElement, and_, or_, select

from qc.domain.records import FINDINGS, INSPECTIONS
from qc.errors import StoreError
from qc.store.base import Change, Store
from qc.store.bulk import Columns, insert_columns, python_values
from qc.store.codes import NewCodes, add_codes
from qc.store.frames import read_frame
from qc.store.hashing import LOOK_BITS, Fingerprints, chosen, look_fingerprints, piece_base
from qc.store.judging import Added, Verdict, judge, stored_rows
from qc.store.schema import findings as findings_table
from qc.store.schema import inspections as looks_table
from qc.store.tallies import update_tallies
from qc.store.uniting import Save, united
from qc.store.writing import append_rows, newest_number, texts_once

Ints = npt.NDArray[np.int64]

_MANY_ROWS = 10_000
_FEW_ROWS = 100
"""So few looks are saved together with others that wait at the same moment."""
PIECE_WIDTH = (1 << LOOK_BITS) - 1
"""Identities of the looks at a piece lie within this of its base."""


def add_inspections(
    store: Store, looks: pd.DataFrame, findings: pd.DataFrame, *, by: str, at_us: int,
    source: str | None, new_codes: NewCodes | None = None, dry_run: bool = False,
) -> Added:
    """Append looks that are not there yet, in one transaction with tallies and audit row.

    Parameters
    ----------
    looks : columns of INSPECTIONS in stored units, defaults applied.
    findings : row (position in ``looks``), kind, zone, extent_mm, n.
    new_codes : codes to put on the lists presses, fabrics, transfers and kinds.

    Notes
    -----
    A row equal to a stored one is ``already_there``; a different row under the same identity is
    in ``conflict`` and left out. Rows repeated inside the batch are judged the same way.
    """
    save = Save(looks=looks.reset_index(drop=True), findings=findings, by=by, at_us=at_us,
                source=source, new_codes=new_codes)
    if dry_run:
        looks = texts_once(save.looks, INSPECTIONS)
        prints = look_fingerprints(looks, findings)
        with store.reading() as connection:
            stored = stored_rows(connection, looks_table, _bases(prints), PIECE_WIDTH)
        return judge(prints.identity, prints.content, stored).added()
    if len(looks) > _FEW_ROWS or new_codes:
        return _saved(store, [save])[0]
    done: Added = store.small_saves.save(save, lambda saves: _small_saves(store, saves))
    return done


def _small_saves(store: Store, saves: Sequence[Save]) -> Sequence[Added | Exception]:
    """Save what waits together; if that fails, one by one, so that each hears of its own fault."""
    try:
        return _saved(store, saves)
    except StoreError:
        raise  # the store itself: nobody would fare better alone
    except Exception as error:
        if len(saves) == 1:
            return [error]
        return [one for save in saves for one in _small_saves(store, [save])]


def _saved(store: Store, saves: Sequence[Save]) -> list[Added]:
    looks, findings, owner = united(saves)
    looks = texts_once(looks, INSPECTIONS)
    prints = look_fingerprints(looks, findings)
    whose = [(save.by, save.at_us, save.source) for save in saves]
    with store.changing_together(whose, what="load inspections") as changes:
        stored = _stored(changes[0], prints)
        verdict = judge(prints.identity, prints.content, stored)
        for number, (change, save) in enumerate(zip(changes, saves, strict=True)):
            n_codes = add_codes(change, save.new_codes)
            n_loaded = int(verdict.fresh[owner == number].sum())
            change.note(**({"rows": n_loaded} if n_loaded else {}))
            if n_loaded == n_codes == 0:
                change.drop()
        if verdict.fresh.any():
            _write(changes, owner, looks, findings, prints, verdict, stored)
    return [verdict.of(owner == number) for number in range(len(saves))]


def _write(
    changes: Sequence[Change], owner: Ints, looks: pd.DataFrame, findings: pd.DataFrame,
    prints: Fingerprints, verdict: Verdict, stored: pd.DataFrame,
) -> None:
    at = np.flatnonzero(verdict.fresh)
    mine, connection = owner[at].tolist(), changes[0].connection
    stamps: Columns = {"changed_at": [changes[number].at_us for number in mine],
                       "changed_by": [changes[number].by for number in mine]}
    numbers = append_rows(changes, owner[at], INSPECTIONS, looks.iloc[at], chosen(prints, at),
                          stamps=stamps)
    fresh_looks = looks.iloc[at].set_index(pd.Index(numbers, name="look"))
    fresh_findings = _numbered(findings, at, numbers, len(looks))
    write_findings(changes[0], fresh_findings)
    current = stored.loc[stored["superseded_at"].isna(), "number"].to_numpy(dtype=np.int64)
    update_tallies(changes[0], before=current, gone=current[:0], looks=fresh_looks,
                   findings=fresh_findings)
    if len(at) > _MANY_ROWS and connection.dialect.name == "postgresql":
        # without fresh statistics it plans as for a small table until its own analysis comes by
        connection.exec_driver_sql("ANALYZE inspections, findings")


def _bases(prints: Fingerprints) -> Ints:
    return np.unique(piece_base(prints.identity))


def _stored(change: Change, prints: Fingerprints) -> pd.DataFrame:
    empty = newest_number(change.connection, looks_table) == 0
    bases = _bases(prints)[: 0 if empty else None]
    return stored_rows(change.connection, looks_table, bases, PIECE_WIDTH)


def _numbered(findings: pd.DataFrame, at: Ints, numbers: Ints, n_rows: int) -> pd.DataFrame:
    number_of = np.zeros(n_rows, dtype=np.int64)
    number_of[at] = numbers
    look = number_of[findings["row"].to_numpy(dtype=np.int64)] if len(findings) else number_of[:0]
    kept = findings[look > 0].drop(columns="row").assign(look=look[look > 0])
    return kept.sort_values("look", kind="stable").reset_index(drop=True)


def write_findings(change: Change, findings: pd.DataFrame) -> None:
    """Append findings (look, kind, zone, extent_mm, n), sorted by look."""
    if findings.empty:
        return
    look = findings["look"].to_numpy(dtype=np.int64)
    columns = {"look": look.tolist(), "position": (positions(look) + 1).tolist()}
    for field in FINDINGS.fields:
        if field.name in findings.columns:
            kind = findings_table.c[field.name].type
            columns[field.name] = python_values(findings[field.name], kind)
    insert_columns(change.connection, findings_table, columns)


def positions(groups: Ints) -> Ints:
    """0, 1, 2 ... within each run of equal values."""
    starts = np.r_[True, groups[1:] != groups[:-1]]
    first = np.flatnonzero(starts)
    return np.arange(len(groups)) - first[np.cumsum(starts) - 1]


def read_looks(
    store: Store, *, as_of_us: int, columns: Sequence[str] | None = None,
    since_us: int | None = None, until_us: int | None = None, after: int = 0,
    only: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    """Looks as known at a moment, indexed by look number; text columns are categories.

    Of each look the newest version made up to ``as_of_us`` counts, else the first; looks inspected
    later are left out. ``since_us`` (inclusive) and ``until_us`` (exclusive) bound pressed_at;
    looks up to the number ``after`` are left out. ``only``: columns with the one value wanted.
    """
    wanted = list(columns) if columns is not None else [f.name for f in INSPECTIONS.fields]
    table = looks_table
    query = select(table.c.number.label("look"), *(table.c[name] for name in wanted)).where(
        known_then(as_of_us, since_us, until_us), *_recorded_after(after), *_having(only)
    )
    with store.reading() as connection:
        return read_frame(connection, query.order_by(
            _in_order(table.c.number, since_us, until_us))).set_index("look")


def read_findings(
    store: Store, *, as_of_us: int, since_us: int | None = None, until_us: int | None = None,
    after: int = 0, only: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    """Findings of the looks `read_looks` gives for the same arguments: look, kind, zone,
    extent_mm, n."""
    found = findings_table
    query = (
        select(found.c.look, found.c.kind, found.c.zone, found.c.extent_mm, found.c.n)
        .join(looks_table, looks_table.c.number == found.c.look)
        .where(known_then(as_of_us, since_us, until_us), *_recorded_after(after),
               *_having(only))
        .order_by(_in_order(found.c.look, since_us, until_us), found.c.position)
    )
    with store.reading() as connection:
        return read_frame(connection, query)


def _having(only: Mapping[str, str] | None) -> list[ColumnElement[bool]]:
    return [looks_table.c[name] == value for name, value in (only or {}).items()]


def _recorded_after(number: int) -> list[ColumnElement[bool]]:
    return [looks_table.c.number > number] if number else []


def _in_order(
    number: ColumnElement[int], since_us: int | None, until_us: int | None
) -> ColumnElement[int]:
    """The order of numbers; for a period in a way that keeps the database from going through all
    numbers of the history in their order, where an index on the time leads to the few it needs."""
    return number if since_us is None and until_us is None else number + 0


def known_then(
    as_of_us: int, since_us: int | None = None, until_us: int | None = None
) -> ColumnElement[bool]:
    """Which versions of looks stood at a moment; the period bounds pressed_at."""
    table = looks_table
    terms = [
        table.c.inspected_at <= int(as_of_us),
        or_(table.c.revision == 1, table.c.changed_at <= int(as_of_us)),
        or_(table.c.superseded_at.is_(None), table.c.superseded_at > int(as_of_us)),
    ]
    if since_us is not None:
        terms.append(table.c.pressed_at >= int(since_us))
    if until_us is not None:
        terms.append(table.c.pressed_at < int(until_us))
    return and_(*terms)
