"""Query results as frames, in chunks: text as categories, numbers as arrays."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import BigInteger, Connection, Double, Select
from sqlalchemy.types import TypeEngine

CHUNK_ROWS = 2_000
"""Small enough that a chunk's Python values stay in the processor's caches and pools."""
_PARTS_IN_BLOCK = 128


class _Growing:
    """An array that grows. Small parts are joined into blocks as they come, so that their memory
    is used again, and let go of at the end, so that a column is never held twice."""

    def __init__(self, dtype: type) -> None:
        self.dtype = dtype
        self.parts: list[npt.NDArray[Any]] = []
        self.blocks: list[npt.NDArray[Any]] = []

    def add(self, part: npt.NDArray[Any]) -> None:
        self.parts.append(part)
        if len(self.parts) == _PARTS_IN_BLOCK:
            self._join()

    def _join(self) -> None:
        self.blocks.append(np.concatenate([np.zeros(0, dtype=self.dtype), *self.parts]))
        self.parts.clear()

    def whole(self) -> npt.NDArray[Any]:
        self._join()
        joined = np.concatenate(self.blocks)
        self.blocks.clear()
        return joined


class _Codes(dict[str | None, int]):
    """Numbers texts in the order they turn up, at the speed of a look-up."""

    def __missing__(self, text: str | None) -> int:
        self[text] = code = len(self) - 1  # the missing text has -1
        return code


class _Text:
    """A text column growing as codes into its distinct texts."""

    def __init__(self) -> None:
        self.codes = _Codes({None: -1})
        self.grown = _Growing(np.int32)

    def take(self, values: tuple[Any, ...]) -> None:
        number = self.codes.__getitem__
        self.grown.add(np.fromiter(map(number, values), dtype=np.int32, count=len(values)))

    def series(self) -> pd.Categorical:
        codes = self.grown.whole()
        texts = pd.Index(list(self.codes)[1:], dtype="str")
        self.codes.clear()
        return pd.Categorical.from_codes(codes, categories=texts)


class _Floats:
    """A column of numbers; nan where missing."""

    def __init__(self) -> None:
        self.grown = _Growing(np.float64)

    def take(self, values: tuple[Any, ...]) -> None:
        if values[0] is None and values.count(None) == len(values):
            self.grown.add(np.full(len(values), np.nan))
        else:
            self.grown.add(np.array(values, dtype=np.float64))

    def series(self) -> npt.NDArray[np.float64]:
        return self.grown.whole()


class _Whole:
    """A column of whole numbers, perhaps with gaps."""

    def __init__(self) -> None:
        self.grown = _Growing(np.int64)
        self.missing = _Growing(np.bool_)

    def take(self, values: tuple[Any, ...]) -> None:
        try:
            self.grown.add(np.fromiter(values, dtype=np.int64, count=len(values)))
            self.missing.add(np.zeros(len(values), dtype=bool))
        except TypeError:  # there is a gap
            gaps = np.fromiter((value is None for value in values), dtype=bool, count=len(values))
            self.grown.add(np.array([value or 0 for value in values], dtype=np.int64))
            self.missing.add(gaps)

    def series(self) -> Any:
        numbers, missing = self.grown.whole(), self.missing.whole()
        return pd.arrays.IntegerArray(numbers, missing) if missing.any() else numbers


def read_frame(connection: Connection, query: Select[Any]) -> pd.DataFrame:
    """The rows of a query; whole numbers with gaps are Int64, text is a category."""
    names = [column.name for column in query.selected_columns]
    builders = [_builder(column.type) for column in query.selected_columns]
    for rows in _chunks(connection, query):
        for builder, values in zip(builders, zip(*rows, strict=True), strict=True):
            builder.take(values)
    columns = {name: builder.series() for name, builder in zip(names, builders, strict=True)}
    return pd.DataFrame(columns, copy=False)


def _builder(kind: TypeEngine[Any]) -> _Text | _Floats | _Whole:
    if isinstance(kind, BigInteger):
        return _Whole()
    return _Floats() if isinstance(kind, Double) else _Text()


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


def plain_value(value: Any) -> Any:
    """A cell of a frame as a plain value; None where nothing is said."""
    if value is None or pd.isna(value):
        return None
    return value.item() if isinstance(value, np.generic) else value
