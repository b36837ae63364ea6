from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest
import xlsxwriter
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.errors import InputError
from qc.intake import cell_errors, column_numbers, csv_files, read_chunks, read_columns, read_table
from tests.qc.intake.files import write


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_separators_byte_order_mark_and_line_ends(
    tmp_path: Path, separator: str, mark: bytes, line_end: str
) -> None:
    rows = [("press", "name"), ("P1", "ä"), ("P2", "")]
    text = line_end.join(separator.join(row) for row in rows)
    table = read_table(write(tmp_path, mark + text.encode()))
    assert table.columns == ("press", "name")
    assert [table.row(0), table.row(1)] == [("P1", "ä"), ("P2", "")]
    assert table.separator == separator
    assert table.lines.tolist() == [2, 3]


def test_a_cell_over_several_lines_does_not_shift_the_lines_behind_it(tmp_path: Path) -> None:
    text = 'press,name\nP1,"one\ntwo ""quoted"", three"\n\n,\nP2,x\n"P3","a\r\nb"\nP4,y\n'
    table = read_table(write(tmp_path, text))
    assert table.column("press").tolist() == ["P1", "P2", "P3", "P4"]
    assert table.column("name").tolist()[0] == 'one\ntwo "quoted", three'
    assert table.lines.tolist() == [2, 6, 7, 9]


def test_a_quote_inside_a_cell_is_a_letter(tmp_path: Path) -> None:
    table = read_table(write(tmp_path, 'press,name\nP1,5" wide\n\nP2,"a\nb"\nP3,c\n'))
    assert table.column("name").tolist() == ['5" wide', "a\nb", "c"]
    assert table.lines.tolist() == [2, 4, 6]


def test_rows_of_the_wrong_length_are_marked_not_shifted(tmp_path: Path) -> None:
    table = read_table(write(tmp_path, "press,name,kind\nP1,a\nP2,b,c\nP3,b,c,d\nP4,b,c,,\nP5"))
    assert table.ragged == {0: ("P1", "a"), 2: ("P3", "b", "c", "d"), 4: ("P5",)}
    assert table.column("press").tolist() == ["P1", "P2", "P3", "P4", "P5"]


@pytest.mark.parametrize("content, words", [
    (b"", "empty"), (b"\n \n", "empty"), (b"\xef\xbb\xbf", "empty"),
    (b"\x89PNG\x00\x01", "binary"), (b"PK\x03\x04zip", "XLSX"), (b"%PDF-1.7", "PDF"),
    ("press,name\n".encode("utf-16"), "UTF-16"),
    (b"press,name\nP1,a\nP2,caf\xe9\n", "byte 0xe9 at byte 23, line 3"),
    (b"pr\xe9ss,name\nP1,a\n", "line 1"),
    (b"press,name\nP1,\"never closed\nP2,x\n", "line 2.*never closed"),
    (b'press,name\nP1,"a"b\n', "line 2"),
    (b"press,name,press\nP1,a,P2\n", "two columns.*'press'"),
    (b"press,name\nP1,a\x00\n", "binary"),
])
def test_files_that_cannot_be_read_say_so_in_one_line(
    tmp_path: Path, content: bytes, words: str
) -> None:
    with pytest.raises(InputError, match=words) as refused:
        read_table(write(tmp_path, content))
    assert str(refused.value).startswith(str(tmp_path / "file.csv"))
    assert "\n" not in str(refused.value)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"nothing\.csv: there is no such file"):
        read_table(tmp_path / "nothing.csv")
    with pytest.raises(InputError, match="is a folder"):
        read_table(tmp_path)


def test_a_file_in_many_blocks_is_the_same_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [(f"P{n}", f'line\n"{n}"' if n % 3 else f"é{n}") for n in range(200)]
    text = io.StringIO()
    csv.writer(text).writerows([("press", "name"), *rows])
    path = write(tmp_path, text.getvalue())
    whole = read_table(path)
    monkeypatch.setattr(csv_files, "BLOCK_BYTES", 500)
    parts = list(read_chunks(path))
    assert len(parts) > 5
    assert [part.row(at) for part in parts for at in range(len(part))] == rows
    assert np.concatenate([part.lines for part in parts]).tolist() == whole.lines.tolist()
    assert [part.first_row for part in parts][1] == len(parts[0])


def test_irregular_quotes_far_into_a_file_lose_no_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [f"P{n},{'5' + chr(34) + ' wide' if n == 90 else n}" for n in range(100)]
    path = write(tmp_path, "\n".join(["press,name", *rows]))
    monkeypatch.setattr(csv_files, "BLOCK_BYTES", 200)
    table = read_table(path)
    assert table.column("press").tolist() == [f"P{n}" for n in range(100)]
    assert table.lines.tolist() == list(range(2, 102))


def test_wrong_bytes_far_into_a_file_are_found_where_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    content = b"press,name\n" + b"P1,aaaa\n" * 100 + b"P2,\xff\n"
    monkeypatch.setattr(csv_files, "BLOCK_BYTES", 100)
    with pytest.raises(InputError, match=f"byte {content.index(0xff) + 1}, line 102"):
        read_table(write(tmp_path, content))


