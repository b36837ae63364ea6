"""Surveys, checks, recipes and lists: appended, versioned where they may change, and read back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import BigInteger, ColumnElement, Table, and_, case, cast, func, or_, select, update

from qc.domain.records import INSPECTIONS, RECORD_KINDS, RecordKind
from qc.errors import InputError
from qc.store.base import Change, Store
from qc.store.codes import NewCodes, add_codes
from qc.store.frames import read_frame
from qc.store.hashing import Fingerprints, chosen, record_fingerprints
from qc.store.judging import Added, Ints, Verdict, judge, stored_rows
from qc.store.schema import records
from qc.store.writing import write_rows

NEVER = 0
"""When a code without its row was superseded: it never counts once its row is there."""


def add_records(
    store: Store, kind: str, frame: pd.DataFrame, *, by: str, at_us: int, source: str | None,
    new_codes: NewCodes | None = None, dry_run: bool = False,
) -> Added:
    """Append records of a kind other than inspections, in one transaction with the audit row.

    A row equal to the stored one is ``already_there``. A different row under the same identity is
    a new version where the kind has versions (lists), else a ``conflict``. Two different rows
    under one identity in one batch: the second is a conflict.
    """
    record = _kind(kind)
    frame = frame.reset_index(drop=True)
    prints = record_fingerprints(record, frame)
    table, distinct = records[kind], np.unique(prints.identity)
    if dry_run:
        with store.reading() as connection:
            stored = stored_rows(connection, table, distinct)
        return _judged(record, prints, stored).added()
    with store.changing(by=by, at_us=at_us, what=f"load {kind}", source=source) as change:
        stored = stored_rows(change.connection, table, distinct)
        verdict = _judged(record, prints, stored)
        n_codes = add_codes(change, new_codes)
        if verdict.fresh.any():
            _write(change, record, frame, prints, verdict, stored)
        elif n_codes == 0:
            change.drop()
        return verdict.added()


def _kind(kind: str) -> RecordKind:
    if kind == INSPECTIONS.name or kind not in RECORD_KINDS:
        known = ", ".join(name for name in RECORD_KINDS if name != INSPECTIONS.name)
        raise InputError(f"{kind!r} is not a kind kept here; known: {known}")
    return RECORD_KINDS[kind]


def _judged(kind: RecordKind, prints: Fingerprints, stored: pd.DataFrame) -> Verdict:
    identity, content = prints.identity, prints.content
    if not kind.versioned:
        return judge(identity, content, stored)
    newest = stored[stored["superseded_at"].isna()]
    verdict = judge(identity, content, newest)
    _, first_at, which = np.unique(identity, return_index=True, return_inverse=True)
    is_first = first_at[which] == np.arange(len(identity))
    changed = verdict.exists & is_first & ~verdict.already_there
    repeats_first = ~is_first & (content == content[first_at[which]])
    already = verdict.already_there | repeats_first
    fresh = verdict.fresh | changed
    return Verdict(fresh=fresh, already_there=already, conflict=~fresh & ~already,
                   exists=verdict.exists)


def _write(
    change: Change, kind: RecordKind, frame: pd.DataFrame, prints: Fingerprints,
    verdict: Verdict, stored: pd.DataFrame,
) -> None:
    at = np.flatnonzero(verdict.fresh)
    fresh = chosen(prints, at)
    newest = stored[stored["superseded_at"].isna()].set_index("identity")["revision"]
    revision = newest.reindex(fresh.identity).fillna(0).to_numpy(dtype=np.int64) + 1
    _supersede(change, records[kind.name], fresh.identity, revision)
    write_rows(change, kind, frame.iloc[at], fresh, revision=revision)
    change.note(rows=len(at))


def _supersede(change: Change, table: Table, identity: Ints, revision: Ints) -> None:
    for one, new in zip(identity.tolist(), revision.tolist(), strict=True):
        older = and_(table.c.identity == one, table.c.superseded_at.is_(None))
        change.connection.execute(
            update(table).where(older, table.c.revision == 0).values(superseded_at=NEVER)
        )
        if new > 1:
            change.connection.execute(
                update(table).where(older).values(superseded_at=change.at_us)
            )


def read_records(store: Store, kind: str, *, as_of_us: int | None = None) -> pd.DataFrame:
    """Records of a kind, the newest version of each made up to ``as_of_us`` (else the first).

    Kinds with a time of their own (surveys, checks) leave out what was measured later.
    """
    record, table = _kind(kind), records[kind]
    query = select(table.c.number, *(table.c[field.name] for field in record.fields)).where(
        *_standing(record, as_of_us))
    order = [table.c[name] for name in record.identity] if record.versioned else [table.c.number]
    with store.reading() as connection:
        return read_frame(connection, query.order_by(*order)).set_index("number")


def distinct_of(
    store: Store, kind: str, names: Sequence[str], *, at_most: int, as_of_us: int | None = None
) -> list[tuple[str, ...]]:
    """Every combination of these text fields that the ``at_most`` records of a kind written last
    have, in order."""
    table = records[kind]
    newest = select(*(table.c[name] for name in names)).where(
        *_standing(_kind(kind), as_of_us)).order_by(table.c.number.desc()).limit(at_most).subquery()
    query = select(*newest.c).distinct()
    with store.reading() as connection:
        return sorted(tuple(str(part) for part in row) for row in connection.execute(query))


def _standing(record: RecordKind, as_of_us: int | None) -> list[ColumnElement[bool]]:
    """Which versions stood at a moment; now, where none is named."""
    table = records[record.name]
    if as_of_us is None:
        return [table.c.superseded_at.is_(None)]
    moment = int(as_of_us)
    terms = [or_(table.c.revision <= 1, table.c.changed_at <= moment),
             or_(table.c.superseded_at.is_(None), table.c.superseded_at > moment)]
    if record.time_field:
        terms.append(table.c[record.time_field] <= moment)
    return terms


def survey_authors(store: Store) -> dict[tuple[str, str], str]:
    """Who entered each survey, by its number and platen."""
    table = records["platen_readings"]
    query = select(table.c.survey_id, table.c.platen, table.c.changed_by).distinct()
    with store.reading() as connection:
        return {(row.survey_id, row.platen): row.changed_by for row in connection.execute(query)}


def read_versions(store: Store, kind: str, *, as_of_us: int) -> pd.DataFrame:
    """Every version of a list's records made up to a moment, oldest first within each record.

    ``from_us`` is when a version began to count: 0 for the first one, which counts from ever, as in
    `read_records`.
    """
    record, table = _kind(kind), records[kind]
    moment = int(as_of_us)
    since = case((table.c.revision <= 1, 0), else_=table.c.changed_at)
    query = select(
        table.c.number, *(table.c[field.name] for field in record.fields),
        cast(since, BigInteger).label("from_us"),
    ).where(
        or_(table.c.revision <= 1, table.c.changed_at <= moment),
        or_(table.c.superseded_at.is_(None), table.c.superseded_at != NEVER),
    )
    order = [table.c[name] for name in record.identity]
    with store.reading() as connection:
        frame = read_frame(connection, query.order_by(*order, table.c.revision))
    return frame.set_index("number")


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedVersion:
    """One version of a record. ``values``: its fields in stored units. ``revision`` 0: only its
    code is known, from other records. ``is_newest``: nothing has taken its place."""

    values: Mapping[str, Any]
    revision: int
    by: str
    at_us: int
    is_newest: bool


def read_listed(
    store: Store, kind: str, *, as_of_us: int | None = None,
    having: Mapping[str, str] | None = None, every_version: bool = False,
    newest: int | None = None, blank: str | None = None,
) -> tuple[ListedVersion, ...]:
    """Records of a list with who wrote them and when, in the order of entry.

    ``having``: only those with these values in these fields. ``every_version``: also what was
    superseded, but for a code alone whose row came later. ``newest``: at most so many, those
    entered last. ``blank``: only those that say nothing in this field.
    """
    record, table = _kind(kind), records[kind]
    gone = table.c.superseded_at
    query = select(table).where(or_(gone.is_(None), gone != NEVER))
    if as_of_us is not None:
        moment = int(as_of_us)
        query = query.where(or_(table.c.revision <= 1, table.c.changed_at <= moment))
        standing = or_(gone.is_(None), gone > moment)
    else:
        standing = gone.is_(None)
    if not every_version:
        query = query.where(standing)
    for name, value in (having or {}).items():
        query = query.where(table.c[name] == value)
    if blank is not None:
        query = query.where(table.c[blank].is_(None))
    query = query.add_columns(case((standing, 1), else_=0).label("stands"))
    query = (query.order_by(table.c.number) if newest is None
             else query.order_by(table.c.number.desc()).limit(newest))
    with store.reading() as connection:
        rows = connection.execute(query).mappings().all()
    if newest is not None:
        rows = rows[::-1]
    names = [field.name for field in record.fields]
    return tuple(
        ListedVersion(values={name: row[name] for name in names}, revision=row["revision"],
                      by=row["changed_by"], at_us=row["changed_at"], is_newest=bool(row["stands"]))
        for row in rows)


def count_listed(store: Store, kind: str, key: Sequence[str]) -> int:
    """How many different keys (values of these fields) a list holds now."""
    table = records[kind]
    keys = select(*(table.c[name] for name in key)).where(table.c.superseded_at.is_(None))
    with store.reading() as connection:
        return int(connection.scalar(
            select(func.count()).select_from(keys.distinct().subquery())) or 0)


def keys_alike(
    store: Store, kind: str, key: Mapping[str, str]
) -> dict[tuple[str, ...], int]:
    """Keys on a list that are the same but for capitals (of the plain alphabet at least), each with
    the revision that stands: 0 is a code alone."""
    table = records[kind]
    query = select(*(table.c[name] for name in key), func.max(table.c.revision)).where(
        table.c.superseded_at.is_(None),
        *(or_(table.c[name] == value, func.lower(table.c[name]) == value.lower())
          for name, value in key.items()),
    ).group_by(*(table.c[name] for name in key))
    with store.reading() as connection:
        return {tuple(row[:-1]): int(row[-1]) for row in connection.execute(query)}
