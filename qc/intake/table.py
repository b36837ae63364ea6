"""A table as its file has it: every cell as text, and the line each row began on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from qc.errors import InputError

Cells = npt.NDArray[np.object_]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

REJECT_COLUMNS = ("line", "reason")
"""Put in front of rejected rows; a file that begins with both is a rejects file put right."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RawTable:
    """Rows of a file, or of a part of one.

    ``cells``: one object array of str for each column. ``lines``: the line of the file each row
    begins on. ``ragged``: the cells of rows that have more or fewer than the header, by position;
    in ``cells`` they are cut or filled. ``first_row``: how many rows of the file come before.
    ``separator``: ``,`` ``;`` or tab, empty for a sheet. ``share``: how far into the file it ends.
    """

    columns: tuple[str, ...]
    cells: tuple[Cells, ...]
    lines: Ints
    separator: str
    ragged: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    first_row: int = 0
    share: float = 1.0

    def __len__(self) -> int:
        return len(self.lines)

    @property
    def decimal_comma(self) -> bool:
        """Whether 12,5 can be a number here: it cannot where the comma parts cells."""
        return self.separator in {";", "\t"}

    def column(self, name: str) -> Cells:
        """The cells of a column as text; InputError names the columns there are."""
        if name not in self.columns:
            raise InputError(
                f"there is no column {name!r}; the file has: {', '.join(self.columns)}")
        return self.cells[self.columns.index(name)]

    def labels(self, name: str) -> list[str]:
        """The cells of a column that names things; InputError where one is blank."""
        texts = [text.strip() for text in self.column(name).tolist()]
        if "" in texts:
            line = self.lines[texts.index("")]
            raise InputError(f"line {line}: {name} is blank; every row needs one")
        return texts

    def row(self, position: int) -> tuple[str, ...]:
        """The cells of one row as they were."""
        if position in self.ragged:
            return self.ragged[position]
        return tuple(column[position] for column in self.cells)


def joined(parts: Sequence[RawTable]) -> RawTable:
    """Parts of one file as one table."""
    if len(parts) == 1:
        return parts[0]
    first, ragged = parts[0], {}
    for part in parts:
        shift = part.first_row - first.first_row
        ragged.update({at + shift: cells for at, cells in part.ragged.items()})
    return RawTable(
        columns=first.columns, separator=first.separator, ragged=ragged,
        cells=tuple(np.concatenate(column) for column in zip(*(p.cells for p in parts),
                                                              strict=True)),
        lines=np.concatenate([part.lines for part in parts]), first_row=first.first_row,
    )


def object_array(values: Sequence[str]) -> Cells:
    """Texts as an object array."""
    made = np.empty(len(values), dtype=object)
    made[:] = values
    return made


def table_of_rows(
    columns: tuple[str, ...], rows: Sequence[Sequence[str]], lines: Sequence[int], separator: str,
    *, first_row: int = 0, share: float = 1.0,
) -> RawTable:
    """A table from rows of any number of cells; rows without any text are left out."""
    width = len(columns)
    kept = [at for at, row in enumerate(rows) if any(map(str.strip, row))]
    ragged, even = {}, []
    for place, at in enumerate(kept):
        row = rows[at]
        if len(row) != width:
            if len(row) < width or any(map(str.strip, row[width:])):
                ragged[place] = tuple(row)
            row = [*row[:width], *[""] * (width - len(row))]
        even.append(row)
    cells = tuple(map(object_array, zip(*even, strict=True))) if even else tuple(
        np.empty(0, dtype=object) for _ in columns)
    return RawTable(columns=columns, cells=cells, separator=separator, ragged=ragged,
                    lines=np.array([lines[at] for at in kept], dtype=np.int64),
                    first_row=first_row, share=share)
