"""A document as a workbook: what to know on the first sheet, the table it is about on the second.

Text stays text, whatever it looks like: nothing in a cell is a formula, a link or a number.
"""

from __future__ import annotations

import io
import re
from datetime import UTC, datetime
from math import ceil
from typing import Any

import xlsxwriter

from qc.errors import InputError
from reports.cells import shown, sound
from reports.document import (
    Block,
    Caution,
    Cell,
    Column,
    Document,
    Facts,
    Paragraph,
    Picture,
    Table,
)
from reports.drawing import drawing_size
from reports.picture.palette import LIGHT

MOST_ROWS = 1_048_575
"""Rows of a sheet below its heading (ECMA-376 leaves it to programs; this is what they take)."""
MOST_CHARACTERS = 32_767
"""Characters of a cell, counted as UTF-16 units."""
MOST_SHEET_NAME = 31

LINE_CHARACTERS = 105
LINE_POINTS = 15
WIDE = 5
"""Words of the first sheet run over so many columns."""

PICTURE_PIXELS, SHARPNESS = 680, 3
"""Width of the first sheet's columns on a screen, and pixels of a picture for each pixel of it."""
ROW_PIXELS = 20
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\]")
_FORMATS: dict[str, dict[str, object]] = {
    "title": {"bold": True, "font_size": 18, "text_wrap": True, "valign": "top"},
    "soft": {"font_color": LIGHT["soft"], "text_wrap": True, "valign": "top"},
    "heading": {"bold": True, "text_wrap": True, "valign": "top"},
    "words": {"text_wrap": True, "valign": "top"},
    "caution_heading": {"bold": True, "font_color": LIGHT["alarm"], "border": 1, "valign": "top"},
    "caution": {"text_wrap": True, "border": 1, "valign": "top"},
    "column": {"bold": True, "bottom": 2, "text_wrap": True, "valign": "bottom"},
    "text": {"valign": "top", "num_format": "@"},
    "figure": {"valign": "top", "num_format": "@", "align": "right"},
    "count": {"valign": "top", "num_format": "#,##0"},
    "number": {"valign": "top", "num_format": "0.0000"},
    "moment": {"valign": "top", "num_format": "yyyy-mm-dd hh:mm", "align": "left"},
    "tick": {"border": 1},
    "write": {"border": 1},
}
_WIDTHS = {"count": 10, "number": 12, "moment": 17, "tick": 8, "write": 16}


def render_xlsx(document: Document) -> bytes:
    """The workbook. InputError if the table has more rows than a sheet can hold."""
    if len(document.main.rows) > MOST_ROWS:
        raise InputError(f"{len(document.main.rows):,} rows are more than an XLSX sheet holds "
                         f"({MOST_ROWS:,}); write a .csv instead")
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        book.set_properties({
            "title": cut(document.title.text), "author": cut(document.title.over),
            "created": document.as_of.astimezone(UTC).replace(tzinfo=None, microsecond=0),
        })
        formats = {name: book.add_format(given) for name, given in _FORMATS.items()}
        _Summary(book.add_worksheet("Summary"), formats).write(document)
        _write_main(book.add_worksheet(sheet_name(document.main.title)), formats, document.main)
    return out.getvalue()


def sheet_name(title: str) -> str:
    """A title as a sheet may be named."""
    name = _NOT_IN_SHEET_NAMES.sub(" ", sound(title))
    name = " ".join(name.split())[:MOST_SHEET_NAME].strip(" '")
    return "List" if name.lower() in ("", "summary", "history") else name


def cut(text: str) -> str:
    """Text that fits a cell; what is cut shows it."""
    text = sound(text)
    if len(text) <= MOST_CHARACTERS // 2:
        return text
    units = text.encode("utf-16-le")
    if len(units) <= 2 * MOST_CHARACTERS:
        return text
    return units[: 2 * (MOST_CHARACTERS - 1)].decode("utf-16-le", "ignore") + "…"


