"""Appending versions of rows to the table of their kind."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import Connection, Table, func, select

from qc.domain.records import RecordKind
from qc.errors import InputError
from qc.store.base import Change
from qc.store.bulk import Columns, insert_columns, python_values
from qc.store.hashing import Fingerprints
from qc.store.schema import records

Ints = npt.NDArray[np.int64]

ROWS_AT_ONCE = 50_000
"""Rows are turned into Python values in parts: a big file's rows would fill gigabytes at once."""


def write_rows(
    change: Change, kind: RecordKind, frame: pd.DataFrame, prints: Fingerprints, *,
    revision: int | Ints = 1, why: str | None = None,
) -> Ints:
    """Append rows in their order; returns the numbers they got. The audit row will name them."""
    n = len(frame)
    stamps: Columns = {"changed_at": [change.at_us] * n, "changed_by": [change.by] * n}
    stamps |= {"why": [why] * n} if why else {}
    return append_rows([change], np.zeros(n, dtype=np.int64), kind, frame, prints,
                       stamps=stamps, revision=revision)


def append_rows(
    changes: Sequence[Change], owner: Ints, kind: RecordKind, frame: pd.DataFrame,
    prints: Fingerprints, *, stamps: Columns, revision: int | Ints = 1,
) -> Ints:
    """The same for the rows of several changes, those of one after those of the other.

    ``owner``: position in ``changes`` of each row's change, rising; ``stamps``: who and when, by
    column.
    """
    table = records[kind.name]
    n = len(frame)
    first = newest_number(changes[0].connection, table) + 1
    numbers = np.arange(first, first + n, dtype=np.int64)
    whole = {"number": numbers, "identity": prints.identity, "content": prints.content,
             "revision": np.broadcast_to(np.asarray(revision), n)}
    for at in range(0, n, ROWS_AT_ONCE):
        part = slice(at, at + ROWS_AT_ONCE)
        columns: Columns = {name: values[part].tolist() for name, values in whole.items()}
        columns |= {name: values[part] for name, values in stamps.items()}
        columns |= field_columns(kind, table, frame.iloc[part])
        insert_columns(changes[0].connection, table, columns)
    ends = np.searchsorted(owner, np.arange(len(changes)), side="right")
    for change, start, end in zip(changes, [0, *ends[:-1]], ends, strict=True):
        if end > start:
            change.wrote(kind.name, numbers[start:end], prints.content[start:end])
    return numbers


def texts_once(frame: pd.DataFrame, kind: RecordKind) -> pd.DataFrame:
    """The frame with its texts as categories: every later step then works on each text once."""
    columns = {}
    for field in kind.fields:
        if field.is_text and field.name in frame.columns and not isinstance(
            frame[field.name].dtype, pd.CategoricalDtype
        ):
            codes, texts = pd.factorize(frame[field.name])
            columns[field.name] = pd.Categorical.from_codes(codes, categories=texts)
    return frame.assign(**columns)


def field_columns(kind: RecordKind, table: Table, frame: pd.DataFrame) -> Columns:
    """A frame's fields as Python values; columns without a value are left out."""
    columns: Columns = {}
    for field in kind.fields:
        present = field.name in frame.columns and frame[field.name].notna().any()
        if present:
            columns[field.name] = python_values(frame[field.name], table.c[field.name].type)
        if not table.c[field.name].nullable and (
            not present or frame[field.name].isna().any()
        ):
            raise InputError(f"{kind.name}: every row needs {field.name}")
    return columns


def newest_number(connection: Connection, table: Table) -> int:
    """The highest row number in use; 0 in an empty table."""
    return int(connection.scalar(select(func.max(table.c.number))) or 0)
