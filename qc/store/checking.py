"""Is the store sound? The file itself, the audit chain, the records it vouches for, the tallies."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import Connection, Table, select, text

from qc.domain.records import FINDINGS, INSPECTIONS, RECORD_KINDS, RecordKind
from qc.store.audit import verify_audit
from qc.store.base import Store
from qc.store.baselines import check_baselines
from qc.store.cases import check_cases
from qc.store.connection import damaged
from qc.store.frames import read_frame
from qc.store.hashing import Ints, look_fingerprints, record_fingerprints
from qc.store.retiring import check_retired
from qc.store.schema import audit, records
from qc.store.schema import findings as findings_table
from qc.store.service import check_service
from qc.store.stream_baselines import check_stream_baselines
from qc.store.tallies import check_tallies

_CHUNK_ROWS = 200_000
_SHOWN = 5


def check_store(store: Store) -> list[str]:
    """Everything that is wrong, one line each; empty when the store is sound."""
    lines = check_file(store)
    if lines:
        return lines
    return [*verify_audit(store), *check_records(store), *check_baselines(store),
            *check_stream_baselines(store), *check_cases(store), *check_service(store),
            *check_retired(store), *check_tallies(store)]


def check_file(store: Store) -> list[str]:
    """Damage of the SQLite file itself."""
    if not store.is_sqlite:
        return []
    with store.reading() as connection:
        found = [row[0] for row in connection.execute(text("PRAGMA integrity_check"))]
        orphans = connection.execute(text("PRAGMA foreign_key_check")).first()
    lines = [damaged(store.location, line) for line in found[:_SHOWN] if line != "ok"]
    return lines + ([f"a finding belongs to no look ({orphans[0]})"] if orphans else [])


def check_records(store: Store) -> list[str]:
    """Records that are not as the audit log saw them written, one line for each kind of fault."""
    with store.reading() as connection:
        vouched = _vouched(connection)
        return [line for kind in RECORD_KINDS.values()
                for line in _faults(connection, kind, vouched[kind.name])]


def _vouched(connection: Connection) -> dict[str, list[tuple[int, int, int, int]]]:
    """By kind: audit entry, first and last row number, sum of contents."""
    by_kind: dict[str, list[tuple[int, int, int, int]]] = defaultdict(list)
    for entry in connection.execute(select(audit.c.number, audit.c.detail).order_by("number")):
        for kind, first, last, total in json.loads(entry.detail).get("written", []):
            by_kind[kind].append((entry.number, first, last, int(total, 16)))
    return by_kind


def _faults(
    connection: Connection, kind: RecordKind, vouched: list[tuple[int, int, int, int]]
) -> Iterator[str]:
    numbers, content, kept = _recomputed(connection, kind)
    altered = numbers[content != kept]
    if len(altered):
        yield (f"{kind.name}: {len(altered)} rows were altered after they were written"
               + _some(altered))
    n_known = vouched[-1][2] if vouched else 0
    if len(numbers) != n_known or (len(numbers) and numbers[-1] != n_known):
        yield f"{kind.name}: the audit log tells of {n_known} rows, the store holds {len(numbers)}"
        return
    sums = np.concatenate([np.zeros(1, np.uint64), np.cumsum(kept.view(np.uint64))])
    for entry, first, last, total in vouched:
        if (int(sums[last]) - int(sums[first - 1])) % 2**64 != total:
            yield f"{kind.name}: rows {first} to {last} are not those of audit entry {entry}"


def _some(numbers: Ints) -> str:
    shown = ", ".join(str(number) for number in numbers[:_SHOWN])
    return f" (number {shown}{', ...' if len(numbers) > _SHOWN else ''})"


def _recomputed(connection: Connection, kind: RecordKind) -> tuple[Ints, Ints, Ints]:
    table = records[kind.name]
    parts = [_chunk(connection, kind, table, first) for first in _starts(connection, table)]
    empty: npt.NDArray[np.int64] = np.zeros(0, dtype=np.int64)
    joined = [np.concatenate([empty, *columns]) for columns in zip(*parts, strict=True)]
    return (joined[0], joined[1], joined[2]) if joined else (empty, empty, empty)


def _starts(connection: Connection, table: Table) -> range:
    newest = connection.scalar(select(table.c.number).order_by(table.c.number.desc()).limit(1))
    return range(1, (newest or 0) + 1, _CHUNK_ROWS)


def _chunk(
    connection: Connection, kind: RecordKind, table: Table, first: int
) -> tuple[Ints, Ints, Ints]:
    last = first + _CHUNK_ROWS - 1
    fields = [table.c[field.name] for field in kind.fields]
    query = select(table.c.number, table.c.content, *fields).where(
        table.c.number.between(first, last)
    )
    frame = read_frame(connection, query.order_by(table.c.number))
    number = frame["number"].to_numpy(dtype=np.int64)
    kept = frame["content"].to_numpy(dtype=np.int64)
    if kind.name != INSPECTIONS.name:
        return number, record_fingerprints(kind, frame[_names(kind)]).content, kept
    findings = _findings(connection, number, first, last)
    return number, look_fingerprints(frame[_names(kind)], findings).content, kept


def _names(kind: RecordKind) -> list[str]:
    return [field.name for field in kind.fields]


def _findings(connection: Connection, number: Ints, first: int, last: int) -> pd.DataFrame:
    found = findings_table.c
    query = select(found.look, *(found[name] for name in _names(FINDINGS)))
    frame = read_frame(connection, query.where(found.look.between(first, last)))
    return frame.assign(row=np.searchsorted(number, frame["look"].to_numpy(dtype=np.int64)))
