"""Cells of a workbook that hold a spreadsheet's error: read as blank, they would pass for nothing.

Format: ECMA-376 (Office Open XML) Part 1, 18.3.1.4 (c), 18.18.11 (cell types), 18.17.3 (errors).
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree

from qc.errors import InputError

ERRORS = frozenset({"#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!",
                    "#GETTING_DATA"})
_BLOCK = 1 << 20
_KEPT = 1 << 16
"""Bytes kept of a block for the next one, so that no cell is cut in two: a formula has at most
8192 characters, of up to 6 bytes each as XML writes them."""
_MARKED = re.compile(rb"""\st=["']e["']""")
_CELL = re.compile(rb"""<(?:\w+:)?c\s(?=(?:[^>]*\s)?t=["']e["'])([^>]*?)"""
                   rb"(?:/>|>(.*?)</(?:\w+:)?c>)", re.DOTALL)
_PLACE = re.compile(rb"""(?:^|\s)r=["']([A-Z]{1,3})(\d+)["']""")
_VALUE = re.compile(rb"<(?:\w+:)?v>([^<]*)<")


def error_cells(packed: zipfile.ZipFile, sheet_name: str) -> Iterator[tuple[int, int, str]]:
    """(row, column, error), counted from 0, of every cell of a sheet that holds an error.

    Raises
    ------
    InputError
        A cell holds an error and does not say where it stands.
    """
    path = _sheet_path(packed, sheet_name)
    if path is None:
        return
    with packed.open(path) as sheet:
        kept = b""
        while block := sheet.read(_BLOCK):
            text = kept + block
            last = 0
            if _MARKED.search(text):
                for found in _CELL.finditer(text):
                    yield _error(found)
                    last = found.end()
            kept = text[max(last, len(text) - _KEPT):]


def _error(found: re.Match[bytes]) -> tuple[int, int, str]:
    place, value = _PLACE.search(found[1]), _VALUE.search(found[2] or b"")
    said = value[1].decode("ascii", "replace").strip() if value else "#N/A"
    if place is None:
        raise InputError(f"a cell holds {said} and does not say which cell it is; put it right,"
                         " or save the sheet as CSV")
    column = 0
    for letter in place[1]:
        column = column * 26 + letter - ord("A") + 1
    return int(place[2]) - 1, column - 1, said


def _sheet_path(packed: zipfile.ZipFile, sheet_name: str) -> str | None:
    """The part of the package that a sheet is in; None where the package does not say."""
    try:
        book = ElementTree.fromstring(packed.read("xl/workbook.xml"))
        links = ElementTree.fromstring(packed.read("xl/_rels/workbook.xml.rels"))
    except (KeyError, ElementTree.ParseError):
        return None
    target = {one.get("Id"): one.get("Target", "") for one in links}
    for one in book.iter():
        if _local(one.tag) == "sheet" and one.get("name") == sheet_name:
            link = next((value for key, value in one.attrib.items() if _local(key) == "id"
                         and key != "sheetId"), None)
            path = posixpath.normpath(posixpath.join("/xl", target.get(link, ""))).lstrip("/")
            return path if path in packed.namelist() else None
    return None


def _local(name: str) -> str:
    return name.rpartition("}")[2]
