"""Many rows at once: driver tuples on SQLite, COPY on PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import BigInteger, Connection, Double, Table
from sqlalchemy.types import TypeEngine

Columns = dict[str, Sequence[Any]]


def insert_columns(connection: Connection, table: Table, columns: Columns) -> None:
    """Append rows given as columns of Python values; other columns of the table stay empty."""
    rows = zip(*columns.values(), strict=True)
    names = ", ".join(quoted(connection, name) for name in columns)
    if connection.dialect.name == "sqlite":
        marks = ", ".join("?" * len(columns))
        cursor = driver(connection).cursor()
        cursor.executemany(f"INSERT INTO {table.name} ({names}) VALUES ({marks})", rows)
        cursor.close()
        return
    copy_rows(connection, f"{table.name} ({names})", [table.c[n].type for n in columns], rows)


def copy_rows(
    connection: Connection, target: str, types: Sequence[TypeEngine[Any]],
    rows: Iterable[tuple[Any, ...]],
) -> None:
    """PostgreSQL's COPY of rows into a target like ``table (a, b)``."""
    with driver(connection).cursor() as cursor, cursor.copy(f"COPY {target} FROM STDIN") as copy:
        copy.set_types([_copy_type(kind) for kind in types])
        for row in rows:
            copy.write_row(row)


def driver(connection: Connection) -> Any:
    """The driver's own connection, inside the same transaction."""
    return connection.connection.driver_connection


def quoted(connection: Connection, name: str) -> str:
    """A column's name as the database takes it (``row`` and ``position`` are SQL words)."""
    return connection.dialect.identifier_preparer.quote_identifier(name)


def python_values(column: pd.Series, kind: TypeEngine[Any]) -> list[Any]:
    """A column as plain Python values for the driver, None where missing."""
    if isinstance(kind, Double):
        values = column.to_numpy(dtype=np.float64, na_value=np.nan)
        return _with_none(values, np.isnan(values))
    if isinstance(kind, BigInteger):
        missing = column.isna().to_numpy()
        if not missing.any():
            return list(column.to_numpy(dtype=np.int64).tolist())
        return _with_none(column.astype("Int64").fillna(0).to_numpy(dtype=np.int64), missing)
    codes, uniques = pd.factorize(column)
    palette = np.empty(len(uniques) + 1, dtype=object)  # the last, also at -1, stays None
    palette[:-1] = uniques
    return list(palette[codes])


def _with_none(values: np.ndarray[Any, Any], missing: np.ndarray[Any, Any]) -> list[Any]:
    plain = values.astype(object)
    plain[missing] = None
    return list(plain)


def _copy_type(kind: TypeEngine[Any]) -> str:
    if isinstance(kind, Double):
        return "float8"
    return "text" if kind.python_type is str else "int8"
