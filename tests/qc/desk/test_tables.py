from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
import xlsxwriter

from qc.desk.tables import read_text_table
from qc.errors import InputError


def _file(folder: Path, content: str | bytes, name: str = "table.csv") -> str:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return str(path)


@pytest.mark.parametrize("content", [
    "a,b\n1.5,x\n2,y\n", "\ufeffa,b\r\n1.5,x\r\n2,y", "a;b\n1,5;x\n2;y\n", "a\tb\n1,5\tx\n2\ty\n",
    "a,b,\n1.5,x,\n\n2,y,\n", '"a","b"\n"1.5","x"\n"2","y"\n', " a , b\n 1.5 , x\n2,y\n",
])
def test_one_table_in_many_hands(tmp_path: Path, content: str) -> None:
    table = read_text_table(_file(tmp_path, content))
    assert list(table.columns) == ["a", "b"]
    assert table.numbers("a").tolist() == [1.5, 2]
    assert table.texts("b") == ["x", "y"]


def test_lines_are_those_of_the_file(tmp_path: Path) -> None:
    table = read_text_table(_file(tmp_path, 'a,b\n1,"two\nlines"\n\n2,y\nx,z\n'))
    with pytest.raises(InputError, match="line 6: a is 'x', not a number"):
        table.numbers("a")


@pytest.mark.parametrize("cell", ["1,234.5", "nan", "inf", "0x10", "1_000", "12 C", "1e999", "--1"])
def test_what_looks_like_a_number_is_not_guessed_at(tmp_path: Path, cell: str) -> None:
    table = read_text_table(_file(tmp_path, f'a,b\n1,1\n"{cell}",1\n'))
    with pytest.raises(InputError, match="line 3: a is .*, not a number"):
        table.numbers("a")


def _book(folder: Path) -> str:
    path = folder / "book.xlsx"
    book = xlsxwriter.Workbook(path)
    first, second = book.add_worksheet("one"), book.add_worksheet("two")
    day = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    first.write_row(0, 0, ["when", "n", "x", "text"])
    first.write_datetime(1, 0, datetime(2026, 3, 1, 6, 30), day)
    first.write_row(1, 1, [12, 0.1, "P4"])
    second.write_row(0, 0, ["z"])
    second.write_row(1, 0, [7])
    book.close()
    return str(path)


def test_a_workbook_as_text(tmp_path: Path) -> None:
    table = read_text_table(_book(tmp_path))
    assert table.columns == {"when": ["2026-03-01T06:30:00"], "n": ["12"], "x": ["0.1"],
                             "text": ["P4"]}
    assert read_text_table(_book(tmp_path), sheet="two").columns == {"z": ["7"]}
    with pytest.raises(InputError, match="no sheet 'three'; it has: one, two"):
        read_text_table(_book(tmp_path), sheet="three")


@pytest.mark.parametrize(("content", "message"), [
    ("", "is empty; it needs a line of column names"),
    (" \n\n", "is empty; it needs a line of column names"),
    ("a,b\n", "has no rows below its column names"),
    ("a,b,a\n1,2,3\n", "has the column 'a' twice"),
    ("a,b\n1,2\n1,2,3\n", "line 3 of .* has 3 cells, the line of column names 2"),
    (b"a,b\n1,2\n\xe9,3\n", "is not UTF-8 text at line 3"),
    (b"a\x00b\x01\n", "is not a table; give a CSV or XLSX"),
    (b"PK\x03\x04 no workbook at all", "is damaged or no XLSX file"),
    ("a,b\n1,\"" + "x" * 200_000, "line 2 of .* is no row of a table"),
])
def test_what_is_no_table_is_said(tmp_path: Path, content: str | bytes, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_text_table(_file(tmp_path, content))


def test_what_cannot_be_read_is_said(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(InputError, match="cannot read"):
            read_text_table(str(path))


def test_columns_must_be_there_and_filled(tmp_path: Path) -> None:
    table = read_text_table(_file(tmp_path, "a,b\n1,\n"))
    with pytest.raises(InputError, match="the file has no column 'c'; it has: a, b"):
        table.texts("c")
    with pytest.raises(InputError, match="line 2: b is empty; every row needs a value"):
        table.numbers("b")
