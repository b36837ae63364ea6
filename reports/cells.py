"""Cells as text, and text made safe for any form; the one place of formats."""

from __future__ import annotations

import re
from datetime import datetime

from reports.document import Cell, Column

THIN = "\u202f"
REPLACED = "\ufffd"
_UNFIT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")


def sound(text: str) -> str:
    """Text without characters that no file of ours may hold; each leaves a mark."""
    return _UNFIT.sub(REPLACED, text)


def count(n: int) -> str:
    """A whole number with its thousands set apart."""
    return f"{n:,}".replace(",", THIN)


def percent(share: float) -> str:
    """A share 0..1 in whole per cent, never rounded to none or all."""
    whole = round(100 * share)
    if whole == 0 and share > 0:
        return f"under 1{THIN}%"
    if whole == 100 and share < 1:
        return f"over 99{THIN}%"
    return f"{whole}{THIN}%"


def minute(moment: datetime) -> str:
    """A moment inside a list: sorts as text."""
    return f"{moment:%Y-%m-%d %H:%M}"


def long_minute(moment: datetime) -> str:
    """A moment inside a sentence."""
    return f"{moment:%a} {moment.day} {moment:%b %Y, %H:%M}"


def shown(column: Column, cell: Cell) -> str:
    """A cell as people read it; empty where nothing is said."""
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return minute(cell)
    if isinstance(cell, int):
        return count(cell)
    if isinstance(cell, float):
        return f"{cell:.4g}"
    return sound(column.words(cell) if column.words else cell)
