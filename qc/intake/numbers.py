"""Numbers from text: a point, or a comma where the comma does not part cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.errors import InputError
from qc.intake.table import RawTable, object_array
from qc.intake.texts import quoted

Floats = npt.NDArray[np.float64]

LARGEST = 1e15


def numbers_of(texts: Sequence[str], *, decimal_comma: bool) -> Floats:
    """One number for each text, nan where it is none; 1.234,5 is none, it can be read two ways."""
    values = _read(texts, decimal_comma)
    values[~(np.abs(values) <= LARGEST)] = np.nan
    return values


def _read(texts: Sequence[str], decimal_comma: bool) -> Floats:
    if decimal_comma:
        texts = [t.replace(",", ".") if t.count(",") == 1 and "." not in t else t for t in texts]
    return np.array(pd.to_numeric(pd.Series(object_array(texts)), errors="coerce"),
                    dtype=np.float64)


def not_a_number(text: str, *, decimal_comma: bool) -> str:
    """Why a text is no number, as in ``'12,5', not a number``."""
    if np.isfinite(_read([text], decimal_comma)[0]):
        return f"{quoted(text)}, beyond {LARGEST:g}"
    if "," in text and not decimal_comma:
        return f"{quoted(text)}, not a number; write a decimal point, or part cells by semicolons"
    return f"{quoted(text)}, not a number"


def column_numbers(table: RawTable, name: str) -> Floats:
    """A column as numbers.

    Raises
    ------
    InputError
        There is no such column, or a cell is blank or not a number; names line and value.
    """
    texts = [text.strip() for text in table.column(name).tolist()]
    values = numbers_of(texts, decimal_comma=table.decimal_comma)
    ragged = sorted(table.ragged)
    if ragged:
        line = table.lines[ragged[0]]
        raise InputError(f"line {line} has {len(table.ragged[ragged[0]])} cells,"
                         f" the header {len(table.columns)}")
    _refuse_gap(table, name)
    wrong = np.flatnonzero(np.isnan(values))
    if len(wrong):
        at = int(wrong[0])
        why = not_a_number(texts[at], decimal_comma=table.decimal_comma) if texts[at] else "blank"
        more = f" (and {len(wrong) - 1} more lines)" if len(wrong) > 1 else ""
        raise InputError(f"line {table.lines[at]}{more}: {name} is {why}; every row needs a number")
    return values


def _refuse_gap(table: RawTable, name: str) -> None:
    """An empty line in a table of one column is a blank cell, not the space between two tables."""
    gaps = np.flatnonzero(np.diff(table.lines) > 1)
    if len(table.columns) == 1 and len(gaps):
        raise InputError(f"line {table.lines[gaps[0]] + 1}: {name} is blank; every row needs a"
                         " number")
