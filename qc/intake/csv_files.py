"""Reading CSV in blocks: fast where the quoting is regular, cell by cell where it is not.

A block ends at a record's end, so that a file of any size is read in bounded memory. Where each
record begins and how many cells it has is found on the bytes; pandas then reads the cells.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.kinds import defect_kinds
from qc.errors import InputError
from qc.intake.names import known_names
from qc.intake.table import Bools, Ints, RawTable, table_of_rows

BLOCK_BYTES = 16_000_000
SLOW_ROWS = 100_000
SEPARATORS = (",", ";", "\t")
_BOM = b"\xef\xbb\xbf"
_QUOTE, _NEWLINE = 34, 10
_MARKS = {b"PK\x03\x04": "a zip or XLSX file; give it the ending .xlsx, or save it as CSV",
          b"%PDF": "a PDF", b"\xd0\xcf\x11\xe0": "an old Excel file; save it as XLSX or CSV",
          b"SQLite format 3": "a store; name it with --store",
          b"\x1f\x8b": "a gzip file; unpack it",
          b"\xff\xfe": "UTF-16 text; save it as CSV UTF-8",
          b"\xfe\xff": "UTF-16 text; save it as CSV UTF-8"}


class _Irregular(Exception):
    """Quotes stand where the fast way cannot follow them."""


@dataclass(frozen=True, slots=True)
class _Shape:
    """Records of a block: bounds in bytes (without the line end), lines from its start, cells."""

    start: Ints
    end: Ints
    line: Ints
    n_cells: Ints
    quoted: bool


@dataclass(frozen=True, slots=True)
class _Head:
    """The header of a file: where rows begin (byte and line)."""

    columns: tuple[str, ...]
    separator: str
    at_byte: int
    at_line: int


def csv_tables(path: Path) -> Iterator[RawTable]:
    """The file's rows in blocks, at least one; InputError if it is not text or has no header."""
    _refuse_binary(path)
    head = _head(path)
    given = 0
    try:
        for table in _fast(path, head):
            yield table
            given += len(table)
    except _Irregular:
        yield from _slow(path, head, given=given)


def csv_columns(path: Path) -> tuple[str, ...]:
    """The names of the file's columns, without reading its rows."""
    _refuse_binary(path)
    return _head(path).columns


def _refuse_binary(path: Path) -> None:
    with path.open("rb") as file:
        start = file.read(65_536)
    if not start.removeprefix(_BOM).strip():
        raise InputError("the file is empty; it needs a header row and rows")
    for mark, words in _MARKS.items():
        if start.startswith(mark):
            raise InputError(f"this is not CSV but {words}")
    if b"\x00" in start:
        raise InputError("this is a binary file, not CSV text; save the table as CSV UTF-8 or XLSX")


def _head(path: Path) -> _Head:
    with path.open("rb") as file:
        raw = file.read(1_000_000)
    skip = len(_BOM) if raw.startswith(_BOM) else 0
    text = _decoded(raw[skip:], at_byte=skip, at_line=1, partial=True)
    columns, separator, used = _best_split(text)
    at_byte = skip + len(_lines_text(text, used).encode())
    return _Head(tuple(name.strip() for name in columns), separator, at_byte, used + 1)


def _best_split(text: str) -> tuple[list[str], str, int]:
    """The header's cells, its separator and the lines it takes; of equals the first counts."""
    found, refused = [], ""
    for separator in SEPARATORS:
        try:
            columns, used = _first_record(text, separator)
            found.append((columns, separator, used))
        except csv.Error as error:  # quotes that make no sense with this separator
            refused = refused or str(error)
    if not found:
        raise InputError(f"the header row cannot be read ({refused}); check its quotes")
    return max(found, key=lambda one: _score(one[0]))


def _score(columns: list[str]) -> tuple[int, int]:
    names = {name.strip().casefold() for name in columns}
    return len(names & (known_names() | set(defect_kinds()))), len(columns)


