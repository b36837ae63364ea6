"""The table a document is about, as CSV for programs and spreadsheets."""

from __future__ import annotations

import csv
import io
from datetime import datetime

from reports.cells import sound
from reports.document import Cell, Document

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A spreadsheet runs a cell that begins like this; a ' in front keeps it text."""


def render_csv(document: Document) -> bytes:
    """UTF-8 with a mark, so that a spreadsheet reads names right; moments with their offset."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([column.key for column in document.main.columns])
    for row in document.main.rows:
        writer.writerow([_plain(cell) for cell in row])
    return out.getvalue().encode("utf-8-sig")


def _plain(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.isoformat()
    if isinstance(cell, int | float):
        return f"{cell:.6g}" if isinstance(cell, float) else str(cell)  # a minus is no formula here
    text = sound(str(cell))
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
