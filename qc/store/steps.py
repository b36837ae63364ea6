"""Steps that people take, kept only by adding: each in one transaction with its audit row."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Table, func, insert, select

from qc.domain.steps import LONGEST_NAME
from qc.errors import InputError
from qc.store.base import Change, Store
from qc.store.schema import audit

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLog:
    """A table of steps: ``key`` is the column that says whose steps they are, ``what`` their name
    in the audit log."""

    table: Table
    key: str
    what: str

    def changing(self, store: Store, by: str, at_us: int) -> Any:
        """The transaction of a step; InputError where nobody is named or the name is too long."""
        if not by.strip():
            raise InputError(f"a {self.what} needs a name; say who takes it")
        if len(by) > LONGEST_NAME:
            raise InputError(f"the name has {len(by)} characters; at most {LONGEST_NAME} are kept")
        return store.changing(by=by.strip(), at_us=at_us, what=self.what)

    def append(
        self, change: Change, key: str, steps: Sequence[tuple[str, Mapping[str, Any]]]
    ) -> list[Row]:
        """Add steps (name, what was said) in one; the rows as they stand now."""
        newest = change.connection.scalar(select(func.max(self.table.c.number)))
        mine = self.table.c[self.key] == key
        last_us = change.connection.scalar(select(func.max(self.table.c.taken_at)).where(mine))
        # a clock set back must not change their order
        change.at_us = max(change.at_us, int(last_us or change.at_us))
        rows = [
            {"number": int(newest or 0) + 1 + at, self.key: key, "step": step,
             "taken_at": change.at_us, "taken_by": change.by, "said": _text(said)}
            for at, (step, said) in enumerate(steps)
        ]
        change.connection.execute(insert(self.table), rows)
        change.note(**{self.table.name: rows})
        return rows

    def read(
        self, connection: Connection, *, key: str | None = None, as_of_us: int | None = None
    ) -> list[Row]:
        """Steps taken up to a moment, of one or of all, oldest first; ``said`` as JSON values."""
        query = select(self.table).order_by(self.table.c.number)
        if key is not None:
            query = query.where(self.table.c[self.key] == key)
        if as_of_us is not None:
            query = query.where(self.table.c.taken_at <= as_of_us)
        return [dict(row) for row in connection.execute(query).mappings()]

    def faults(self, connection: Connection) -> Iterator[str]:
        """Rows that are not as the audit log saw them written, one line each."""
        name = self.table.name
        query = select(audit.c.detail).where(audit.c.what == self.what).order_by(audit.c.number)
        vouched = {row["number"]: row for detail in connection.scalars(query)
                   for row in json.loads(detail)[name]}
        rows = {row["number"]: dict(row)
                for row in connection.execute(select(self.table)).mappings()}
        for number in sorted(vouched.keys() | rows.keys()):
            if vouched.get(number) != rows.get(number):
                yield f"{name}: row {number} is not as the audit log saw it written"


def said_in(row: Row) -> dict[str, Any]:
    """What was said with a step."""
    said: dict[str, Any] = json.loads(row["said"])
    return said


def _text(said: Mapping[str, Any]) -> str:
    return json.dumps(dict(said), sort_keys=True, ensure_ascii=False, allow_nan=False)
