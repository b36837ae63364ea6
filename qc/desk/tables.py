"""Columns of any table in a file, for questions that need no store."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.errors import InputError

SEPARATORS = (",", ";", "\t")
_ZIP = b"PK\x03\x04"  # an XLSX file is a zip archive


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A table as text: one column of cells for each name, and the file's line of each row."""

    columns: dict[str, list[str]]
    lines: list[int]
    decimal_comma: bool

    def texts(self, name: str) -> list[str]:
        """The cells of a column, stripped; InputError if it is not there or has a blank."""
        if name not in self.columns:
            raise InputError(f"the file has no column {name!r}; it has: {', '.join(self.columns)}")
        cells = [cell.strip() for cell in self.columns[name]]
        if "" in cells:
            at = self.lines[cells.index("")]
            raise InputError(f"line {at}: {name} is empty; every row needs a value")
        return cells

    def numbers(self, name: str) -> npt.NDArray[np.float64]:
        """The cells of a column as numbers; InputError names the first line that has none."""
        cells = self.texts(name)
        if self.decimal_comma:
            cells = [cell.replace(",", ".") for cell in cells]
        numbers = pd.to_numeric(pd.Series(cells, dtype=object), errors="coerce").to_numpy(
            dtype=np.float64)
        wrong = ~np.isfinite(numbers)
        if wrong.any():
            at = int(np.argmax(wrong))
            raise InputError(f"line {self.lines[at]}: {name} is {self.columns[name][at]!r},"
                             " not a number")
        return numbers


def read_text_table(path: str, *, sheet: str | None = None) -> TextTable:
    """A CSV or XLSX file as text.

    Raises
    ------
    InputError
        No such file, not a table, not UTF-8, no such sheet, a repeated or missing column name,
        or no rows.
    """
    content = _content(path)
    if content.startswith(_ZIP):
        return _table(path, enumerate(_sheet_rows(path, sheet), start=1), decimal_comma=False)
    text = _text(path, content)
    head = text.split("\n", 1)[0]
    separator = max(SEPARATORS, key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        return _table(path, ((reader.line_num, row) for row in reader),
                      decimal_comma=separator != ",")
    except csv.Error as wrong:
        at = reader.line_num
        raise InputError(f"line {at} of {path} is no row of a table: {wrong}") from None


def _content(path: str) -> bytes:
    try:
        content = Path(path).read_bytes()
    except OSError as wrong:
        raise InputError(f"cannot read {path}: {wrong.strerror}") from None
    if not content.strip():
        raise InputError(f"{path} is empty; it needs a line of column names and rows below it")
    return content


def _text(path: str, content: bytes) -> str:
    if b"\0" in content:
        raise InputError(f"{path} is not a table; give a CSV or XLSX file")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = content.count(b"\n", 0, wrong.start) + 1
        raise InputError(f"{path} is not UTF-8 text at line {line}; save it as CSV UTF-8") from None


def _sheet_rows(path: str, sheet: str | None) -> Iterable[list[str]]:
    from python_calamine import CalamineError, load_workbook

    try:
        book = load_workbook(path)
    except CalamineError:
        raise InputError(f"{path} is damaged or no XLSX file; save it again") from None
    if sheet is not None and sheet not in book.sheet_names:
        raise InputError(f"{path} has no sheet {sheet!r}; it has: {', '.join(book.sheet_names)}")
    chosen = book.get_sheet_by_name(sheet if sheet is not None else book.sheet_names[0])
    return ([_cell_text(cell) for cell in row] for row in chosen.to_python(skip_empty_area=False))


def _cell_text(cell: object) -> str:
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def _table(
    path: str, rows: Iterable[tuple[int, Sequence[str]]], *, decimal_comma: bool
) -> TextTable:
    filled = ((line, row) for line, row in rows if any(cell.strip() for cell in row))
    _, head = next(filled, (0, []))
    names = [name.strip() for name in head]
    twice = next((name for name in names if name and names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"{path} has the column {twice!r} twice; give each its own name")
    lines: list[int] = []
    cells: list[Sequence[str]] = []
    for line, row in filled:
        if len(row) != len(names):
            raise InputError(f"line {line} of {path} has {len(row)} cells, the line of column"
                             f" names {len(names)}")
        lines.append(line)
        cells.append(row)
    if not cells:
        raise InputError(f"{path} has no rows below its column names")
    columns = dict(zip(names, map(list, zip(*cells, strict=True)), strict=True))
    columns.pop("", None)  # a separator at the end of each line makes a column without a name
    return TextTable(columns=columns, lines=lines, decimal_comma=decimal_comma)
