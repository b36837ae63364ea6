"""The newest look of each press, found by index whatever the length of the history."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd
from sqlalchemy import Connection, func, select, text

from qc.store.base import Store
from qc.store.frames import read_frame
from qc.store.inspections import known_then
from qc.store.schema import TALLIES, audit, inspections, words

_PRESSES = text(
    "WITH RECURSIVE found (press) AS ("
    "SELECT min(press) FROM inspections UNION ALL "
    "SELECT (SELECT min(press) FROM inspections WHERE press > found.press) FROM found "
    "WHERE found.press IS NOT NULL) SELECT press FROM found WHERE press IS NOT NULL"
)
"""From one press to the next by index: as many steps as there are presses."""


FRESH_STAGES = ("after_peel", "final")
"""Looks at work that comes straight from a press."""
_NEAR = 50
"""Looks are not made in the order of pressing; among so many the piece pressed last is sought."""


def newest_looks(
    store: Store, *, as_of_us: int, columns: Sequence[str], since_us: int, fresh: bool = False
) -> dict[str, dict[str, Any]]:
    """The newest look of each press at a piece pressed since a moment, as known at a moment, by
    press; of two made at one time the one recorded later.

    ``fresh``: among the newest first looks (`FRESH_STAGES`, not pressed again) that at the piece
    pressed last."""
    table, found = inspections, {}
    wanted = [table.c[name] for name in columns]
    key = (table.c.pressed_at if fresh else table.c.inspected_at).label("_at")
    only = (table.c.stage.in_(FRESH_STAGES), table.c.attempt == 1) if fresh else ()
    with store.reading() as connection:
        for press in _presses(connection):
            rows = connection.execute(
                select(*wanted, key, table.c.number.label("_number")).where(
                    table.c.press == press, table.c.inspected_at >= int(since_us),
                    known_then(as_of_us, since_us), *only,
                ).order_by(table.c.inspected_at.desc(), table.c.number.desc())
                .limit(_NEAR if fresh else 1)
            ).mappings().all()
            if rows:
                last = max(rows, key=lambda row: (row["_at"], row["_number"]))
                found[press] = {name: last[name] for name in columns}
    return found


def newest_pressed(
    store: Store, *, as_of_us: int, columns: Sequence[str], since_us: int, at_most: int
) -> pd.DataFrame:
    """The looks at the pieces pressed last, the newest first, of those pressed since a moment: by
    index, at most so many, however much is pressed in the time."""
    table = inspections
    query = select(*(table.c[name] for name in columns)).where(known_then(as_of_us, since_us))
    with store.reading() as connection:
        return read_frame(connection, query.order_by(table.c.pressed_at.desc()).limit(at_most))


def newest_levels(store: Store, factor: str, *, at_most: int) -> list[str]:
    """Levels of a factor in its newest ``at_most`` counts (`TALLIES`), the newest level first."""
    tally = TALLIES["factor_tally"]
    number = select(words.c.number).where(words.c.word == factor).scalar_subquery()
    newest = select(tally.c.level, tally.c.hour_us).where(tally.c.factor == number).order_by(
        tally.c.hour_us.desc()).limit(at_most).subquery()
    last = select(newest.c.level, func.max(newest.c.hour_us).label("last")).group_by(
        newest.c.level).subquery()
    query = select(words.c.word).join(last, words.c.number == last.c.level).order_by(
        last.c.last.desc(), words.c.word)
    with store.reading() as connection:
        return [str(word) for word in connection.scalars(query)]


def has_level(store: Store, factor: str, level: str) -> bool:
    """Whether a level of a factor was ever counted."""
    tally = TALLIES["factor_tally"]
    one, other = (select(words.c.number).where(words.c.word == word).scalar_subquery()
                  for word in (factor, level))
    with store.reading() as connection:
        return connection.scalar(select(tally.c.level).where(
            tally.c.factor == one, tally.c.level == other).limit(1)) is not None


def presses_seen(store: Store) -> list[str]:
    """Every press with a look at its work, by code."""
    with store.reading() as connection:
        return _presses(connection)


def newest_inspected_us(store: Store) -> int | None:
    """When the newest look of all was made; None where there is none."""
    table = inspections
    with store.reading() as connection:
        when = [connection.scalar(select(func.max(table.c.inspected_at)).where(
            table.c.press == press)) for press in _presses(connection)]
    return max((int(one) for one in when if one is not None), default=None)


def newest_change_us(store: Store) -> int | None:
    """When the latest of all changes was made, by the clocks of those who made them."""
    with store.reading() as connection:
        return connection.scalar(select(func.max(audit.c.changed_at)))


def corrected_since(store: Store, moment_us: int) -> bool:
    """Whether a look was corrected or taken back after a moment."""
    table = inspections
    later = (table.c.revision > 1) & (table.c.changed_at > int(moment_us))
    with store.reading() as connection:
        return connection.execute(select(table.c.number).where(later).limit(1)).first() is not None


def _presses(connection: Connection) -> list[str]:
    return [row[0] for row in connection.execute(_PRESSES)]
