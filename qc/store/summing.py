"""Sums of counts by numeric keys, and their addition to a tally table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from sqlalchemy import Connection, Table, text

from qc.store.bulk import copy_rows, driver

Ints = npt.NDArray[np.int64]
Part = tuple[list[Ints], list[Ints]]

_LARGEST = 2**62


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tally:
    """Counts by key: ``keys`` (rows, key columns), sorted; ``values`` (rows, counts)."""

    keys: Ints
    values: Ints

    def columns(self) -> Part:
        return list(self.keys.T), list(self.values.T)


def summed(parts: Sequence[Part]) -> Tally:
    """Add up parts, each a list of key columns and a list of value columns."""
    keys = [np.concatenate(columns) for columns in zip(*(part[0] for part in parts), strict=True)]
    values = [np.concatenate(columns) for columns in zip(*(part[1] for part in parts), strict=True)]
    _, first, group = np.unique(_one_number(keys), return_index=True, return_inverse=True)
    sums = np.zeros((len(first), len(values)), dtype=np.int64)
    for column, value in enumerate(values):
        np.add.at(sums[:, column], group, value)
    kept = sums.any(axis=1)
    return Tally(keys=np.stack([key[first] for key in keys], axis=1)[kept], values=sums[kept])


def differences(tally: Tally, other: Tally) -> Tally:
    """What must be added to ``other`` to have ``tally``."""
    keys, values = other.columns()
    return summed([tally.columns(), (keys, [-value for value in values])])


def _one_number(keys: list[Ints]) -> Ints:
    """Keys as one number each, in the same order; compressed where it would overflow."""
    total, size = np.zeros(len(keys[0]), dtype=np.int64), 1
    for key in keys:
        rank, n_levels = _ranked(key)
        if size * n_levels > _LARGEST:
            total, size = _ranked(total, dense=True)
        total, size = total * n_levels + rank, size * n_levels
    return total


def _ranked(key: Ints, *, dense: bool = False) -> tuple[Ints, int]:
    low, high = (int(key.min()), int(key.max())) if len(key) else (0, 0)
    if not dense and high - low < 1 << 20:
        return key - low, high - low + 1
    levels, rank = np.unique(key, return_inverse=True)
    return rank.astype(np.int64), max(len(levels), 1)


def add_tally(connection: Connection, table: Table, tally: Tally) -> None:
    """Add counts to a tally table; a key whose counts come to nothing goes."""
    if not len(tally.keys):
        return
    rows = np.hstack([tally.keys, tally.values])
    if connection.dialect.name == "sqlite":
        marks = ", ".join("?" * rows.shape[1])
        sql = f"INSERT INTO {table.name} VALUES ({marks}) {_on_conflict(table)}"
        driver(connection).executemany(sql, rows.tolist())
    else:
        _add_by_copy(connection, table, rows)
    fallen = tally.keys[(tally.values < 0).any(axis=1)]
    if len(fallen):
        _drop_empty(connection, table, fallen)


def _add_by_copy(connection: Connection, table: Table, rows: Ints) -> None:
    incoming = f"incoming_{table.name}"
    connection.execute(text(
        f"CREATE TEMP TABLE IF NOT EXISTS {incoming} (LIKE {table.name}) ON COMMIT DELETE ROWS"
    ))
    connection.execute(text(f"DELETE FROM {incoming}"))
    copy_rows(connection, incoming, [column.type for column in table.columns],
              map(tuple, rows.tolist()))
    connection.execute(text(
        f"INSERT INTO {table.name} SELECT * FROM {incoming} {_on_conflict(table)}"
    ))


def _on_conflict(table: Table) -> str:
    keys = ", ".join(column.name for column in table.primary_key.columns)
    counts = [column.name for column in table.columns if not column.primary_key]
    sums = ", ".join(f"{name} = {table.name}.{name} + excluded.{name}" for name in counts)
    return f"ON CONFLICT ({keys}) DO UPDATE SET {sums}"


def _drop_empty(connection: Connection, table: Table, keys: Ints) -> None:
    mark = "?" if connection.dialect.name == "sqlite" else "%s"
    match = " AND ".join(f"{column.name} = {mark}" for column in table.primary_key.columns)
    cursor = driver(connection).cursor()
    cursor.executemany(f"DELETE FROM {table.name} WHERE {match} AND n = 0", keys.tolist())
    cursor.close()
