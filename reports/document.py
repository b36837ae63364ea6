"""What a document is: frozen blocks without form. No input or output, no wording, no shop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from reports.drawing import check_drawing

Cell = str | int | float | datetime | None
ColumnKind = Literal["text", "figure", "count", "number", "moment", "tick", "write"]

CELL_TYPES: dict[str, type] = {"text": str, "figure": str, "count": int, "number": float,
                               "moment": datetime}
"""What a cell of each kind holds; None is not said; a tick, and room to write, are always left to
the reader.

A figure is a number already written out as people read it; a number is one that a spreadsheet may
go on reckoning with."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Title:
    """The head of a document: whose it is, what it is, up to when it knows."""

    text: str
    over: str = ""
    under: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paragraph:
    """Plain text under a heading."""

    heading: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """What can hurt or mislead; every form makes it stand out without colour."""

    heading: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Names with what is known of each."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column. ``key`` heads it in files for programs, ``name`` where people read it.

    ``words`` turns a code into what people read; files for programs keep the code.
    """

    key: str
    name: str
    kind: ColumnKind = "text"
    words: Callable[[str], str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows under typed columns. Moments are aware, in the zone they are to be read in.

    Raises
    ------
    ValueError
        A row has not one cell for each column, or a cell is not of its column's kind.
    """

    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    note: str = ""

    def __post_init__(self) -> None:
        for at, row in enumerate(self.rows):
            if len(row) != len(self.columns):
                raise ValueError(
                    f"row {at} of {self.title!r} has {len(row)} cells for {len(self.columns)} "
                    "columns"
                )
            for column, cell in zip(self.columns, row, strict=True):
                _check_cell(column, cell, f"row {at} of {self.title!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A drawing under a heading; files for programs leave it out.

    ``svg`` : one SVG element with its size and its own colours, as ``sheet_svg`` of
    ``reports/picture`` draws it with ``carry_font=False``. ``words`` : what it shows, for those who
    cannot see it. ``source`` : what it was made of and how, one line below it.

    Raises
    ------
    ValueError
        The drawing is more than shapes and words, or nothing is said for those who cannot see it.
    """

    svg: str
    heading: str
    words: str
    source: str = ""

    def __post_init__(self) -> None:
        if not self.words.strip():
            raise ValueError(f"{self.heading!r} needs words for those who cannot see the picture")
        check_drawing(self.svg)


Block = Paragraph | Caution | Facts | Table | Picture


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A title, blocks in reading order, and the table the document is about.

    ``as_of`` is the moment the document knows up to, aware. Forms take every date they must carry
    from it, so that the same document always gives the same bytes.
    """

    title: Title
    blocks: tuple[Block, ...]
    main: Table
    as_of: datetime


def _check_cell(column: Column, cell: Cell, where: str) -> None:
    if cell is None:
        return
    wanted = CELL_TYPES.get(column.kind)
    if wanted is None or type(cell) is not wanted:
        raise ValueError(f"{where}: {cell!r} cannot stand in the {column.kind} column {column.key}")
    if isinstance(cell, datetime) and cell.tzinfo is None:
        raise ValueError(f"{where}: {cell!r} in {column.key} has no time zone")
