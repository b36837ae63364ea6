"""Looks at pieces: appended in bulk with their findings, and read back as frames."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import ColumnElement, and_, or_, select

from qc.domain.records import FINDINGS, INSPECTIONS
from qc.store.base import Change, Store
from qc.store.bulk import insert_columns, python_values
from qc.store.codes import NewCodes, add_codes
from qc.store.frames import read_frame
from qc.store.hashing import LOOK_BITS, Fingerprints, chosen, look_fingerprints, piece_base
from qc.store.judging import Added, judge, stored_rows
from qc.store.schema import findings as findings_table
from qc.store.schema import inspections as looks_table
from qc.store.tallies import update_tallies
from qc.store.writing import newest_number, texts_once, write_rows

Ints = npt.NDArray[np.int64]

_MANY_ROWS = 10_000
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
    looks = texts_once(looks.reset_index(drop=True), INSPECTIONS)
    prints = look_fingerprints(looks, findings)
    if dry_run:
        with store.reading() as connection:
            stored = stored_rows(connection, looks_table, _bases(prints), PIECE_WIDTH)
        return judge(prints.identity, prints.content, stored).added()
    with store.changing(by=by, at_us=at_us, what="load inspections", source=source) as change:
        return _add(change, looks, findings, prints, new_codes)


def _add(
    change: Change, looks: pd.DataFrame, findings: pd.DataFrame, prints: Fingerprints,
    new_codes: NewCodes | None,
) -> Added:
    stored = _stored(change, prints)
    verdict = judge(prints.identity, prints.content, stored)
    n_codes = add_codes(change, new_codes)
    added = verdict.added()
    if added.n_loaded == 0:
        if n_codes == 0:
            change.drop()
        return added
    at = np.flatnonzero(verdict.fresh)
    numbers = write_rows(change, INSPECTIONS, looks.iloc[at], chosen(prints, at))
    fresh_looks = looks.iloc[at].set_index(pd.Index(numbers, name="look"))
    fresh_findings = _numbered(findings, at, numbers, len(looks))
    write_findings(change, fresh_findings)
    current = stored.loc[stored["superseded_at"].isna(), "number"].to_numpy(dtype=np.int64)
    update_tallies(change, before=current, gone=current[:0], looks=fresh_looks,
                   findings=fresh_findings)
    change.note(rows=added.n_loaded)
    if added.n_loaded > _MANY_ROWS and change.connection.dialect.name == "postgresql":
        # without fresh statistics it plans as for a small table until its own analysis comes by
        change.connection.exec_driver_sql("ANALYZE inspections, findings")
    return added


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
    only: Mapping[str, str] | None = None, having: Sequence[str] = (),
) -> pd.DataFrame:
    """Looks as known at a moment, indexed by look number; text columns are categories.

    Of each look the newest version made up to ``as_of_us`` counts, else the first; looks inspected
    later are left out. ``since_us`` (inclusive) and ``until_us`` (exclusive) bound pressed_at;
    looks up to the number ``after`` are left out. ``only``: columns with the one value wanted;
    ``having``: columns that must be filled.
    """
    wanted = list(columns) if columns is not None else [f.name for f in INSPECTIONS.fields]
    table = looks_table
    query = select(table.c.number.label("look"), *(table.c[name] for name in wanted)).where(
        known_at(as_of_us, since_us, until_us), table.c.number > after, *_having(only),
        *(table.c[name].is_not(None) for name in having),
    )
    with store.reading() as connection:
        return read_frame(connection, query.order_by(table.c.number)).set_index("look")


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
        .where(known_at(as_of_us, since_us, until_us), looks_table.c.number > after, *_having(only))
        .order_by(found.c.look, found.c.position)
    )
    with store.reading() as connection:
        return read_frame(connection, query)


def _having(only: Mapping[str, str] | None) -> list[ColumnElement[bool]]:
    return [looks_table.c[name] == value for name, value in (only or {}).items()]


def known_at(
    as_of_us: int, since_us: int | None = None, until_us: int | None = None
) -> ColumnElement[bool]:
    """Of each look the one version that counts as of a moment; bounds as for `read_looks`."""
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
