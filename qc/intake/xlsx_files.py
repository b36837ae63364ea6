"""Reading XLSX: the values of one sheet as the text a CSV of it would have."""

from __future__ import annotations

import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from qc.errors import InputError
from qc.intake.cell_errors import error_cells
from qc.intake.table import RawTable, table_of_rows

CHUNK_ROWS = 100_000
LARGEST_UNPACKED = 4_000_000_000
"""Bytes; a sheet of a million rows and thirty columns unpacks to about half of that."""


def xlsx_tables(path: Path, sheet: str | None) -> Iterator[RawTable]:
    """The sheet's rows in blocks, at least one; InputError if there is no such sheet."""
    rows = _sheet_rows(path, sheet)
    head = next((n for n, row in enumerate(rows) if any(map(_filled, row))), None)
    if head is None:
        raise InputError("the sheet is empty; it needs a header row and rows")
    names = [cell_text(value).strip() for value in rows[head]]
    while names and not names[-1]:
        names.pop()
    given = 0
    for first in range(head + 1, max(len(rows), head + 2), CHUNK_ROWS):
        part = rows[first: first + CHUNK_ROWS]
        texts = [_texts(row, len(names)) for row in part]
        lines = list(range(first + 1, first + 1 + len(part)))
        table = table_of_rows(tuple(names), texts, lines, "", first_row=given,
                              share=min(1.0, (first + len(part)) / len(rows)))
        given += len(table)
        yield table


def _sheet_rows(path: Path, sheet: str | None) -> list[list[Any]]:
    from python_calamine import CalamineError, CalamineWorkbook, WorksheetNotFound

    _refuse_not_xlsx(path)
    try:
        book = CalamineWorkbook.from_path(str(path))
        if not book.sheet_names:
            raise InputError("the workbook has no sheet")
        name = book.sheet_names[0] if sheet is None else sheet
        rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
        _put_errors(path, name, rows)
        return rows
    except WorksheetNotFound:
        names = ", ".join(book.sheet_names)
        raise InputError(f"there is no sheet {sheet!r}; the workbook has: {names}") from None
    except (CalamineError, OSError, ValueError, zipfile.BadZipFile, zlib.error) as error:
        raise InputError(f"this workbook cannot be read ({error}); save it as XLSX again,"
                         " without a password, or as CSV") from None


def _put_errors(path: Path, sheet_name: str, rows: list[list[Any]]) -> None:
    """The reader gives a cell that holds an error as blank: what it holds is put back."""
    with zipfile.ZipFile(path) as packed:
        for row, column, error in error_cells(packed, sheet_name):
            if row < len(rows) and column < len(rows[row]):
                rows[row][column] = error


def _refuse_not_xlsx(path: Path) -> None:
    if path.stat().st_size == 0:
        raise InputError("the file is empty; it needs a header row and rows")
    try:
        with zipfile.ZipFile(path) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        raise InputError("this is not an XLSX workbook, whatever its ending, or it is cut short or"
                         " has a password; save it as XLSX again") from None
    if unpacked > LARGEST_UNPACKED:
        raise InputError(f"the workbook unpacks to {unpacked / 1e9:.0f} GB; save the sheet as CSV")


def _filled(value: Any) -> bool:
    return bool(cell_text(value).strip())


def _texts(row: list[Any], width: int) -> list[str]:
    texts = [cell_text(value) for value in row]
    while len(texts) > width and not texts[-1].strip():
        texts.pop()
    return texts + [""] * (width - len(texts))


def cell_text(value: Any) -> str:
    """A cell as text: whole numbers without a point, dates and times in ISO 8601.

    A date with a time is rounded to the millisecond: a spreadsheet keeps it as a share of a day.
    """
    if isinstance(value, str):
        return value.replace("\x00", "")
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return _rounded(value).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        return str(value.total_seconds())
    return "" if value is None else str(value)


def _rounded(moment: datetime) -> datetime:
    over = moment.microsecond % 1000
    return moment + timedelta(microseconds=1000 - over if over >= 500 else -over)
