"""Which rows of a batch are new, which are there already, and which contradict a stored row."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import Connection, Table

from qc.store.bulk import driver
from qc.store.hashing import mixed

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

STORED_COLUMNS = ("number", "identity", "content", "revision", "superseded_at")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Added:
    """What became of a batch: rows loaded, and for each row whether it was there already or is
    refused because a different row has its identity."""

    n_loaded: int
    already_there: Bools
    conflict: Bools


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """``fresh``: load it; ``exists``: a version of this record is stored."""

    fresh: Bools
    already_there: Bools
    conflict: Bools
    exists: Bools

    def added(self) -> Added:
        return self.of(np.ones(len(self.fresh), dtype=bool))

    def of(self, rows: Bools) -> Added:
        """What became of some of the rows."""
        return Added(n_loaded=int(self.fresh[rows].sum()), already_there=self.already_there[rows],
                     conflict=self.conflict[rows])


def stored_rows(connection: Connection, table: Table, low: Ints, width: int = 0) -> pd.DataFrame:
    """All stored versions whose identity lies in one of the ranges low .. low + width."""
    what = ", ".join(f"t.{name}" for name in STORED_COLUMNS)
    match = "t.identity = j.value" if width == 0 else (
        f"t.identity BETWEEN j.value AND j.value + {width}")
    cursor: Any = driver(connection).cursor()
    if connection.dialect.name == "sqlite":
        cursor.execute(f"SELECT {what} FROM json_each(?) j CROSS JOIN {table.name} t ON {match}",
                       (json.dumps(low.tolist()),))
    else:
        cursor.execute(f"SELECT {what} FROM unnest(%s::bigint[]) AS j (value) "
                       f"JOIN {table.name} t ON {match}", (low.tolist(),))
    rows = cursor.fetchall()
    cursor.close()
    frame = pd.DataFrame(rows, columns=list(STORED_COLUMNS))
    whole = dict.fromkeys(STORED_COLUMNS[:4], np.int64)
    return frame.astype(whole | {"superseded_at": "Int64"})


def judge(identity: Ints, content: Ints, stored: pd.DataFrame) -> Verdict:
    """Judge rows against the stored ones and against the rows before them in the batch.

    A row equal to any stored version of its record is there already, also after a correction: the
    same file loaded again changes nothing.
    """
    known = stored["identity"].to_numpy(dtype=np.int64)
    same_as_stored = np.isin(_pairs(identity, content),
                             _pairs(known, stored["content"].to_numpy(dtype=np.int64)))
    exists = np.isin(identity, known)
    _, first_at, which = np.unique(identity, return_index=True, return_inverse=True)
    first_of_row = first_at[which]
    is_first = first_of_row == np.arange(len(identity))
    same_as_first = content == content[first_of_row]
    already = np.where(exists, same_as_stored, ~is_first & same_as_first)
    fresh = ~exists & is_first
    return Verdict(fresh=fresh, already_there=already, conflict=~fresh & ~already, exists=exists)


def _pairs(identity: Ints, content: Ints) -> npt.NDArray[np.uint64]:
    return mixed(identity.view(np.uint64) ^ mixed(content.view(np.uint64)))
