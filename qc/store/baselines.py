"""Baselines frozen and process changes agreed on: only ever added, each with its audit row."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from sqlalchemy import Connection, Row, Table, func, insert, select

from qc.domain.baselines import AgreedChange, BaselineDecision, FrozenBaseline
from qc.errors import InputError
from qc.store.base import Change, Store
from qc.store.schema import agreed_changes, audit, baselines, records

FREEZE = "freeze baseline"
AGREE = "tell agreed change"


def freeze_baseline(
    store: Store, *, from_us: int, until_us: int | None, why: str, evidence: dict[str, Any],
    by: str, at_us: int,
) -> FrozenBaseline:
    """Record that the usual rates rest on a period from now on, and on what that was decided.

    ``evidence``: the figures looked at, as JSON can hold them.

    Raises
    ------
    InputError
        Nobody or no reason is named.
    """
    _check_named("a baseline", by, why)
    with store.changing(by=by.strip(), at_us=at_us, what=FREEZE) as change:
        row = {
            "number": _newest(change.connection, baselines) + 1,
            "decided_at": _not_before(change, baselines, "decided_at"), "decided_by": change.by,
            "from_us": int(from_us), "until_us": None if until_us is None else int(until_us),
            "why": why.strip(), "evidence": _text(evidence),
        }
        _write(change, baselines, row)
    return _frozen(row)


def read_baselines(store: Store, *, as_of_us: int | None = None) -> tuple[FrozenBaseline, ...]:
    """Every baseline frozen up to a moment, in the order they were decided."""
    rows = _read(store, baselines, "decided_at", as_of_us)
    return tuple(_frozen(dict(row._mapping)) for row in rows)


def tell_agreed_change(store: Store, *, changed_us: int, why: str, by: str, at_us: int) -> None:
    """Record that the process was changed on purpose at a moment.

    Raises
    ------
    InputError
        Nobody or no reason is named.
    """
    _check_named("an agreed change", by, why)
    with store.changing(by=by.strip(), at_us=at_us, what=AGREE) as change:
        _write(change, agreed_changes, {
            "number": _newest(change.connection, agreed_changes) + 1,
            "told_at": _not_before(change, agreed_changes, "told_at"), "told_by": change.by,
            "changed_us": int(changed_us), "why": why.strip(),
        })


def read_agreed_changes(
    store: Store, *, as_of_us: int | None = None
) -> tuple[AgreedChange, ...]:
    """Every agreed change told up to a moment, in the order they were told."""
    rows = _read(store, agreed_changes, "told_at", as_of_us)
    return tuple(AgreedChange(at_us=row.changed_us, by=row.told_by, why=row.why) for row in rows)


def recipe_authors(store: Store) -> dict[tuple[str, str, str], str]:
    """Who entered the recipe that stands, by fabric, transfer and version."""
    table = records["recipes"]
    query = select(table.c.fabric, table.c.transfer, table.c.version, table.c.changed_by)
    with store.reading() as connection:
        rows = connection.execute(query.where(table.c.superseded_at.is_(None)))
        return {(row.fabric, row.transfer, row.version): row.changed_by for row in rows}


def check_baselines(store: Store) -> list[str]:
    """Rows that are not as the audit log saw them written, one line each."""
    with store.reading() as connection:
        return [line for table, what in ((baselines, FREEZE), (agreed_changes, AGREE))
                for line in _faults(connection, table, what)]


def _check_named(what: str, by: str, why: str) -> None:
    if not by.strip():
        raise InputError(f"{what} needs a name; say who decided it")
    if not why.strip():
        raise InputError(f"{what} needs a reason; say why")


def _newest(connection: Connection, table: Table) -> int:
    return int(connection.scalar(select(func.max(table.c.number))) or 0)


def _not_before(change: Change, table: Table, column: str) -> int:
    """Now, but not before the row it follows: a clock set back must not change their order."""
    newest = change.connection.scalar(select(func.max(table.c[column])))
    return max(change.at_us, int(newest or change.at_us))


def _write(change: Change, table: Table, row: dict[str, Any]) -> None:
    change.connection.execute(insert(table), row)
    change.note(**row)


def _read(store: Store, table: Table, moment: str, as_of_us: int | None) -> list[Row[Any]]:
    query = select(table).order_by(table.c.number)
    if as_of_us is not None:
        query = query.where(table.c[moment] <= as_of_us)
    with store.reading() as connection:
        return list(connection.execute(query))


def _frozen(row: dict[str, Any]) -> FrozenBaseline:
    decision = BaselineDecision(
        decided_at_us=row["decided_at"], from_us=row["from_us"], until_us=row["until_us"],
        by=row["decided_by"], why=row["why"],
    )
    return FrozenBaseline(number=row["number"], decision=decision,
                          evidence=json.loads(row["evidence"]))


def _text(evidence: dict[str, Any]) -> str:
    return json.dumps(evidence, sort_keys=True, ensure_ascii=False, allow_nan=False)


def _faults(connection: Connection, table: Table, what: str) -> Iterator[str]:
    query = select(audit.c.detail).where(audit.c.what == what).order_by(audit.c.number)
    vouched = {said["number"]: said for said in map(json.loads, connection.scalars(query))}
    rows = {row["number"]: dict(row) for row in connection.execute(select(table)).mappings()}
    for number in sorted(vouched.keys() | rows.keys()):
        if vouched.get(number) != rows.get(number):
            yield f"{table.name}: row {number} is not as the audit log saw it written"