class _Summary:
    """The first sheet, written from top to bottom."""

    def __init__(self, sheet: Any, formats: dict[str, Any]) -> None:
        self._sheet, self._formats, self._row = sheet, formats, 0
        sheet.set_column(0, 0, 24)
        sheet.set_column(1, WIDE - 1, 18)
        sheet.set_landscape()
        sheet.fit_to_pages(1, 0)
        sheet.set_footer("&R&P / &N")
        sheet.hide_gridlines(2)

    def write(self, document: Document) -> None:
        self._words(document.title.over, "soft")
        self._words(document.title.text, "title", scale=1.8)
        self._words(document.title.under, "soft")
        self._row += 1
        for block in document.blocks:
            self._block(block)
            self._row += 1

    def _block(self, block: Block) -> None:
        match block:
            case Paragraph():
                self._words(block.heading, "heading")
                self._words(block.text, "words")
            case Caution():
                self._words(block.heading, "caution_heading")
                self._words(block.text, "caution")
            case Facts():
                for name, value in block.pairs:
                    self._fact(name, value)
            case Picture():
                self._picture(block)
            case Table():
                self._words(block.title, "heading")
                self._words(block.note, "soft")
                self._row = _write_table(self._sheet, self._formats, block, self._row)

    def _words(self, text: str, style: str, *, scale: float = 1) -> None:
        if not text:
            return
        self._sheet.merge_range(self._row, 0, self._row, WIDE - 1, "", self._formats[style])
        self._sheet.write_string(self._row, 0, cut(text), self._formats[style])
        self._height(text, LINE_CHARACTERS / scale, scale)

    def _fact(self, name: str, value: str) -> None:
        self._sheet.write_string(self._row, 0, cut(name), self._formats["soft"])
        self._sheet.merge_range(self._row, 1, self._row, WIDE - 1, "", self._formats["words"])
        self._sheet.write_string(self._row, 1, cut(value), self._formats["words"])
        self._height(value, LINE_CHARACTERS * 0.75, 1)

    def _picture(self, picture: Picture) -> None:
        from reports.picture.png import drawing_png

        self._words(picture.heading, "heading")
        width, height = drawing_size(picture.svg)
        scale = min(1.0, PICTURE_PIXELS / width)
        pixels = round(SHARPNESS * width)
        self._sheet.insert_image(self._row, 0, "picture.png", {
            "image_data": io.BytesIO(drawing_png(picture.svg, pixels)),
            "x_scale": scale * width / pixels, "y_scale": scale * width / pixels,
            "description": cut(picture.words),
        })
        self._row += ceil(scale * height / ROW_PIXELS) + 1
        self._words(picture.source, "soft")

    def _height(self, text: str, per_line: float, scale: float) -> None:
        """A row of joined cells does not grow by itself."""
        lines = sum(int(len(line) // per_line) + 1 for line in text.splitlines() or [""])
        self._sheet.set_row(self._row, min(LINE_POINTS * scale * lines, 400))
        self._row += 1


def _write_main(sheet: Any, formats: dict[str, Any], table: Table) -> None:
    for at, column in enumerate(table.columns):
        sheet.set_column(at, at, _width(column, [row[at] for row in table.rows]))
    end = _write_table(sheet, formats, table, 0)
    sheet.freeze_panes(1, 1)
    if table.rows:
        sheet.autofilter(0, 0, end - 1, len(table.columns) - 1)
        # numbers kept as text are meant: a piece number is a name
        sheet.ignore_errors({"number_stored_as_text": f"A1:XFD{end}"})
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_footer("&R&P / &N")


def _write_table(sheet: Any, formats: dict[str, Any], table: Table, row: int) -> int:
    """Headings and rows from ``row`` on; the row after them."""
    for at, column in enumerate(table.columns):
        sheet.write_string(row, at, cut(column.name), formats["column"])
    for cells in table.rows:
        row += 1
        for at, (column, cell) in enumerate(zip(table.columns, cells, strict=True)):
            _write_cell(sheet, (row, at), column, cell, formats[column.kind])
    return row + 1


def _write_cell(sheet: Any, at: tuple[int, int], column: Column, cell: Cell, style: Any) -> None:
    if cell is None:
        if column.kind in ("tick", "write"):  # its frame is what is to be seen
            sheet.write_blank(*at, None, style)
    elif isinstance(cell, datetime):
        sheet.write_datetime(*at, cell.replace(tzinfo=None), style)
    elif isinstance(cell, int | float):
        sheet.write_number(*at, cell, style)
    else:
        sheet.write_string(*at, cut(shown(column, cell)), style)


def _width(column: Column, cells: list[Cell]) -> float:
    if column.kind in _WIDTHS:
        return _WIDTHS[column.kind]
    longest = max((len(shown(column, cell)) for cell in cells), default=0)
    return min(max(longest, len(column.name)) + 3, 42)
