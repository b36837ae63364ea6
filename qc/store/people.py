"""Who is named in the records: at the presses, at the bench, in the audit log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select, func, select

from qc.store.base import Store
from qc.store.schema import audit, factor_tally, inspections, words
from qc.store.words import NO_WORD

NEWEST = 100_000
"""Rows that are looked through where there is no tally: a page must not read the whole history."""
PROMPT = "prompt"


@dataclass(frozen=True, slots=True, kw_only=True)
class Named:
    """A name, how often it stands there, and when last."""

    name: str
    n: int
    last_us: int


def operators_named(store: Store) -> tuple[Named, ...]:
    """Who pressed, with pieces looked at on the day; ``last_us`` is the hour of the last one."""
    tally = factor_tally.c
    number = select(words.c.number)
    of_operators = tally.factor == number.where(words.c.word == "operator").scalar_subquery()
    on_the_day = tally.look == number.where(words.c.word == PROMPT).scalar_subquery()
    counted = func.sum(tally.n)
    return _named(store, select(words.c.word, counted, func.max(tally.hour_us)).join(
        words, words.c.number == tally.level,
    ).where(of_operators, on_the_day, tally.kind == NO_WORD).group_by(words.c.word).having(
        counted > 0))


def inspectors_named(store: Store) -> tuple[Named, ...]:
    """Who looked at pieces, of the newest `NEWEST` looks."""
    table = inspections.c
    newest = select(func.max(table.number)).scalar_subquery()
    return _named(store, select(
        table.inspector, func.count(), func.max(table.inspected_at),
    ).where(table.number > newest - NEWEST, table.inspector.is_not(None),
            table.superseded_at.is_(None)).group_by(table.inspector))


def authors_named(store: Store) -> tuple[Named, ...]:
    """Who changed anything, of the newest `NEWEST` changes."""
    table = audit.c
    newest = select(func.max(table.number)).scalar_subquery()
    return _named(store, select(
        table.changed_by, func.count(), func.max(table.changed_at),
    ).where(table.number > newest - NEWEST).group_by(table.changed_by))


def _named(store: Store, query: Select[Any]) -> tuple[Named, ...]:
    with store.reading() as connection:
        rows = connection.execute(query).all()
    found = [Named(name=row[0], n=int(row[1]), last_us=int(row[2])) for row in rows]
    return tuple(sorted(found, key=lambda one: (-one.n, one.name)))
