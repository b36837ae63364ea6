"""A picture in a document: only what draws is let in, and it stands in every form but CSV."""

from __future__ import annotations

import io
import re
import struct
import zipfile
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from qc.desk.running import RunRequest, run_lengths
from reports.cells import REPLACED
from reports.csv import render_csv
from reports.document import Document, Picture
from reports.drawing import bare_drawing, drawing_size
from reports.html import OWN_FONT, POLICY, render_html
from reports.pdf import TALLEST, render_pdf
from reports.picture.capability.histogram import capability_sheet
from reports.picture.capability.placement import placement_sheet
from reports.picture.palette import BY_PAGE
from reports.picture.runlength.drawing import runlength_sheet
from reports.picture.sheet import WIDE, sheet_svg
from reports.writing import FORMS
from reports.xlsx import PICTURE_PIXELS, SHARPNESS, render_xlsx
from tests.reports.capability_made import DWELL, one, two
from tests.reports.charts_made import chart_svg, dwell, lifted
from tests.reports.made import HOSTILE, document
from tests.reports.pdf_read import Paper, dense

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="10" height="20">{}</svg>'
WORDS = "25 dwells of press P2, the last 9 higher; 2 are outside the limits."
SOURCE = "log.csv, 25 rows. ISO 7870-2:2013."


def _picture(svg: str | None = None, **changes: str) -> Picture:
    svg = svg or chart_svg(dwell(rise=1.5), carry_font=False)
    return Picture(**({"svg": svg, "heading": "Dwell of press P2", "words": WORDS,
                       "source": SOURCE} | changes))


def _with(*pictures: Picture) -> Document:
    made = document("J1-001")
    return replace(made, blocks=(*made.blocks, *pictures))


