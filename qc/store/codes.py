"""The lists a file's codes are checked against: presses, fabrics, transfers, defect kinds."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import pandas as pd
from sqlalchemy import Connection, insert, select

from qc.domain.kinds import defect_kinds as trade_kinds
from qc.domain.records import RECORD_KINDS
from qc.store.base import Change, Store
from qc.store.hashing import record_fingerprints
from qc.store.schema import defect_kinds, records
from qc.store.writing import write_rows

LISTS = ("presses", "fabrics", "transfers")
NewCodes = Mapping[str, Iterable[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnKind:
    """A kind of defect that a shop added to the trade's: who put it there, and when."""

    code: str
    by: str
    at_us: int


def known_codes(store: Store) -> dict[str, frozenset[str]]:
    """Codes on each list; ``kinds`` holds the trade's defect kinds and the shop's own."""
    with store.reading() as connection:
        return codes_in(connection)


def codes_in(connection: Connection) -> dict[str, frozenset[str]]:
    """The same, inside a transaction."""
    known = {name: _codes(connection, name) for name in LISTS}
    own = connection.execute(select(defect_kinds.c.kind)).scalars()
    return known | {"kinds": frozenset(own) | frozenset(trade_kinds())}


def own_kinds(store: Store) -> tuple[OwnKind, ...]:
    """The shop's own kinds of defect, in the order they were added."""
    query = select(defect_kinds).order_by(defect_kinds.c.changed_at, defect_kinds.c.kind)
    with store.reading() as connection:
        return tuple(OwnKind(code=row.kind, by=row.changed_by, at_us=row.changed_at)
                     for row in connection.execute(query))


def add_kind(store: Store, code: str, *, by: str, at_us: int) -> bool:
    """Put a kind of defect on the shop's list; False where it was known already."""
    with store.changing(by=by, at_us=at_us, what="add kind") as change:
        added = add_codes(change, {"kinds": (code,)}) > 0
        if not added:
            change.drop()
        return added


def add_codes(change: Change, new_codes: NewCodes | None) -> int:
    """Put codes that are not there yet on their lists, with only the code filled; how many."""
    known = codes_in(change.connection) if new_codes else {}
    wanted = {name: sorted({*codes} - known[name]) for name, codes in (new_codes or {}).items()}
    wanted = {name: codes for name, codes in wanted.items() if codes}
    for name, codes in wanted.items():
        if name == "kinds":
            stamp = {"changed_at": change.at_us, "changed_by": change.by}
            change.connection.execute(
                insert(defect_kinds), [{"kind": code, **stamp} for code in codes]
            )
        else:
            _add_list_rows(change, name, codes)
    if wanted:
        change.note(new_codes=wanted)
    return sum(len(codes) for codes in wanted.values())


def _codes(connection: Connection, name: str) -> frozenset[str]:
    code = records[name].c[RECORD_KINDS[name].identity[0]]
    return frozenset(connection.execute(select(code)).scalars())


def _add_list_rows(change: Change, name: str, codes: list[str]) -> None:
    kind = RECORD_KINDS[name]
    frame = pd.DataFrame({kind.identity[0]: codes})
    # revision 0: a code without its row; the row that follows takes its place (see records.py)
    write_rows(change, kind, frame, record_fingerprints(kind, frame), revision=0)