def _first_record(text: str, separator: str) -> tuple[list[str], int]:
    """The header's cells, and the number of lines up to its end."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    for row in reader:
        if any(map(str.strip, row)):
            return row, reader.line_num
    raise InputError("the file has no header row; its first row must name the columns")


def _lines_text(text: str, n: int) -> str:
    """The first n lines, as the csv reader counts them."""
    source = io.StringIO(text, newline="")
    return "".join(source.readline() for _ in range(n))


def _decoded(raw: bytes, *, at_byte: int, at_line: int, partial: bool = False) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as error:
        if partial and error.start > len(raw) - 4 and len(raw) > 900_000:
            return raw[: error.start].decode("utf-8")
        line = at_line + raw[: error.start].count(b"\n")
        raise InputError(
            f"the file is not UTF-8: byte 0x{raw[error.start]:02x} at byte"
            f" {at_byte + error.start + 1}, line {line}; save it as CSV UTF-8") from None


def _fast(path: Path, head: _Head) -> Iterator[RawTable]:
    n_bytes, rest = path.stat().st_size, b""
    at_byte, line, row = head.at_byte, head.at_line, 0
    with path.open("rb") as file:
        file.seek(head.at_byte)
        more = True
        while more:
            read = file.read(BLOCK_BYTES)
            more = len(read) == BLOCK_BYTES
            block, rest = _whole_records(rest + read, last=not more)
            if len(rest) > 4 * BLOCK_BYTES:
                raise _Irregular
            if not block and more:
                continue
            table = _block_table(block, head, at_byte, line, row, (at_byte + len(block)) / n_bytes)
            yield table
            at_byte, line, row = at_byte + len(block), line + block.count(b"\n"), row + len(table)


def _whole_records(data: bytes, *, last: bool) -> tuple[bytes, bytes]:
    """The data up to the end of its last whole record, and what is left."""
    if last:
        return data, b""
    if b'"' not in data:
        cut = data.rfind(b"\n") + 1
        return data[:cut], data[cut:]
    values = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero((values == _NEWLINE) & ~_inside(values))
    cut = int(ends[-1]) + 1 if len(ends) else 0
    return data[:cut], data[cut:]


def _inside(values: npt.NDArray[np.uint8]) -> Bools:
    """Which bytes stand inside quotes (the opening quote does, the closing one does not)."""
    is_quote = values == _QUOTE
    return np.logical_xor.accumulate(is_quote)


def _shape(block: bytes, separator: str) -> _Shape:
    values = np.frombuffer(block, dtype=np.uint8)
    at_break = values == _NEWLINE
    at_separator = values == ord(separator)
    quoted = b'"' in block
    if quoted:
        inside = _inside(values)
        _check_quotes(values, inside, separator)
        outside = ~inside
        lines_before = np.cumsum(at_break)
        ends = np.flatnonzero(at_break & outside)
        at_separator &= outside
    else:
        ends = np.flatnonzero(at_break)
    if len(values) and (not len(ends) or ends[-1] != len(values) - 1):
        ends = np.append(ends, len(values))
    start = np.r_[0, ends[:-1] + 1] if len(ends) else ends
    line = np.r_[0, lines_before[start[1:] - 1]] if quoted and len(start) else np.arange(len(start))
    before = np.searchsorted(np.flatnonzero(at_separator), np.r_[start, len(values)])
    stop = ends - ((ends > start) & (values[np.minimum(ends, len(values)) - 1] == 13))
    return _Shape(start, stop, line.astype(np.int64), np.diff(before) + 1, quoted)


def _check_quotes(values: npt.NDArray[np.uint8], inside: Bools, separator: str) -> None:
    """_Irregular unless quotes stand only around whole cells, doubled within."""
    if inside[-1]:
        raise _Irregular
    at = np.flatnonzero(values == _QUOTE)
    borders = np.array([ord(separator), _NEWLINE, 13, _QUOTE], dtype=np.uint8)
    opening, closing = at[inside[at]], at[~inside[at]]
    before = values[opening[opening > 0] - 1]
    behind = values[closing[closing < len(values) - 1] + 1]
    if not (np.isin(before, borders).all() and np.isin(behind, borders).all()):
        raise _Irregular


def _block_table(
    block: bytes, head: _Head, at_byte: int, line: int, row: int, share: float
) -> RawTable:
    if not block.isascii():
        _decoded(block, at_byte=at_byte, at_line=line)
    if b"\x00" in block:
        raise InputError(f"line {line + block[: block.index(0)].count(10)} holds a zero byte;"
                         " this is not CSV text")
    if b"\r" in block.replace(b"\r\n", b""):
        raise _Irregular
    shape = _shape(block, head.separator)
    even = shape.n_cells == len(head.columns)
    some = shape.end > shape.start
    filled, uneven = np.flatnonzero(even & some), np.flatnonzero(~even & some)
    if len(uneven) > max(1000, len(even) // 10):
        raise _Irregular
    # blank rows are put in where the uneven ones were, and filled in below
    at = np.searchsorted(filled, uneven)
    cells = [np.insert(column, at, "") if len(at) else column
             for column in _cells(block, shape, filled, head)]
    keep = np.flatnonzero(some)
    rows = [_one_row(block[shape.start[n]: shape.end[n]], head) for n in uneven]
    places = np.searchsorted(keep, uneven).tolist()
    return _finished(head, cells, shape.line[keep] + line,
                     dict(zip(places, rows, strict=True)), row, share)


def _cells(
    block: bytes, shape: _Shape, filled: Ints, head: _Head
) -> list[npt.NDArray[np.object_]]:
    width = len(head.columns)
    if not len(filled):
        return [np.empty(0, dtype=object) for _ in range(width)]
    if len(filled) < len(shape.start):
        bounds = zip(shape.start[filled].tolist(), shape.end[filled].tolist(), strict=True)
        block = b"\n".join([block[a:b] for a, b in bounds]) + b"\n"
    frame = pd.read_csv(
        io.BytesIO(block), sep=head.separator, header=None, names=list(range(width)), dtype=object,
        na_filter=False, keep_default_na=False, engine="c", skip_blank_lines=False,
        index_col=False, low_memory=False, encoding="utf-8",
    )
    if len(frame) != len(filled):
        raise _Irregular
    return [frame[at].to_numpy() for at in range(width)]


def _one_row(record: bytes, head: _Head) -> tuple[str, ...]:
    text = record.decode("utf-8")
    return tuple(next(csv.reader(io.StringIO(text, newline=""), delimiter=head.separator), [""]))


def _finished(
    head: _Head, cells: list[npt.NDArray[np.object_]], lines: Ints,
    uneven: dict[int, tuple[str, ...]], row: int, share: float,
) -> RawTable:
    """Uneven rows filled in or marked as ragged, rows without any text left out."""
    width, ragged = len(head.columns), {}
    for at, given in uneven.items():
        for column, text in zip(cells, given, strict=False):
            column[at] = text
        if len(given) < width or any(map(str.strip, given[width:])):
            ragged[at] = given
    blank = _all_blank(cells, len(lines))
    if blank.any():
        kept = np.flatnonzero(~blank)
        cells = [column[kept] for column in cells]
        lines = lines[kept]
        ragged = {int(np.searchsorted(kept, at)): given for at, given in ragged.items()
                  if not blank[at]}
    return RawTable(columns=head.columns, cells=tuple(cells), lines=lines, ragged=ragged,
                    separator=head.separator, first_row=row, share=share)


def _all_blank(cells: list[npt.NDArray[np.object_]], n_rows: int) -> Bools:
    left = np.arange(n_rows)
    for column in cells:
        if not len(left):
            break
        left = left[[not text.strip() for text in column[left].tolist()]]
    blank = np.zeros(n_rows, dtype=bool)
    blank[left] = True
    return blank


def _slow(path: Path, head: _Head, *, given: int) -> Iterator[RawTable]:
    """Cell by cell, behind the rows that were given out already."""
    csv.field_size_limit(10_000_000)
    row = 0
    for rows, lines in _slow_blocks(path, head):
        table = table_of_rows(head.columns, rows, lines, head.separator, first_row=row)
        row += len(table)
        if row > given or given == 0:
            yield _behind(table, given)


def _behind(table: RawTable, done: int) -> RawTable:
    cut = max(0, done - table.first_row)
    if not cut:
        return table
    return RawTable(
        columns=table.columns, cells=tuple(column[cut:] for column in table.cells),
        lines=table.lines[cut:], separator=table.separator, first_row=table.first_row + cut,
        ragged={at - cut: given for at, given in table.ragged.items() if at >= cut})


def _slow_blocks(path: Path, head: _Head) -> Iterator[tuple[list[list[str]], list[int]]]:
    rows: list[list[str]] = []
    lines: list[int] = []
    for row, line in _records(path, head):
        rows.append(row)
        lines.append(line)
        if len(rows) == SLOW_ROWS:
            yield rows, lines
            rows, lines = [], []
    yield rows, lines


def _records(path: Path, head: _Head) -> Iterator[tuple[list[str], int]]:
    with path.open("rb") as raw:
        raw.seek(head.at_byte)
        reader = csv.reader(_text_lines(raw, head), delimiter=head.separator, strict=True)
        line = 0
        while True:
            try:
                row = next(reader, None)
            except csv.Error as error:
                raise InputError(f"line {head.at_line + line}: {_quote_words(error)}") from None
            if row is None:
                return
            yield row, head.at_line + line
            line = reader.line_num


def _quote_words(error: csv.Error) -> str:
    if "unexpected end" in str(error):
        return "a quote is opened here and never closed; close it, or double it inside a cell"
    return f"the quotes cannot be followed ({error}); put quotes around the whole cell"


def _text_lines(raw: io.BufferedReader, head: _Head) -> Iterator[str]:
    at_byte, line = head.at_byte, head.at_line
    for one in raw:
        text = _decoded(one, at_byte=at_byte, at_line=line)
        if "\x00" in text:
            raise InputError(f"line {line} holds a zero byte; this is not CSV text")
        at_byte, line = at_byte + len(one), line + 1
        yield from io.StringIO(text, newline="")

