"""All forms: the same bytes again, hostile text harmless, everything reads back."""

from __future__ import annotations

import csv
import io
import time
import zipfile
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser

import pytest
from python_calamine import CalamineWorkbook

from qc.errors import InputError
from reports import xlsx
from reports.csv import FORMULA_STARTS, render_csv
from reports.document import Document
from reports.html import render_html
from reports.writing import FORMS
from reports.xlsx import MOST_CHARACTERS, cut, render_xlsx, sheet_name
from tests.reports.made import AS_OF, HOSTILE, UNFIT, document


class Page(HTMLParser):
    """What a browser would make of a page: its tags, and the text of the main table's rows."""

    def __init__(self, document: Document) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.rows: list[list[str]] = []
        self._in_cell = False
        self.feed(render_html(document).decode("utf-8"))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
            self._in_cell = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self._in_cell = False

    def handle_data(self, data: str) -> None:
        if self._in_cell:
            self.rows[-1][-1] += data


def _sheets(content: bytes) -> dict[str, list[list[object]]]:
    book = CalamineWorkbook.from_filelike(io.BytesIO(content))
    return {name: book.get_sheet_by_name(name).to_python() for name in book.sheet_names}


@pytest.mark.parametrize("ending", FORMS)
def test_same_input_same_bytes(ending: str) -> None:
    first = FORMS[ending](document(*HOSTILE))
    time.sleep(2.1)  # a clock in a zip entry ticks every 2 s
    assert FORMS[ending](document(*HOSTILE)) == first
    assert FORMS[ending](document(*HOSTILE[1:])) != first


def test_the_workbook_is_dated_by_its_document() -> None:
    core = zipfile.ZipFile(io.BytesIO(render_xlsx(document("x")))).read("docProps/core.xml")
    assert b"2026-11-20T20:00:00Z" in core


def test_a_page_holds_hostile_text_as_text() -> None:
    page = Page(document(*HOSTILE, UNFIT))
    tags = {tag for tag, _ in page.tags}
    assert not tags & {"script", "img", "link", "a", "iframe", "object", "form", "base"}
    assert not any(name.startswith("on") or name in ("src", "href")
                   for _, attributes in page.tags for name in attributes)
    assert [row[0] for row in page.rows[-len(HOSTILE) - 1:-1]] == list(HOSTILE)
    assert page.rows[-1][0].count("\ufffd") == 4


def test_a_page_is_closed_against_requests() -> None:
    page = Page(document("x"))
    (policy,) = [a["content"] for _, a in page.tags if a.get("http-equiv")]
    assert policy is not None and policy.startswith("default-src 'none'")
    style = render_html(document("x")).decode().partition("<style>")[2].partition("</style>")[0]
    assert "url(" not in style and "@import" not in style and "@media print" in style


def test_a_page_says_what_each_table_and_column_is() -> None:
    page = Page(document("x", "y"))
    assert [tag for tag, _ in page.tags].count("caption") == 2
    assert page.rows[-3] == ["Piece", "Pieces", "Pressed at (Europe/Lisbon)", "What became of it",
                             "Found"]
    assert page.rows[-1] == ["y", "1\u202f234", "2026-11-20 20:00", "PASS", ""]


def test_a_workbook_holds_hostile_text_as_text() -> None:
    content = render_xlsx(document(*HOSTILE))
    rows = _sheets(content)["Pieces to hold"]
    assert [row[0] for row in rows[1:]] == list(HOSTILE)
    parts = zipfile.ZipFile(io.BytesIO(content))
    sheets = [parts.read(name) for name in parts.namelist() if "worksheets/" in name]
    assert len(sheets) == 2
    assert not any(b"<f>" in sheet or b"<hyperlink" in sheet for sheet in sheets)


def test_a_workbook_reads_back_by_type() -> None:
    rows = _sheets(render_xlsx(document("J1-001")))["Pieces to hold"]
    assert rows[0] == ["Piece", "Pieces", "Pressed at (Europe/Lisbon)", "What became of it",
                       "Found"]
    assert rows[1] == ["J1-001", 1234.0, datetime(2026, 11, 20, 20, 0), "PASS", ""]


def test_a_workbook_shows_the_time_on_the_wall() -> None:
    summer = datetime(2026, 7, 1, 6, 5, tzinfo=AS_OF.tzinfo)
    rows = _sheets(render_xlsx(document("x", as_of=summer)))["Pieces to hold"]
    assert rows[1][2] == datetime(2026, 7, 1, 6, 5)


def test_the_first_sheet_says_all_the_words() -> None:
    said = {cell for row in _sheets(render_xlsx(document("J1-001")))["Summary"] for cell in row}
    assert {"Lantern Yard Prints", "Hold list: J1-001", "As known", "What is off",
            "Do this first", "Before anyone touches a press", "Platens burn.", "By piece"} <= said


def test_a_cell_too_long_for_a_sheet_shows_that_it_is_cut() -> None:
    assert cut("x" * MOST_CHARACTERS) == "x" * MOST_CHARACTERS
    assert cut("x" * (MOST_CHARACTERS + 1)) == "x" * (MOST_CHARACTERS - 1) + "…"
    wide = cut("🧵" * MOST_CHARACTERS)
    assert len(wide.encode("utf-16-le")) <= 2 * MOST_CHARACTERS and set(wide) == {"🧵", "…"}
    rows = _sheets(render_xlsx(document("x" * 40_000)))["Pieces to hold"]
    assert rows[1][0] == "x" * (MOST_CHARACTERS - 1) + "…"


@pytest.mark.parametrize(
    ("title", "name"),
    [("Pieces to hold", "Pieces to hold"), ("a/b\\c[d]:e*f?", "a b c d e f"), ("'x'", "x"),
     ("", "List"), ("summary", "List"), ("History", "List"), ("t" * 40, "t" * 31)],
)
def test_sheet_names_are_allowed_ones(title: str, name: str) -> None:
    assert sheet_name(title) == name


def test_more_rows_than_a_sheet_holds_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(xlsx, "MOST_ROWS", 2)
    render_xlsx(document("a", "b"))
    with pytest.raises(InputError, match=r"3 rows are more than an XLSX sheet holds \(2\)"):
        render_xlsx(document("a", "b", "c"))


def test_csv_holds_the_table_alone_and_no_formula() -> None:
    content = render_csv(document(*HOSTILE))
    rows = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    for text, row in zip(HOSTILE, rows, strict=True):
        assert row["piece_id"] == (f"'{text}" if text.startswith(FORMULA_STARTS) else text)
    assert list(rows[0]) == ["piece_id", "n", "pressed_at", "disposition", "found"]
    assert (rows[0]["n"], rows[0]["disposition"], rows[0]["found"]) == ("1234", "pass", "")
    assert datetime.fromisoformat(rows[0]["pressed_at"]) == AS_OF


def test_an_hour_that_exists_twice_keeps_its_offset_in_csv() -> None:
    once = datetime(2026, 10, 25, 0, 30, tzinfo=UTC).astimezone(AS_OF.tzinfo)
    again = (once.astimezone(UTC) + timedelta(hours=1)).astimezone(AS_OF.tzinfo)
    said = [render_csv(document("x", as_of=at)).decode() for at in (once, again)]
    assert "2026-10-25T01:30:00+01:00" in said[0] and "2026-10-25T01:30:00+00:00" in said[1]


@pytest.mark.parametrize("ending", FORMS)
def test_no_rows_make_a_file_all_the_same(ending: str) -> None:
    assert FORMS[ending](document())
