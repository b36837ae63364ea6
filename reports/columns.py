"""Columns on paper: how wide each is, how large the letters, and whether the page is turned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reports.cells import shown
from reports.document import Column, Table
from reports.letters import broken, drawable, wide

PORTRAIT, LANDSCAPE = 493.0, 740.0
"""Room between the margins of an A4 page, in points."""
GAP, SLACK = 9.0, 0.5
"""Points between a column and the next, and how much of them a word may take."""
SIZES = (9.0, 8.0, 7.0)
"""Letters of a table, in points: the largest that fits is taken."""
NAME = 18
"""Characters up to which a text is a name and stays on one line."""
WIDEST = 28.0
"""Em that a column of longer texts takes where there is room for more."""
BOXES = {"tick": 1.6, "write": 8.0}
"""Em of a box to tick, and of one to write in."""
LONG_LINES = 12
"""Lines from which a row may go over to the next page."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A table as it goes on paper. ``widths`` : points of each column, the gap behind it included.

    ``rows`` : lines of text for each cell, None where a box stands. ``whole`` : no row
    need ever be divided between pages.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str | None, ...], ...]
    widths: tuple[float, ...]
    size: float
    landscape: bool
    whole: bool


@dataclass(frozen=True, slots=True)
class _Need:
    """Em of one column: with nothing broken but long texts, and at the least."""

    natural: float
    least: float


def fit(table: Table) -> Fitted:
    """The table with the largest letters and the fewest broken lines that its columns allow.

    Upright if all fits so; else the page is turned; else long texts take more lines; and where even
    that is not enough, names are divided too.
    """
    columns = table.columns
    texts = [[drawable(shown(column, cell)) for column, cell in zip(columns, row, strict=True)]
             for row in table.rows]
    heads = [drawable(column.name) for column in columns]
    needs = [_need(column, heads[at], {row[at] for row in texts}, bold=at == 0)
             for at, column in enumerate(columns)]
    size, landscape, widths = _widths(needs)
    rooms = [max(width - GAP + SLACK, size) / size for width in widths]
    rows = tuple(tuple(_cells(columns, row, rooms)) for row in texts)
    return Fitted(
        heads=tuple(_head(head, room) for head, room in zip(heads, rooms, strict=True)),
        rows=rows, widths=tuple(widths), size=size, landscape=landscape,
        whole=not any(_is_long(cell, room) for row in rows
                      for cell, room in zip(row, rooms, strict=True)),
    )


def _cells(
    columns: Sequence[Column], row: Sequence[str], rooms: Sequence[float]
) -> Iterator[str | None]:
    for at, (column, text, room) in enumerate(zip(columns, row, rooms, strict=True)):
        yield None if column.kind in BOXES else broken(text, room, bold=at == 0)


def _head(head: str, room: float) -> str:
    """A heading on one line, else two about as long, else as many as it takes."""
    if wide(head, bold=True) > room:
        _, head = _halves(head)
    return broken(head, room, bold=True)


def _halves(head: str) -> tuple[float, str]:
    """How wide a heading on two lines is, and the two lines; one where it is one word."""
    words = head.split()
    splits = ("\n".join(filter(None, (" ".join(words[:at]), " ".join(words[at:]))))
              for at in range(max(len(words), 1)))
    return min((max(wide(line, bold=True) for line in split.split("\n")), split)
               for split in splits)


def _need(column: Column, head: str, texts: set[str], *, bold: bool) -> _Need:
    head_word = max((wide(word, bold=True) for word in head.split()), default=0.0)
    if column.kind in BOXES:
        box = BOXES[column.kind]
        return _Need(max(_halves(head)[0], box), max(head_word, box))
    natural, least = max(_halves(head)[0], 1.0), max(head_word, 1.0)
    for line in {line for text in texts for line in text.split("\n")}:
        whole = wide(line, bold=bold)
        name = len(line) <= NAME or column.kind != "text"
        natural = max(natural, whole if name else min(whole, WIDEST))
        least = max(least, whole if name else min(_longest_word(line, bold), 0.5 * WIDEST))
    return _Need(natural, least)


def _longest_word(line: str, bold: bool) -> float:
    return max((wide(word, bold=bold) for word in line.split()), default=0.0)


def _widths(needs: Sequence[_Need]) -> tuple[float, bool, list[float]]:
    """Size of the letters, whether the page is turned, and points of each column."""
    gaps, natural = GAP * len(needs), sum(need.natural for need in needs)
    for room, landscape in ((PORTRAIT, False), (LANDSCAPE, True)):
        for size in SIZES[:2]:
            if size * natural + gaps <= room:
                return size, landscape, [size * need.natural + GAP for need in needs]
    least, room = sum(need.least for need in needs), LANDSCAPE - gaps
    for size in SIZES[1:]:
        if size * least <= room:
            share = (room / size - least) / max(natural - least, room / size - least)
            return size, True, [
                size * (need.least + share * (need.natural - need.least)) + GAP for need in needs]
    return SIZES[-1], True, [LANDSCAPE * need.least / least for need in needs]


def _is_long(cell: str | None, room: float) -> bool:
    return cell is not None and len(cell) > room and sum(
        wide(line) // room + 1 for line in cell.split("\n")) > LONG_LINES
