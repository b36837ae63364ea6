"""Looks found, a page at a time: filtered, sorted and counted by the database, never all at
once."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, case, exists, false, or_, select

from qc.domain.counting import LOOK_OF_STAGE
from qc.domain.instants import SECOND_US
from qc.domain.records import FINDINGS, INSPECTIONS
from qc.store.base import Store
from qc.store.hashing import LOOK_BITS
from qc.store.inspections import known_then
from qc.store.patience import TooSlow, at_most
from qc.store.schema import findings as findings_table
from qc.store.schema import inspections as table
from qc.store.words import among

CHUNK = 2_000
_DAY_MINUTES = 1440
_FINDING_FIELDS = tuple(field.name for field in FINDINGS.fields)


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalHours:
    """Stretches of the local day a look was pressed in, in minutes from midnight (inclusive,
    exclusive). ``offsets``: (from when, UTC offset), microseconds, newest first."""

    stretches: tuple[tuple[int, int], ...]
    offsets: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LookFilter:
    """Which looks. ``since_us`` (inclusive) and ``until_us`` (exclusive) bound pressed_at.

    ``levels``: the value of a field, None where nothing is said. ``with_finding``: only looks
    that found something: of ``kind`` unless None, in the ``zone`` (None: none said) if
    ``in_zone``. ``first``: only looks that rates count: at pieces pressed once, before they left.
    """

    as_of_us: int
    since_us: int | None = None
    until_us: int | None = None
    levels: Mapping[str, str | None] = field(default_factory=dict)
    with_finding: bool = False
    kind: str | None = None
    in_zone: bool = False
    zone: str | None = None
    first: bool = False
    hours: LocalHours | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """By which field; looks that say nothing come last, equal ones in the order they came in."""

    by: str = "pressed_at"
    newest_first: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class LookCount:
    """``n_looks`` found at ``n_pieces`` pieces; ``is_all``: no more, else counting stopped."""

    n_looks: int
    n_pieces: int
    is_all: bool


def page_of_looks(
    store: Store, wanted: LookFilter, *, order: Order, start: int, n: int,
    after: tuple[int, int] | None = None, seconds: float = 20.0,
) -> list[dict[str, Any]]:
    """The looks from position ``start`` on, at most ``n``: their fields, number, version and
    findings.

    ``after``: pressed_at and number of the look just before the page, where that is known: the
    page is then found without walking past all before it. For the order by pressed_at alone.

    Raises
    ------
    TooSlow
        The database needs longer than ``seconds``.
    """
    query = _looks(wanted).order_by(*_ordered(order)).limit(n)
    query = query.offset(start) if after is None else query.where(_beyond(after, order))
    with store.reading() as connection, at_most(connection, seconds):
        rows = [dict(row) for row in connection.execute(query).mappings()]
        return _with_findings(connection, rows)


def count_looks(
    store: Store, wanted: LookFilter, *, most: int, seconds: float
) -> LookCount:
    """How many looks there are, up to ``most`` or as far as counting comes in ``seconds``."""
    query = select(table.c.identity).where(*_terms(wanted)).limit(most + 1)
    pieces: set[int] = set()
    n, is_all = 0, True
    deadline = time.monotonic() + seconds
    with store.reading() as connection:
        try:
            with at_most(connection, seconds):
                for rows in _streamed(connection, query):
                    n += len(rows)
                    pieces.update(row[0] >> LOOK_BITS for row in rows)
                    if time.monotonic() > deadline:
                        is_all = False
                        break
        except TooSlow:
            is_all = False
    if n > most:
        return LookCount(n_looks=most, n_pieces=len(pieces), is_all=False)
    return LookCount(n_looks=n, n_pieces=len(pieces), is_all=is_all)


def each_look(store: Store, wanted: LookFilter) -> Iterator[list[dict[str, Any]]]:
    """All looks found, oldest first, in parts, on one unchanging view of the store."""
    query = _looks(wanted).order_by(*_ordered(Order(newest_first=False)))
    names = [column.name for column in query.selected_columns]
    with store.reading() as connection:
        for rows in _streamed(connection, query):
            yield _with_findings(connection, [dict(zip(names, row, strict=True)) for row in rows])


def bounds_of_pressing(store: Store) -> tuple[int, int] | None:
    """When the first and the last look were pressed; None in an empty store."""
    first, last = (select(table.c.pressed_at).order_by(way).limit(1)
                   for way in (table.c.pressed_at.asc(), table.c.pressed_at.desc()))
    with store.reading() as connection:
        found = connection.scalar(first)
        return None if found is None else (int(found), int(connection.scalar(last) or found))


def levels_of_newest(store: Store, names: Sequence[str], *, n_looks: int) -> dict[str, list[str]]:
    """What fields say in the looks pressed last, so many of them: each field's levels in order."""
    query = select(*(table.c[name] for name in names)).order_by(table.c.pressed_at.desc())
    with store.reading() as connection:
        rows = connection.execute(query.limit(n_looks)).all()
    said = zip(*rows, strict=True) if rows else ((),) * len(names)
    return {name: sorted({level for level in column if level is not None})
            for name, column in zip(names, said, strict=True)}


