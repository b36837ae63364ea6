"""The audit log: who changed what, when and from where, each row chained to the one before.

The chain is SHA-256 (FIPS 180-4) over the row's contents and the chain value before it: a row
changed, removed or put in between breaks every later link.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from hashlib import sha256
from typing import TYPE_CHECKING, Any

import pandas as pd
from sqlalchemy import Connection, func, insert, select

from qc.store.schema import audit

if TYPE_CHECKING:
    from qc.store.base import Store

Link = tuple[int, str]
"""Number and chain value of an audit row."""
COLUMNS = ("number", "changed_at", "changed_by", "what", "source", "detail", "previous", "chain")


def link(row: dict[str, Any]) -> str:
    """The chain value of an audit row, from everything in it and the link before."""
    body = [row[name] for name in COLUMNS if name != "chain"]
    return sha256(json.dumps(body, ensure_ascii=False, separators=(",", ":")).encode()).hexdigest()


def append(
    connection: Connection, *, by: str, at_us: int, what: str, source: str | None,
    detail: dict[str, Any], after: Link | None = None,
) -> Link:
    """Write the audit row of a change into its transaction; its number and chain value.

    ``after``: the newest link, where the caller has just written it.
    """
    number, previous = after or newest_link(connection)
    row: dict[str, Any] = {
        "number": number + 1, "changed_at": int(at_us), "changed_by": by,
        "what": what, "source": source,
        "detail": json.dumps(detail, sort_keys=True, ensure_ascii=False, separators=(",", ":")),
        "previous": previous,
    }
    row["chain"] = link(row)
    connection.execute(insert(audit), row)
    return number + 1, row["chain"]


def newest_link(connection: Connection) -> Link:
    """Number and chain value of the newest row; 0 and nothing in a new store."""
    newest = connection.execute(
        select(audit.c.number, audit.c.chain).order_by(audit.c.number.desc()).limit(1)
    ).first()
    return (int(newest.number), str(newest.chain)) if newest else (0, "")


def newest_change(connection: Connection) -> int:
    """The number of the newest change; 0 in a new store."""
    return int(connection.scalar(select(func.max(audit.c.number))) or 0)


def newest_but(connection: Connection, *what: str) -> int:
    """The number of the newest change that is of none of these sorts; 0 where there is none."""
    query = select(func.max(audit.c.number)).where(audit.c.what.not_in(what))
    return int(connection.scalar(query) or 0)


def read_audit(store: Store) -> pd.DataFrame:
    """The whole log, oldest first; ``detail`` is JSON text."""
    with store.reading() as connection:
        rows = connection.execute(select(audit).order_by(audit.c.number)).all()
    return pd.DataFrame(rows, columns=list(COLUMNS))


def verify_audit(store: Store) -> list[str]:
    """What is wrong with the chain, one line each; empty when it holds."""
    with store.reading() as connection:
        rows = connection.execute(select(audit).order_by(audit.c.number)).mappings().all()
    return list(_breaks([dict(row) for row in rows]))


def _breaks(rows: list[dict[str, Any]]) -> Iterator[str]:
    before, expected = "", 1
    for row in rows:
        if row["number"] != expected:
            yield f"audit: entry {expected} is missing before entry {row['number']}"
        if row["previous"] != before:
            yield f"audit: entry {row['number']} does not follow from the entry before it"
        if row["chain"] != link(row):
            yield f"audit: entry {row['number']} ({row['what']}) was altered after it was written"
        before, expected = row["chain"], row["number"] + 1
