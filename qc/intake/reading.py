"""Opening a file of either form: one way in for every command that takes a table."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from qc.errors import InputError
from qc.intake.csv_files import csv_columns, csv_tables
from qc.intake.table import REJECT_COLUMNS, RawTable, joined
from qc.intake.xlsx_files import xlsx_tables

SHEET_ENDINGS = frozenset({".xlsx", ".xlsm"})


def read_table(path: str | Path, *, sheet: str | None = None) -> RawTable:
    """The whole table of a CSV or XLSX file, every cell as text.

    Raises
    ------
    InputError
        Missing, a folder, empty, binary, not UTF-8, broken quotes, no such sheet, or two columns
        of one name; one line that names the file.
    """
    return joined(list(read_chunks(path, sheet=sheet)))


def read_chunks(path: str | Path, *, sheet: str | None = None) -> Iterator[RawTable]:
    """The same in parts, at least one, so that a file of any size fits in memory."""
    file = Path(path)
    with _naming(path):
        _refuse_no_file(file)
        for table in _tables(file, sheet):
            _refuse_twins(table.columns)
            yield table


def read_columns(path: str | Path, *, sheet: str | None = None) -> tuple[str, ...]:
    """The names of a file's columns; of a CSV file the rows are not read."""
    file = Path(path)
    with _naming(path):
        _refuse_no_file(file)
        if _is_sheet(file) or sheet is not None:
            columns = next(_tables(file, sheet)).columns
        else:
            columns = csv_columns(file)
        _refuse_twins(columns)
    return columns


@contextmanager
def _naming(path: str | Path) -> Iterator[None]:
    """Every problem names the file."""
    try:
        yield
    except InputError as error:
        raise InputError([f"{path}: {problem}" for problem in error.problems]) from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror or error})") from None


def rejects_columns(columns: tuple[str, ...]) -> tuple[int, ...]:
    """Positions of the two columns that mark a rejects file put right; empty in another file."""
    names = [name.casefold() for name in columns]
    if all(name in names for name in REJECT_COLUMNS):
        return tuple(names.index(name) for name in REJECT_COLUMNS)
    return ()


def _tables(file: Path, sheet: str | None) -> Iterator[RawTable]:
    if _is_sheet(file):
        return xlsx_tables(file, sheet)
    if sheet is not None:
        raise InputError(f"--sheet {sheet!r} is for XLSX files; leave it out for CSV")
    return csv_tables(file)


def _is_sheet(file: Path) -> bool:
    return file.suffix.lower() in SHEET_ENDINGS


def _refuse_no_file(file: Path) -> None:
    if file.is_dir():
        raise InputError("this is a folder; name a CSV or XLSX file in it")
    if not file.exists():
        raise InputError("there is no such file; check the name and the folder")
    if not file.is_file():
        raise InputError("this is not a file; name a CSV or XLSX file")


def _refuse_twins(columns: tuple[str, ...]) -> None:
    names = [name.casefold() for name in columns if name]
    twins = sorted({name for name in names if names.count(name) > 1})
    if twins:
        raise InputError(f"two columns have the name {', '.join(map(repr, twins))};"
                         " leave one out or rename it")
