"""Words as numbers: tallies are keyed by small whole numbers, so that their tables stay small."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import Connection, any_, func, literal, select
from sqlalchemy.dialects.postgresql import ARRAY
from sqlalchemy.sql import ColumnElement
from sqlalchemy.types import BigInteger, Text

from qc.store.bulk import insert_columns
from qc.store.schema import words
from qc.store.writing import newest_number

Ints = npt.NDArray[np.int64]

NO_WORD = 0


def among(connection: Connection, column: ColumnElement[Any], values: list[Any]
          ) -> ColumnElement[bool]:
    """The column is one of the values, however many, as one parameter."""
    if connection.dialect.name == "sqlite":
        listed = func.json_each(json.dumps(values)).table_valued("value")
        return column.in_(select(listed.c.value))
    # by the column, not by the values: there may be none
    kind = Text() if isinstance(column.type, Text) else BigInteger()
    return column == any_(literal(values, ARRAY(kind)))


class Words:
    """Numbers of the words in use within one transaction."""

    def __init__(self, connection: Connection) -> None:
        self.connection = connection
        self.numbers: dict[str, int] = {}

    def learn(self, texts: Iterable[str], *, keep: bool) -> None:
        """Look words up; unknown ones are numbered, and kept in the store if asked."""
        unknown = [text for text in dict.fromkeys(texts) if text not in self.numbers]
        if not unknown:
            return
        query = select(words.c.word, words.c.number)
        found = self.connection.execute(query.where(among(self.connection, words.c.word, unknown)))
        self.numbers.update({row.word: row.number for row in found})
        new = [text for text in unknown if text not in self.numbers]
        first = max([newest_number(self.connection, words), *self.numbers.values()]) + 1
        fresh = dict(zip(new, range(first, first + len(new)), strict=True))
        self.numbers.update(fresh)
        if keep and fresh:
            insert_columns(self.connection, words,
                           {"number": list(fresh.values()), "word": list(fresh)})

    def codes(self, columns: Mapping[str, pd.Series], *, keep: bool, also: Iterable[str] = ()
              ) -> dict[str, Ints]:
        """The word number of each text of each column; 0 where missing. ``also``: further words to
        learn: all are looked up at once."""
        found = {}
        for name, column in columns.items():
            codes, uniques = pd.factorize(column)
            found[name] = codes, [str(text) for text in uniques]
        self.learn([*(text for _, texts in found.values() for text in texts), *also], keep=keep)
        return {name: self._palette(texts)[codes] for name, (codes, texts) in found.items()}

    def _palette(self, texts: list[str]) -> Ints:
        return np.array([*(self.numbers[text] for text in texts), NO_WORD], dtype=np.int64)


def spelled(connection: Connection, numbers: Ints) -> dict[int, str]:
    """The words of these numbers; the others, of which there may be many, are not read."""
    used = np.unique(numbers[numbers != NO_WORD]).tolist()
    rows = connection.execute(select(words.c.number, words.c.word).where(
        among(connection, words.c.number, used)))
    return {int(row.number): str(row.word) for row in rows}