@pytest.mark.parametrize(
    ("inside", "message"),
    [
        ("<script>alert(1)</script>", "must not hold <script>"),
        ("<style>*{display:none}</style>", "must not hold <style>"),
        ("<foreignObject><p xmlns='http://www.w3.org/1999/xhtml'>x</p></foreignObject>",
         "must not hold <foreignObject>"),
        ("<image href='file:///etc/passwd'/>", "must not hold <image>"),
        ("<use href='#x'/>", "must not hold <use>"), ("<a href='x'/>", "must not hold <a>"),
        ("<animate/>", "must not hold <animate>"),
        ("<g xmlns='http://example.invalid/'/>", "must not hold <{http://example.invalid/}g>"),
        ("<rect onclick='alert(1)'/>", "must not have 'onclick'"),
        ("<rect style='fill:red'/>", "must not have 'style'"),
        ("<rect class='list'/>", "must not have 'class'"),
        ("<g xmlns:l='http://www.w3.org/1999/xlink' l:href='x'/>", "must not have '.*href'"),
        ("<rect fill='url(http://example.invalid/)'/>", "must be a value of its own"),
        ("<rect fill='var(--ink)'/>", "must be a value of its own"),
        ("<!-- words -->", "without declarations or comments"),
        ("<g>", "is one SVG element: mismatched tag"), ("&nbsp;", "undefined entity"),
        ("<text>\x07</text>", "not well-formed"), ("<text>\ud83e</text>", "is one SVG element"),
    ],
)
def test_more_than_a_drawing_is_refused(inside: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        _picture(SVG.format(inside))


@pytest.mark.parametrize(
    ("svg", "message"),
    [
        ("", "no element found"), ("plain words", "syntax error"),
        ("<p>x</p>", "is one SVG element, not <p>"),
        ('<svg width="10" height="20"/>', "is one SVG element, not <svg>"),
        ('<!DOCTYPE svg [<!ENTITY a "aaaa">]>' + SVG.format("&a;"), "without declarations"),
        ('<?xml version="1.0"?>' + SVG.format(""), "without declarations"),
        (SVG.format("").replace('width="10"', ""), "width and height as plain numbers"),
        (SVG.format("").replace("10", "10mm"), "width and height as plain numbers"),
        (SVG.format("").replace("10", "0"), "above 0"),
        (SVG.format("").replace("10", "nan"), "above 0"),
        (SVG.format("").replace("10", "inf"), "above 0"),
    ],
)
def test_what_is_no_drawing_is_refused(svg: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Picture(svg=svg, heading="H", words=WORDS)


def test_a_picture_says_what_it_shows_and_carries_its_own_colours() -> None:
    with pytest.raises(ValueError, match="'Dwell of press P2' needs words for those who"):
        _picture(words="  ")
    with pytest.raises(ValueError, match="must be a value of its own"):
        _picture(chart_svg(dwell(), carry_font=False, colours=BY_PAGE))
    with pytest.raises(ValueError, match="must not hold <style>"):
        _picture(chart_svg(dwell()))


def test_every_kind_of_picture_the_house_draws_can_stand_in_a_document(tmp_path: Path) -> None:
    sheets = [
        capability_sheet(one(tmp_path, DWELL, lower=14.5, upper=16.5)),
        placement_sheet(two(tmp_path, DWELL - 15, np.roll(DWELL, 3) - 15, lower=(-2, -2),
                            upper=(2, 2))),
        runlength_sheet(run_lengths(RunRequest(kind="ewma"))),
    ]
    drawings = [sheet_svg(sheet, carry_font=False) for sheet in sheets]
    drawings += [chart_svg(lifted([50] * 20, [2] * 19 + [20]), carry_font=False)]
    made = _with(*map(_picture, drawings))
    for form in FORMS.values():
        assert form(made)
    assert Paper(render_pdf(made)).n_tags("Figure") == 4


class _Page(HTMLParser):
    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)


def test_a_page_shows_it_inline_and_still_asks_for_nothing() -> None:
    page = render_html(_with(_picture(), _picture(heading="The same again"))).decode()
    tags = _Page(page).tags
    assert [tag for tag, _ in tags].count("svg") == 2
    assert {tag for tag, _ in tags} & {"img", "link", "script", "image", "title"} == {"title"}
    assert [tag for tag, _ in tags].count("title") == 1  # the page's own
    (policy,) = [given["content"] for _, given in tags if given.get("http-equiv")]
    assert policy == OWN_FONT and policy.startswith(POLICY) and "http" not in policy
    assert set(re.findall(r"url\((.{5})", page)) == {"data:"}
    assert not [given["id"] for _, given in tags if "id" in given]  # so none can stand twice
    shown = [given for _, given in tags if given.get("role") == "img"]
    assert [given["aria-label"] for given in shown] == [WORDS, WORDS]
    assert SOURCE in page and "<h2>The same again</h2>" in page


def test_a_page_without_pictures_is_as_it_was() -> None:
    page = render_html(document("x")).decode()
    assert "font-face" not in page and f'content="{POLICY}"' in page


def test_a_bare_drawing_draws_the_same() -> None:
    svg = chart_svg(dwell(rise=1.5), carry_font=False)
    before, after = ElementTree.fromstring(svg), ElementTree.fromstring(bare_drawing(svg))
    names = ("title", "desc")

    def drawn(root: ElementTree.Element) -> list[tuple[str, str | None]]:
        parts = [(part.tag.rpartition("}")[2], part) for part in root.iter()]
        return [(name, part.get("d") or part.text) for name, part in parts if name not in names]

    assert drawn(after)[1:] == drawn(before)[1:]
    assert "id=" not in bare_drawing(svg) and "aria" not in bare_drawing(svg)
    assert (after.get("width"), after.get("height")) == tuple(
        f"{side:g}" for side in drawing_size(svg))


def test_a_workbook_has_it_on_the_first_sheet_sharp_and_described() -> None:
    wide = _picture(chart_svg(dwell(), carry_font=False, width=WIDE), words="Second & last")
    book = zipfile.ZipFile(io.BytesIO(render_xlsx(_with(_picture(), wide))))
    images = sorted(name for name in book.namelist() if name.startswith("xl/media/"))
    assert images == ["xl/media/image1.png", "xl/media/image2.png"]
    sizes = [struct.unpack(">II", book.read(name)[16:24]) for name in images]
    assert [width for width, _ in sizes] == [SHARPNESS * 480, SHARPNESS * WIDE]
    assert "drawing" in book.read("xl/worksheets/sheet1.xml").decode()
    drawing = ElementTree.fromstring(book.read("xl/drawings/drawing1.xml"))
    said = [part.get("descr") for part in drawing.iter() if part.get("descr")]
    assert said == [WORDS, "Second & last"]
    # English Metric Units, 9525 to a pixel (ECMA-376, 20.1.2.1)
    across = [int(part.get("cx", "0")) / 9525 for part in drawing.iter()
              if part.tag.endswith("}ext") and part.get("cx")]
    assert across == pytest.approx([480, PICTURE_PIXELS], abs=1)
    rows = [int(part.text or 0) for part in drawing.iter() if part.tag.endswith("}row")]
    assert rows == sorted(rows) and len(rows) == 4  # the second begins below the first


def test_paper_has_it_as_lines_and_letters() -> None:
    paper = Paper(render_pdf(_with(_picture())))
    assert b"/Subtype/Image" not in paper.objects
    text = dense("\n".join(paper.texts))
    for words in ("Dwell of press P2", "2 of 25 points signal a change", "moving range", SOURCE):
        assert dense(words) in text
    assert f"/Alt({WORDS})".encode() in paper.objects
    names = set(re.findall(rb"/BaseFont/[A-Z]{6}\+([\w-]+)", paper.objects))
    assert names == {b"AtkinsonHyperlegibleNext-Regular", b"AtkinsonHyperlegibleNext-Bold"}


@pytest.mark.parametrize(("width", "height"), [(3_000, 100), (100, 3_000), (480, 700)])
def test_paper_fits_a_picture_of_any_shape_between_the_margins(width: int, height: int) -> None:
    svg = (f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}">'
           f'<rect width="{width}" height="{height}" fill="#18282e"/></svg>')
    paper = Paper(render_pdf(replace(document("x"), blocks=(_picture(svg),))))
    page = next(at for at, text in enumerate(paper.texts) if "Dwell of press P2" in text)
    left, bottom, right, top = max(paper.shapes(page), key=lambda box: box[3] - box[1])
    assert left > 50 and right < 596 - 50 and top - bottom < TALLEST + 1
    assert (right - left) / (top - bottom) == pytest.approx(width / height, rel=0.02)
    assert paper.word(page, "Dwell of press P2")[1] > top > bottom > paper.word(page, SOURCE)[3]


def test_the_words_of_a_picture_may_be_any() -> None:
    for text in HOSTILE:
        made = _with(_picture(heading=text, words=text, source=text))
        assert [form(made) for form in FORMS.values()]
    lost = _picture(SVG.format('<text y="9">漢字</text>'), heading="H")
    assert REPLACED * 2 in "".join(Paper(render_pdf(_with(lost))).texts)


def test_files_for_programs_leave_it_out() -> None:
    assert render_csv(_with(_picture())) == render_csv(document("J1-001"))