def _workbook(path: Path) -> Path:
    book = xlsxwriter.Workbook(str(path))
    day = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    only_day = book.add_format({"num_format": "yyyy-mm-dd"})
    first = book.add_worksheet("pieces")
    first.write_row(0, 0, ["piece_id", "inspected_at", "day", "pieces", "dx_mm", "note", "flag"])
    first.write_string(2, 0, "007")
    first.write_datetime(2, 1, datetime(2026, 3, 1, 14, 29, 59), day)
    first.write_datetime(2, 2, date(2026, 3, 1), only_day)
    first.write_number(2, 3, 3.0)
    first.write_number(2, 4, -0.1)
    first.write_string(2, 5, "=cmd|' /C calc'!A0")
    first.write_boolean(2, 6, True)
    other = book.add_worksheet("other")
    other.write_row(0, 0, ["press"])
    other.write_row(1, 0, ["P1"])
    book.close()
    return path


def test_xlsx_values_become_the_text_a_csv_would_have(tmp_path: Path) -> None:
    table = read_table(_workbook(tmp_path / "book.xlsx"))
    assert table.row(0) == ("007", "2026-03-01T14:29:59", "2026-03-01", "3", "-0.1",
                            "=cmd|' /C calc'!A0", "yes")
    assert table.lines.tolist() == [3]
    assert not table.decimal_comma


def test_another_sheet_and_a_sheet_that_is_not_there(tmp_path: Path) -> None:
    path = _workbook(tmp_path / "book.xlsx")
    assert read_table(path, sheet="other").column("press").tolist() == ["P1"]
    assert read_columns(path, sheet="other") == ("press",)
    with pytest.raises(InputError, match="no sheet 'none'; the workbook has: pieces, other"):
        read_table(path, sheet="none")
    with pytest.raises(InputError, match="--sheet"):
        read_table(write(tmp_path, "press\nP1\n"), sheet="other")


@pytest.mark.parametrize("block", [64, 1 << 20])
def test_a_cell_that_a_spreadsheet_could_not_work_out_is_no_blank(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, block: int
) -> None:
    """ECMA-376 Part 1, 18.17.3: the words a cell holds where its formula has no value."""
    monkeypatch.setattr(cell_errors, "_BLOCK", block)
    path = tmp_path / "book.xlsx"
    book = xlsxwriter.Workbook(str(path))
    book.add_worksheet("first")
    sheet = book.add_worksheet("a & b")
    sheet.write_row(0, 0, ["piece_id", "defects", *(f"c{n}" for n in range(26)), "note"])
    errors = sorted(cell_errors.ERRORS - {"#GETTING_DATA"})
    for row, error in enumerate(errors, start=1):
        sheet.write_string(row, 0, f't="e" {row}')
        sheet.write_formula(row, 1, "=1/0", None, error)
    sheet.write_formula(len(errors), 28, "=NA()", None, "#N/A")
    book.close()
    table = read_table(path, sheet="a & b")
    assert table.column("defects").tolist() == errors
    assert table.column("piece_id").tolist()[0] == 't="e" 1'
    assert table.column("note").tolist() == [""] * (len(errors) - 1) + ["#N/A"]


def test_an_error_that_does_not_say_where_it_stands_refuses_the_file(tmp_path: Path) -> None:
    path = tmp_path / "book.xlsx"
    with zipfile.ZipFile(_workbook(tmp_path / "whole.xlsx")) as whole, \
            zipfile.ZipFile(path, "w") as made:
        for part in whole.namelist():
            content = whole.read(part)
            if part.endswith("sheet1.xml"):
                content = re.sub(rb'<c r="A3".*?</c>', b'<c t="e"/>', content)
            made.writestr(part, content)
    with pytest.raises(InputError, match="does not say which cell"):
        read_table(path)


@pytest.mark.parametrize("content", [b"", b"press,name\nP1,x\n", b"PK\x03\x04broken"])
def test_what_only_calls_itself_xlsx(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(InputError, match="empty|not an XLSX"):
        read_table(write(tmp_path, content, "book.xlsx"))


def test_a_workbook_cut_short(tmp_path: Path) -> None:
    whole = _workbook(tmp_path / "book.xlsx").read_bytes()
    for size in (30, len(whole) // 2, len(whole) - 10):
        with pytest.raises(InputError):
            read_table(write(tmp_path, whole[:size], "short.xlsx"))


def test_columns_as_numbers(tmp_path: Path) -> None:
    table = read_table(write(tmp_path, "a;b\n1,5;x\n-2;\n"))
    assert column_numbers(table, "a").tolist() == [1.5, -2.0]
    with pytest.raises(InputError, match=r"line 2 .*'x', not a number"):
        column_numbers(table, "b")
    with pytest.raises(InputError, match="the file has: a, b"):
        column_numbers(table, "c")
    for text in ("inf", "nan", "1e999", "0x10", "1_000", "１"):
        with pytest.raises(InputError, match="not a number"):
            column_numbers(read_table(write(tmp_path, f"a\n{text}\n")), "a")


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=8)


@given(rows=st.lists(st.lists(CELLS, min_size=3, max_size=3), max_size=8),
       separator=st.sampled_from([",", ";", "\t"]), line_end=st.sampled_from(["\n", "\r\n"]))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_what_the_csv_module_writes_is_read_back(
    tmp_path_factory: pytest.TempPathFactory, rows: list[list[str]], separator: str, line_end: str
) -> None:
    text = io.StringIO(newline="")
    quoting = csv.QUOTE_ALL if line_end == "\n" else csv.QUOTE_MINIMAL
    writer = csv.writer(text, delimiter=separator, lineterminator=line_end, quoting=quoting)
    writer.writerows([["piece_id", "press", "defects"], *rows])
    path = write(tmp_path_factory.mktemp("csv"), text.getvalue())
    table = read_table(path)
    wanted = [tuple(row) for row in rows if any(cell.strip() for cell in row)]
    assert [table.row(at) for at in range(len(table))] == wanted
