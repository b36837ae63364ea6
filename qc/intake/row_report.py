"""What is wrong with a file, cell by cell: for people who put it right row by row."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from qc.intake.table import RawTable

LONGEST_VALUE = 200
_OF_DEFECTS = ("defect kind ", "zone ", "extent ", "count ", "a kind is counted ")
"""How messages about the column of defects begin that do not begin with its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongCell:
    """One thing that is wrong: the line of the file, the column as it is headed there (empty: the
    whole row), what stands in it, and why it cannot be kept."""

    line: int
    column: str
    value: str
    message: str


def wrong_cells(
    tables: Iterable[RawTable], rejects: Mapping[int, tuple[int, str]], *, most: int
) -> tuple[WrongCell, ...]:
    """What is wrong with the first ``most`` rejected rows.

    Parameters
    ----------
    tables : the file's parts, read a second time; no further than needed.
    rejects : (line, reasons joined by ';') by row of the file.
    """
    wanted = sorted(rejects)[:most]
    found: list[WrongCell] = []
    for table in tables:
        if not wanted:
            break
        while wanted and wanted[0] < table.first_row + len(table):
            row = wanted.pop(0)
            line, reasons = rejects[row]
            found += _of_row(table, table.row(row - table.first_row), line, reasons.split("; "))
    return tuple(found)


def _of_row(
    table: RawTable, cells: Sequence[str], line: int, messages: Sequence[str]
) -> Iterator[WrongCell]:
    headers = [column.strip() for column in table.columns]
    for message in messages:
        at = _column(headers, message)
        value = cells[at] if at is not None and at < len(cells) else ""
        if len(value) > LONGEST_VALUE:
            value = value[: LONGEST_VALUE - 1] + "…"
        yield WrongCell(line=line, column="" if at is None else headers[at], value=value,
                        message=message)


def _column(headers: Sequence[str], message: str) -> int | None:
    for name in sorted(filter(None, headers), key=len, reverse=True):
        if message.startswith(f"{name} "):
            return headers.index(name)
    if message.startswith(_OF_DEFECTS) and "defects" in headers:
        return headers.index("defects")
    return None
