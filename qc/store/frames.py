"""Query results as frames, in chunks: text as categories, numbers as arrays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import BigInteger, Connection, Double, Select
from sqlalchemy.types import TypeEngine

CHUNK_ROWS = 20_000
"""Small enough that a chunk's Python values stay in the processor's caches and pools."""


class _Text:
    """A text column growing as codes into its distinct texts."""

    def __init__(self) -> None:
        self.known: dict[str, int] = {}
        self.parts: list[npt.NDArray[np.int32]] = []

    def take(self, values: tuple[Any, ...]) -> None:
        known = self.known
        for text in set(values).difference(known):
            if text is not None:
                known[text] = len(known)
        codes = [known.get(text, -1) for text in values]
        self.parts.append(np.array(codes, dtype=np.int32))

    def series(self) -> pd.Categorical:
        codes = np.concatenate(self.parts) if self.parts else np.zeros(0, dtype=np.int32)
        return pd.Categorical.from_codes(codes, categories=pd.Index(list(self.known), dtype="str"))


class _Numbers:
    """A column of floats, or of whole numbers."""

    def __init__(self, whole: bool) -> None:
        self.whole = whole
        self.parts: list[npt.NDArray[Any]] = []
        self.missing: list[npt.NDArray[np.bool_]] = []

    def take(self, values: tuple[Any, ...]) -> None:
        if not self.whole:
            self.parts.append(np.array(values, dtype=np.float64))
            return
        absent = np.array([value is None for value in values]) if None in values else None
        self.missing.append(np.zeros(len(values), dtype=bool) if absent is None else absent)
        plain = values if absent is None else [value or 0 for value in values]
        self.parts.append(np.array(plain, dtype=np.int64))

    def series(self) -> Any:
        empty: npt.NDArray[Any] = np.zeros(0, dtype=np.int64 if self.whole else np.float64)
        numbers: npt.NDArray[Any] = np.concatenate([empty, *self.parts])
        missing = np.concatenate(self.missing) if self.missing else np.zeros(0, dtype=bool)
        return pd.arrays.IntegerArray(numbers, missing) if missing.any() else numbers


def read_frame(connection: Connection, query: Select[Any]) -> pd.DataFrame:
    """The rows of a query; whole numbers with gaps are Int64, text is a category."""
    names = [column.name for column in query.selected_columns]
    builders = [_builder(column.type) for column in query.selected_columns]
    for rows in _chunks(connection, query):
        for builder, values in zip(builders, zip(*rows, strict=True), strict=True):
            builder.take(values)
    return pd.DataFrame(
        {name: builder.series() for name, builder in zip(names, builders, strict=True)}
    )


def _builder(kind: TypeEngine[Any]) -> _Text | _Numbers:
    if isinstance(kind, BigInteger):
        return _Numbers(whole=True)
    return _Numbers(whole=False) if isinstance(kind, Double) else _Text()


def _chunks(connection: Connection, query: Select[Any]) -> Iterator[Sequence[Any]]:
    if connection.dialect.name == "sqlite":
        result = connection.execute(query)
        fetch = result.cursor.fetchmany  # the driver's plain tuples, row by row from the file
    else:
        result = connection.execute(query, execution_options={"stream_results": True})
        fetch = result.fetchmany
    while rows := fetch(CHUNK_ROWS):
        yield rows
    result.close()
