"""A document as PDF, for paper and for keeping: the same bytes, the same looks, on every machine.

The pages are set by typst from one fixed program, `paper.typ`. Everything a document says goes in
as data; no text of it is ever read as a part of that program.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from qc.errors import InputError
from reports.cells import REPLACED
from reports.columns import GAP, PORTRAIT, SLACK, Fitted, fit
from reports.document import Block, Caution, Document, Facts, Paragraph, Picture, Table, Title
from reports.drawing import drawing_size
from reports.letters import broken, drawable, one_line, wide
from reports.picture.type import FAMILY

if TYPE_CHECKING:
    import typst

HERE = Path(__file__).parent
FONTS = (FAMILY, "DejaVu Sans Mono")
MARGIN = 51.0
"""Points: 18 mm, so that an A4 page also comes whole out of a printer with US Letter."""
BODY, HEADING, TITLE, FOOT = 10.0, 12.0, 20.0, 8.0
FOOT_ROOM = 430.0
TOGETHER = 8
"""Rows up to which a table is never divided between pages."""
SHORT_ROWS = 12
"""Rows up to which a table of counts may stand beside the next."""
GUTTER = 22.0
SHORT_LINES = 25
"""Lines up to which a caution stays on one page."""
TALLEST = 620.0
"""Points a picture may be high, with its heading on the same page."""
POINTS = 0.75
"""Points of one unit of a drawing."""
MOST_ROWS = 12_000
"""Typesetting takes about 0.15 MB of memory a row, and nobody walks the shelves with 400 pages."""
MOST_TAGGED = 60_000
"""Cells up to which the file says what each is: 0.2 kB a cell, most of the file."""
NAMELESS = "Document"
LOST = f"{REPLACED} stands for a letter this file cannot print; the HTML and XLSX forms have it."
_ONE_AT_A_TIME = Lock()
"""For the memory, and since what is left of a document is let go of after it."""
_SIDES = {"count": "right", "number": "right", "figure": "right", "tick": "middle"}


def render_pdf(document: Document) -> bytes:
    """The pages, A4, tagged for screen readers (PDF/UA-1) unless the tables are very long.

    Raises
    ------
    InputError
        More rows than can be typeset.
    """
    tables = (document.main, *(block for block in document.blocks if isinstance(block, Table)))
    n_rows = sum(len(table.rows) for table in tables)
    if n_rows > MOST_ROWS:
        raise InputError(f"{n_rows:,} rows are more than a PDF takes ({MOST_ROWS:,}); write an "
                         ".xlsx or a .csv instead")
    tagged = sum(len(table.rows) * len(table.columns) for table in tables) <= MOST_TAGGED
    return _typeset(_given(document), int(document.as_of.timestamp()), tagged=tagged)


def _typeset(given: dict[str, Any], moment_s: int, *, tagged: bool) -> bytes:
    """The pages; where a mark on a letter cannot be drawn, they do not claim to be PDF/UA."""
    from typst import TypstError

    with _ONE_AT_A_TIME:
        try:
            return _compiled(given, moment_s, tagged=tagged, standards=["ua-1"] if tagged else [])
        except TypstError:
            return _compiled(given, moment_s, tagged=tagged, standards=[])
        finally:
            _forget()


def _compiled(
    given: dict[str, Any], moment_s: int, *, tagged: bool, standards: list[typst.PDFStandard]
) -> bytes:
    import typst

    return typst.compile(
        HERE / "paper.typ", root=HERE, format="pdf", font_paths=_fonts(), ignore_system_fonts=True,
        sys_inputs={"document": json.dumps(given, ensure_ascii=False)}, timestamp=moment_s,
        pdf_standards=standards, pdf_tags=tagged,
    )


@cache
def _fonts() -> typst.Fonts:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=True,
                       font_paths=[HERE / "fonts"])


@cache
def _blank() -> typst.Compiler:
    import typst

    return typst.Compiler(b"", root=HERE, font_paths=_fonts(), ignore_system_fonts=True)


def _forget() -> None:
    """Have the typesetter let go of the pages, which it keeps until ten more have been set."""
    for _ in range(11):
        _blank().compile(input=b"", format="svg")


def _given(document: Document) -> dict[str, Any]:
    """All the program of the pages is told."""
    title = document.title
    sheets = list(_sheets([_title(title), *_forms((*document.blocks, document.main))]))
    if REPLACED in json.dumps(sheets, ensure_ascii=False):
        sheets[0]["blocks"][0]["lost"] = LOST
    foot = " · ".join(drawable(part) for part in (title.over, title.text) if part)
    return {
        "name": drawable(_name(title)), "author": drawable(title.over), "fonts": FONTS,
        "margin": MARGIN, "gap": GAP - 2 * SLACK, "gutter": GUTTER,
        "foot": one_line(foot, FOOT_ROOM / FOOT), "sheets": sheets,
    }


def _sheets(forms: list[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Runs of blocks on pages that lie the same way."""
    blocks: list[dict[str, Any]] = []
    for form in forms:
        if form.pop("landscape", False):
            if blocks:
                yield {"flipped": False, "blocks": blocks}
            yield {"flipped": True, "blocks": [form]}
            blocks = []
        else:
            blocks.append(form)
    if blocks:
        yield {"flipped": False, "blocks": blocks}


