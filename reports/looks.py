"""Looks at pieces as a file: what is found, in stored units, so that it can be loaded again."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import xlsxwriter

from qc.desk.look_fields import findings_line
from qc.domain.instants import iso
from qc.domain.records import INSPECTIONS
from qc.errors import InputError
from reports.cells import sound
from reports.csv import FORMULA_STARTS
from reports.xlsx import cut

Look = Mapping[str, Any]
DEFECTS = "defects"
HEADINGS = (*(field.name for field in INSPECTIONS.fields), DEFECTS)
"""Every field of a look by the name a file may have, in the stored unit."""
MOST_IN_XLSX = 200_000
"""A sheet could hold five times as many, but nobody's spreadsheet stays handy with them."""


def csv_parts(looks: Iterable[Sequence[Look]], zone: ZoneInfo) -> Iterator[bytes]:
    """The looks as CSV, in parts as they come; UTF-8 with a mark, times with their offset."""
    yield "\ufeff".encode()
    yield _lines([HEADINGS])
    for part in looks:
        yield _lines([_guarded(cell) for cell in _cells(look, zone)] for look in part)


def write_xlsx(path: Path, looks: Iterable[Sequence[Look]], zone: ZoneInfo) -> int:
    """The looks as a workbook of one sheet; how many they were.

    Raises
    ------
    InputError
        There are more than `MOST_IN_XLSX`.
    """
    row = 0
    with xlsxwriter.Workbook(str(path), {"constant_memory": True}) as book:
        sheet, head = book.add_worksheet("Looks"), book.add_format({"bold": True, "bottom": 2})
        as_text = book.add_format({"num_format": "@"})
        sheet.freeze_panes(1, 1)
        for at, name in enumerate(HEADINGS):
            sheet.set_column(at, at, max(len(name) + 2, 11))
            sheet.write_string(0, at, name, head)
        for look in (look for part in looks for look in part):
            row += 1
            if row > MOST_IN_XLSX:
                raise InputError(f"more than {MOST_IN_XLSX:,} looks; narrow the list, or take CSV")
            for at, cell in enumerate(_cells(look, zone)):
                if isinstance(cell, str):
                    sheet.write_string(row, at, cut(_kept_quote(cell)), as_text)
                elif cell is not None:
                    sheet.write_number(row, at, cell)
    return row


def _cells(look: Look, zone: ZoneInfo) -> Iterator[str | float | int | None]:
    for field in INSPECTIONS.fields:
        value = look[field.name]
        if value is not None and field.kind == "instant":
            value = iso(int(value), zone)
        yield value
    yield findings_line(look["findings"])


def _guarded(cell: str | float | int | None) -> str:
    """A cell that no spreadsheet takes for a formula; a ' that is the text's own gets another, so
    that reading the file again takes away what was put there and no more."""
    if cell is None:
        return ""
    if not isinstance(cell, str):
        return repr(cell)
    text = sound(cell)
    return f"'{text}" if text.lstrip("'").startswith(FORMULA_STARTS) else text


def _kept_quote(cell: str) -> str:
    """A cell of a workbook: text stays text there, so only a ' that is its own gets another."""
    return _guarded(cell) if cell.startswith("'") else cell


def _lines(rows: Iterable[Sequence[str]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerows(rows)
    return out.getvalue().encode("utf-8")
