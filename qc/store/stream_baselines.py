"""Frozen limits of streams: only ever added, each with its audit row."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Row, func, insert, select

from qc.domain.stream_baselines import StreamBaseline
from qc.errors import InputError
from qc.store.base import Change, Store
from qc.store.schema import audit, stream_baselines

FREEZE = "freeze limits of a stream"


def freeze_stream(
    store: Store, *, stream: Mapping[str, str], kind: str, period_us: tuple[int, int], why: str,
    known: Mapping[str, Any], evidence: Mapping[str, Any], by: str, at_us: int,
) -> StreamBaseline:
    """Record that the limits of a stream are these from now on.

    Raises
    ------
    InputError
        Nobody or no reason is named.
    """
    if not by.strip():
        raise InputError("frozen limits need a name; say who decided it")
    if not why.strip():
        raise InputError("frozen limits need a reason; say why")
    with store.changing(by=by.strip(), at_us=at_us, what=FREEZE) as change:
        row = {
            "number": _newest(change) + 1, "decided_at": _not_before(change),
            "decided_by": change.by, "stream": _text(stream), "kind": kind,
            "from_us": int(period_us[0]), "until_us": int(period_us[1]), "why": why.strip(),
            "known": _text(known), "evidence": _text(evidence),
        }
        change.connection.execute(insert(stream_baselines), row)
        change.note(**row)
    return _frozen(row)


def read_stream_baselines(
    store: Store, stream: Mapping[str, str], *, as_of_us: int | None = None
) -> tuple[StreamBaseline, ...]:
    """Every frozen baseline of a stream up to a moment, in the order they were decided."""
    table = stream_baselines
    query = select(table).where(table.c.stream == _text(stream)).order_by(table.c.number)
    if as_of_us is not None:
        query = query.where(table.c.decided_at <= int(as_of_us))
    with store.reading() as connection:
        rows: list[Row[Any]] = list(connection.execute(query))
    return tuple(_frozen(dict(row._mapping)) for row in rows)


def check_stream_baselines(store: Store) -> list[str]:
    """Rows that are not as the audit log saw them written, one line each."""
    with store.reading() as connection:
        query = select(audit.c.detail).where(audit.c.what == FREEZE).order_by(audit.c.number)
        vouched = {said["number"]: said for said in map(json.loads, connection.scalars(query))}
        rows = {row["number"]: dict(row)
                for row in connection.execute(select(stream_baselines)).mappings()}
    return [f"{stream_baselines.name}: row {number} is not as the audit log saw it written"
            for number in sorted(vouched.keys() | rows.keys())
            if vouched.get(number) != rows.get(number)]


def _newest(change: Change) -> int:
    return int(change.connection.scalar(select(func.max(stream_baselines.c.number))) or 0)


def _not_before(change: Change) -> int:
    """Now, but not before the row it follows: a clock set back must not change their order."""
    newest = change.connection.scalar(select(func.max(stream_baselines.c.decided_at)))
    return max(change.at_us, int(newest or change.at_us))


def _frozen(row: dict[str, Any]) -> StreamBaseline:
    return StreamBaseline(
        number=row["number"], decided_at_us=row["decided_at"], by=row["decided_by"],
        kind=row["kind"], from_us=row["from_us"], until_us=row["until_us"], why=row["why"],
        **{name: json.loads(row[name]) for name in ("stream", "known", "evidence")},
    )


def _text(value: Mapping[str, Any]) -> str:
    return json.dumps(dict(value), sort_keys=True, ensure_ascii=False, allow_nan=False)