def _forms(blocks: tuple[Block, ...]) -> Iterator[dict[str, Any]]:
    """Blocks as the program takes them; short tables that follow each other stand side by side."""
    row: list[dict[str, Any]] = []
    for block in blocks:
        form = _form(block)
        if isinstance(block, Table) and block is not blocks[-1] and _is_small(form):
            if sum(one["width"] + GUTTER for one in (*row, form)) > PORTRAIT + GUTTER:
                yield _beside(row)
                row = []
            row.append(form)
            continue
        if row:
            yield _beside(row)
            row = []
        yield form


def _is_small(form: dict[str, Any]) -> bool:
    return len(form["rows"]) <= SHORT_ROWS and form["whole"] and not form["landscape"]


def _beside(row: list[dict[str, Any]]) -> dict[str, Any]:
    return row[0] if len(row) == 1 else {"form": "beside", "tables": row}


def _form(block: Block) -> dict[str, Any]:
    match block:
        case Paragraph():
            return {"form": "paragraph"} | _words(block.heading, block.text, 460)
        case Caution():
            words = _words(block.heading, block.text, PORTRAIT - 24)
            return {"form": "caution", "whole": _n_lines(words["lines"]) <= SHORT_LINES} | words
        case Facts():
            return {"form": "facts", "pairs": [
                [_fitted(name, 96), _fitted(value, PORTRAIT - 106)] for name, value in block.pairs]}
        case Picture():
            return _picture(block)
        case Table():
            return _table(block, fit(block))


def _title(title: Title) -> dict[str, Any]:
    return {"form": "title", "over": _fitted(title.over, PORTRAIT),
            "text": broken(drawable(_name(title)), PORTRAIT / TITLE, bold=True),
            "under": _fitted(title.under, PORTRAIT), "lost": ""}


def _name(title: Title) -> str:
    return title.text if title.text.strip() else NAMELESS


def _words(heading: str, text: str, room: float) -> dict[str, Any]:
    return {"heading": _heading(heading, room),
            "lines": _fitted(text, room).split("\n")}


def _heading(text: str, room: float) -> str:
    return broken(drawable(text), room / HEADING, bold=True)


def _n_lines(lines: list[str]) -> int:
    return sum(len(line) // 90 + 1 for line in lines)


def _fitted(text: str, room: float) -> str:
    return broken(drawable(text), room / BODY)


def _picture(picture: Picture) -> dict[str, Any]:
    width, height = (POINTS * side for side in drawing_size(picture.svg))
    return {
        "form": "picture", "heading": _heading(picture.heading, PORTRAIT),
        "svg": drawable(picture.svg), "words": drawable(picture.words),
        "source": _fitted(picture.source, PORTRAIT),
        "width": width * min(1, PORTRAIT / width, TALLEST / height),
    }


def _table(table: Table, fitted: Fitted) -> dict[str, Any]:
    title = _heading(table.title, PORTRAIT)
    return {
        "form": "table", "title": title,
        "note": _fitted(table.note, PORTRAIT), "heads": fitted.heads, "rows": fitted.rows,
        "widths": fitted.widths, "size": fitted.size,
        "aligned": [_SIDES.get(column.kind, "left") for column in table.columns],
        "written": [column.kind == "write" for column in table.columns],
        "together": fitted.whole and len(table.rows) <= TOGETHER,
        "landscape": fitted.landscape, "whole": fitted.whole,
        "width": max(sum(fitted.widths), *(HEADING * wide(line, bold=True)
                                           for line in title.split("\n"))),
    }