def _looks(wanted: LookFilter) -> Select[Any]:
    fields = [table.c[field.name] for field in INSPECTIONS.fields]
    return select(table.c.number, table.c.revision.label("version"), *fields).where(
        *_terms(wanted))


def _terms(wanted: LookFilter) -> list[ColumnElement[bool]]:
    terms = [known_then(wanted.as_of_us, wanted.since_us, wanted.until_us)]
    terms += [table.c[name].is_(None) if level is None else table.c[name] == level
              for name, level in wanted.levels.items()]
    if wanted.with_finding:
        terms.append(_found(wanted))
    if wanted.first:
        terms += [table.c.attempt == 1, table.c.stage.in_(list(LOOK_OF_STAGE))]
    if wanted.hours is not None:
        terms.append(_pressed_in(wanted.hours))
    return terms


def _found(wanted: LookFilter) -> ColumnElement[bool]:
    mine = [findings_table.c.look == table.c.number]
    if wanted.kind is not None:
        mine.append(findings_table.c.kind == wanted.kind)
    if wanted.in_zone:
        zone = findings_table.c.zone
        mine.append(zone.is_(None) if wanted.zone is None else zone == wanted.zone)
    return exists().where(and_(*mine))


def _pressed_in(hours: LocalHours) -> ColumnElement[bool]:
    pressed = table.c.pressed_at
    *later, first = hours.offsets
    offset: Any = first[1]
    if later:
        offset = case(*((pressed >= since, offset_us) for since, offset_us in later),
                      else_=first[1])
    minute = (pressed + offset) // (60 * SECOND_US) % _DAY_MINUTES
    return or_(false(), *(and_(minute >= begin, minute < end) for begin, end in hours.stretches))


def _ordered(order: Order) -> Sequence[ColumnElement[Any]]:
    by, number = table.c[order.by], table.c.number
    ways = [by.desc(), number.desc()] if order.newest_first else [by.asc(), number.asc()]
    return ways if not by.nullable else [by.is_(None).asc(), *ways]


def _beyond(after: tuple[int, int], order: Order) -> ColumnElement[bool]:
    pressed, number = table.c.pressed_at, table.c.number
    if order.newest_first:  # the first half lets the index be used, whatever the database
        return and_(pressed <= after[0], or_(pressed < after[0], number < after[1]))
    return and_(pressed >= after[0], or_(pressed > after[0], number > after[1]))


def _streamed(connection: Connection, query: Select[Any]) -> Iterator[Sequence[Any]]:
    result = connection.execute(query.execution_options(yield_per=CHUNK))
    yield from result.partitions()
    result.close()


def _with_findings(connection: Connection, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    by_number: dict[int, list[dict[str, Any]]] = {row["number"]: [] for row in rows}
    columns = [findings_table.c.look, *(findings_table.c[name] for name in _FINDING_FIELDS)]
    query = select(*columns).where(among(connection, findings_table.c.look, list(by_number)))
    for look, *told in connection.execute(
        query.order_by(findings_table.c.look, findings_table.c.position)
    ):
        by_number[look].append(dict(zip(_FINDING_FIELDS, told, strict=True)))
    return [row | {"findings": by_number[row["number"]]} for row in rows]
