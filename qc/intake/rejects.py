"""The rejects file: rejected rows as they were, with line and reason in front.

Put right, the file is loaded again, so cells are written unchanged but for one thing: text that a
spreadsheet would run as a formula gets a ' in front, which loading takes off again. The reason
quotes cells in the middle of a sentence, so it never begins like a formula.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path

from qc.errors import InputError
from qc.intake.reading import rejects_columns
from qc.intake.rows import guarded
from qc.intake.table import REJECT_COLUMNS, RawTable


def rejects_path(source: str | Path) -> Path:
    """Where rejects of a file go unless said otherwise: NAME.rejects.csv next to it."""
    return Path(source).with_suffix(".rejects.csv")


def write_rejects(
    path: Path, tables: Iterable[RawTable], rejects: Mapping[int, tuple[int, str]]
) -> None:
    """Write the rejected rows of a file, read a second time; all or nothing.

    Parameters
    ----------
    tables : the file's parts.
    rejects : (line, reason) by row of the file.
    """
    begun = path.with_name(f".{path.name}.part")
    try:
        with begun.open("w", encoding="utf-8", newline="") as out:
            _write(out, tables, rejects)
        begun.replace(path)
    except OSError as error:
        begun.unlink(missing_ok=True)
        raise InputError(f"the rejects file {path} cannot be written ({error.strerror}); name"
                         " another with --rejects") from None


def _write(out: object, tables: Iterable[RawTable], rejects: Mapping[int, tuple[int, str]]) -> None:
    left = iter(sorted(rejects.items()))
    row, (line, reason) = next(left)
    writer = None
    for table in tables:
        dropped = rejects_columns(table.columns)
        if writer is None:
            writer = csv.writer(out, delimiter=table.separator or ",",  # type: ignore[arg-type]
                                lineterminator="\r\n")  # so a cell with either is quoted
            writer.writerow([*REJECT_COLUMNS, *_kept(table.columns, dropped)])
        while row < table.first_row + len(table):
            writer.writerow([line, reason, *_kept(table.row(row - table.first_row), dropped)])
            row, (line, reason) = next(left, (-1, (0, "")))
            if row < 0:
                return


def _kept(cells: tuple[str, ...], dropped: tuple[int, ...]) -> list[str]:
    return [guarded(cell) for at, cell in enumerate(cells) if at not in dropped]
