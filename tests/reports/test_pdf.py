"""The PDF: read back by another program, page by page."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from qc.errors import InputError
from reports import pdf
from reports.cells import REPLACED
from reports.document import Caution, Column, Document, Paragraph, Table, Title
from reports.letters import drawable
from reports.pdf import LOST, MARGIN, render_pdf
from tests.reports.made import HOSTILE, UNFIT, document
from tests.reports.pdf_read import Paper, dense

ROOT = Path(__file__).parents[2]
A4 = (595.28, 841.89)
"""ISO 216, in points."""
LETTER = (612.0, 792.0)
"""US Letter, 8.5 x 11 in (ASME Y14.1), in points."""
CODE = (
    "#panic(1)", "$x^2$", "*bold*", "_soft_", "`raw`", "<label>", "@ref", "[content]", "] }", "\\",
    "// gone", "/* gone */", "#include \"/etc/passwd\"", "#image(\"x.png\")", "= Heading", "- item",
    "https://example.invalid", "~", "--", "'quoted' \"twice\"", "#{1 + 1}", "#sys.inputs",
)
"""What would do something in a typst program."""
HELD = r"""
import re
from reports.pdf import render_pdf
from tests.reports.made import document

def held():
    return int(re.search(r"VmRSS:\s+(\d+)", open("/proc/self/status").read())[1])

made = [document(*[f"{k}-{at}" for at in range(300)]) for k in range(11)]
first = [render_pdf(one) and held() for one in made[:3]]
rest = [render_pdf(one) and held() for one in made[3:]]
print(max(rest) - max(first))
"""
"""A program that makes one list after another: kB held more after all than after the first."""


def _numbered(n: int, **column: object) -> Table:
    return Table(title="Pieces", rows=tuple((f"J7-{at:05d}", None) for at in range(n)), columns=(
        Column(key="piece_id", name="Piece"), Column(key="found", name="Found", kind="tick")))


def _of(table: Table, **changes: object) -> Document:
    return replace(document("x"), **{"main": table, "blocks": ()} | changes)  # type: ignore[arg-type]


def test_it_says_what_it_is_whose_and_when() -> None:
    paper = Paper(render_pdf(document("J1-001")))
    about = paper.pages.get_metadata_dict()
    assert (about["Title"], about["Author"]) == ("Hold list: J1-001", "Lantern Yard Prints")
    assert about["CreationDate"] == about["ModDate"] == "D:20261120200000Z"
    assert b"/Lang(en)" in paper.objects
    assert b"/MarkInfo<</Marked true" in paper.objects.replace(b" ", b"").replace(
        b"Markedtrue", b"Marked true")
    assert b"<pdfuaid:part>1<" in paper.content  # ISO 14289-1
    assert [paper.n_tags(name) for name in ("H1", "H2", "Table", "TR", "TH", "TD")] == [
        1, 4, 2, 4, 10, 10]


def test_it_says_all_the_words() -> None:
    (text,) = Paper(render_pdf(document("J1-001"))).texts
    for words in ("Lantern Yard Prints", "Hold list: J1-001", "As known", "What is off",
                  "Do this first", "Before anyone touches a press", "Platens burn.", "By piece",
                  "Pieces to hold", "a note", "PASS", "2026-11-20 20:00"):
        assert dense(words) in dense(text), words
    assert text.count("1\xa0234") + text.count("1 234") == 2
    assert "Lantern Yard Prints · Hold list: J1-001 1 / 1" in " ".join(text.split())


def test_same_bytes_in_another_place_and_time(tmp_path: Path) -> None:
    code = ("import hashlib; from reports.pdf import render_pdf; from tests.reports.made import *; "
            "print(hashlib.sha256(render_pdf(document(*HOSTILE))).hexdigest())")
    there = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, check=True, capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "TZ": "Pacific/Auckland", "LC_ALL": "C",
             "HOME": str(tmp_path), "PYTHONHASHSEED": "7"})
    here = render_pdf(document(*HOSTILE))
    assert there.stdout.strip() == hashlib.sha256(here).hexdigest()
    with ThreadPoolExecutor(2) as two:
        assert set(two.map(render_pdf, [document(*HOSTILE)] * 2)) == {here}


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read off Linux")
def test_a_program_that_stays_open_does_not_keep_the_pages() -> None:
    """Kept, eight lists of 300 rows would be about 200 MB."""
    done = subprocess.run([sys.executable, "-c", HELD], cwd=ROOT, check=True, capture_output=True,
                          text=True, env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert int(done.stdout) < 80_000  # kB


def test_hostile_text_stands_there_as_text() -> None:
    texts = (*HOSTILE, *CODE, UNFIT)
    made = document(*texts)
    made = replace(made, title=Title(text=CODE[0], over=CODE[3], under=CODE[-2]), blocks=(
        *made.blocks, *(Caution(heading=text, text=text) for text in texts),
        *(Paragraph(heading=text, text=text) for text in texts)))
    paper = Paper(render_pdf(made))
    # a page that goes on has its foot and the next page's heads in between
    foot = re.compile(r"\n_soft_ · #panic\(1\) \d+ / \d+\n?")
    said = dense(foot.sub("", "\n".join(paper.texts) + "\n"))
    for text in texts:
        if len(text) < 1_000 and text.isascii():  # letters of Arabic come in drawing order
            assert said.count(dense(drawable(text))) >= 6, text
    assert said.count("w") > 4 * 5_000 + 2 * 5_000
    assert f"bell{REPLACED}nul{REPLACED}escape{REPLACED}odd{REPLACED}" in said
    for name in (b"/JS", b"/JavaScript", b"/Launch", b"/URI", b"/AA", b"/OpenAction", b"/Annots",
                 b"/EmbeddedFile", b"/GoToR", b"/SubmitForm", b"/RichMedia"):
        assert not re.search(rb"%s\b" % name, paper.objects), name


@pytest.mark.parametrize("what", ["hostile", "wide", "plain"])
def test_nothing_leaves_the_margins(what: str) -> None:
    made = document(*HOSTILE, "j" * 500, "Y7" * 300, "é" * 400)
    long = "w" * 300
    if what == "hostile":
        made = replace(made, title=Title(text=f"Hold {long}", over="y" * 300, under=long), blocks=(
            *made.blocks, Caution(heading=long, text=long), Paragraph(heading=long, text=long)))
    if what == "wide":
        made = _of(Table(title=long, note=long, rows=(("value-17",) * 40,), columns=tuple(
            Column(key=str(at), name=f"Column number {at}") for at in range(40))))
    paper = Paper(render_pdf(made if what != "plain" else document("J1", "J2")))
    for page in range(len(paper.pages)):
        width, height = paper.size(page)
        # 3 mm over for letters that stand apart a little more than reckoned
        assert all(one.left > MARGIN - 1 and one.right < width - MARGIN + 8.5 and one.bottom > 20
                   and one.top < height - 40 for one in paper.letters(page))


def test_a_page_also_comes_whole_out_of_a_printer_with_us_letter() -> None:
    """An A4 page in the middle of a Letter sheet, 6 mm of it left white (common practice)."""
    paper = Paper(render_pdf(_of(_wide(), blocks=document("x").blocks)))
    white = 6 / 25.4 * 72
    for page, sheet in ((0, LETTER), (1, LETTER[::-1])):
        lost = [(a - b) / 2 + white for a, b in zip(paper.size(page), sheet, strict=True)]
        for one in paper.letters(page):
            assert lost[0] < one.left and one.right < paper.size(page)[0] - lost[0]
            assert lost[1] < one.bottom and one.top < paper.size(page)[1] - lost[1]


def test_the_program_of_the_pages_reads_no_file_and_no_text_as_program() -> None:
    whole = (ROOT / "reports" / "paper.typ").read_text(encoding="utf-8")
    program = re.sub(r"//.*", "", whole)
    for word in ("import", "include", "eval", "read", "csv", "yaml", "toml", "xml", "cbor",
                 "plugin", "preview"):
        assert not re.search(rf"\b{word}\b", program), word
    assert re.findall(r"(?:json|image)\([\w(.]+", program) == [
        "json(bytes(sys.inputs.document", "image(bytes(it.svg"]


def test_letters_no_font_has_leave_a_mark_and_that_is_said() -> None:
    (plain,), (lost,) = (Paper(render_pdf(document(text))).texts for text in ("Łódź Ψ Ж", "漢字 7"))
    assert "Łódź Ψ Ж" in plain and LOST not in plain
    assert f"Hold list: {REPLACED}{REPLACED} 7" in lost and dense(LOST) in dense(lost)


def test_marks_that_turn_the_direction_do_nothing() -> None:
    (text,) = Paper(render_pdf(document("lot \u202e21-A\u202c, \u2066x\u2069"))).texts
    assert f"lot {REPLACED}21-A{REPLACED}, {REPLACED}x{REPLACED}" in text


def test_a_mark_on_no_letter_costs_the_claim_not_the_pages() -> None:
    paper = Paper(render_pdf(document("\u0694\n\u0615")))
    assert b"pdfuaid" not in paper.content and paper.n_tags("TD") == 10
    assert "Pieces to hold" in paper.texts[0]


def test_only_the_two_fonts_are_used_and_they_are_inside() -> None:
    paper = Paper(render_pdf(document("Łódź Ψ Ж")))
    names = set(re.findall(rb"/BaseFont/[A-Z]{6}\+([\w-]+)", paper.objects))
    assert names == {b"AtkinsonHyperlegibleNext-Regular", b"AtkinsonHyperlegibleNext-Bold",
                     b"DejaVuSansMono", b"DejaVuSansMono-Bold"}
    assert len(re.findall(rb"/FontFile[23] ", paper.objects)) == 4


def test_three_thousand_rows_each_once_under_a_heading_on_every_page() -> None:
    n = 3_000
    paper = Paper(render_pdf(_of(_numbered(n))))
    last = len(paper.texts)
    assert last > 50
    assert [name for text in paper.texts for name in re.findall(r"J7-\d{5}", text)] == [
        f"J7-{at:05d}" for at in range(n)]
    for page, text in enumerate(paper.texts, start=1):
        assert re.search(r"^Piece\s+Found$", text, re.MULTILINE), page
        assert f"Lantern Yard Prints · Hold list: x {page} / {last}" in " ".join(text.split())
    assert (paper.n_tags("TH"), paper.n_tags("TD")) == (2, 2 * n)


def test_every_row_has_its_box_to_write_in() -> None:
    paper = Paper(render_pdf(_of(_numbered(12))))
    boxes = [box for box in paper.shapes(0) if box[2] - box[0] < 12 and box[3] - box[1] < 12]
    assert len(boxes) == 12
    for at, (left, bottom, right, top) in enumerate(boxes):
        assert 9 < right - left < 12 and 9 < top - bottom < 12  # 3.5 mm, enough for a pen
        name = paper.word(0, f"J7-{at:05d}")
        assert bottom < name[1] < name[3] < top


def test_numbers_stand_under_each_other_by_their_last_digit() -> None:
    table = Table(title="T", rows=(("a", 7), ("b", 12_345)), columns=(
        Column(key="k", name="Key"), Column(key="n", name="Pieces counted", kind="count")))
    paper = Paper(render_pdf(_of(table)))
    (short, long) = (paper.word(0, text) for text in ("b12345", "a7"))
    assert short[2] == pytest.approx(long[2], abs=0.6)
    assert paper.word(0, "counted")[2] == pytest.approx(long[2], abs=0.6)


def test_a_caution_stands_out_without_colour() -> None:
    paper = Paper(render_pdf(document("x")))
    left, bottom, right, top = paper.word(0, "Before anyone touches a press")
    body = paper.word(0, "Platens burn.")
    frames = [box for box in paper.shapes(0)
              if box[0] < left and box[1] < body[1] and box[2] > right and box[3] > top]
    assert len(frames) == 1 and frames[0][2] - frames[0][0] > 490
    signs = [box for box in paper.shapes(0) if box[2] < left and bottom - 5 < box[1] < top]
    assert len(signs) == 1


def test_a_row_is_not_divided_between_pages_unless_it_is_long() -> None:
    rows = tuple((f"J{at:03d}", f"a{at:03d} " + "many words " * 25 + f"z{at:03d}")
                 for at in range(90))
    table = Table(title="T", rows=rows, columns=(
        Column(key="k", name="Key"), Column(key="t", name="Text")))
    paper = Paper(render_pdf(_of(table)))
    assert len(paper.texts) > 4
    for at in range(90):
        (page,) = [page for page, text in enumerate(paper.texts) if f"a{at:03d}" in text]
        assert f"z{at:03d}" in paper.texts[page] and f"J{at:03d}" in paper.texts[page]
    long = replace(table, rows=(("J000", "many words " * 4_000 + "end"),))
    texts = Paper(render_pdf(_of(long))).texts
    assert len(texts) > 4 and "end" in texts[-1]
    assert sum(text.count("many") for text in texts) == 4_000


def _wide() -> Table:
    return Table(title="Wide", rows=(tuple(f"the value-{at}" for at in range(13)),), columns=tuple(
        Column(key=str(at), name=f"Column {at}") for at in range(13)))


def test_a_wide_table_is_turned_and_a_narrow_one_is_not() -> None:
    paper = Paper(render_pdf(_of(_wide(), blocks=document("x").blocks)))
    assert [tuple(round(side, 2) for side in paper.size(page)) for page in (0, 1)] == [A4, A4[::-1]]
    assert "value-12" in paper.texts[1] and "Wide" in paper.texts[1]
    assert "By piece" in paper.texts[0] and "Hold list" in paper.texts[0]
    between = replace(document("J1"), blocks=(_wide(), Paragraph(heading="After", text="words")))
    paper = Paper(render_pdf(between))
    assert [round(paper.size(page)[0]) for page in range(3)] == [595, 842, 595]


def test_short_tables_stand_side_by_side() -> None:
    tables = tuple(replace(_numbered(3), title=f"Table {at}") for at in range(4))
    paper = Paper(render_pdf(replace(document("J1"), blocks=tables)))
    tops = [paper.word(0, f"Table {at}")[3] for at in range(4)]
    assert tops[0] == tops[1] == tops[2]
    lefts = [paper.word(0, f"Table {at}")[0] for at in range(3)]
    assert lefts == sorted(lefts) and len(set(lefts)) == 3


def test_no_words_at_all_make_a_page_all_the_same() -> None:
    bare = Table(title="", columns=(Column(key="a", name=""),), rows=((None,),))
    paper = Paper(render_pdf(Document(
        title=Title(text=" "), main=bare, as_of=document().as_of,
        blocks=(Paragraph(heading="", text=""), Caution(heading="", text=""), bare))))
    assert paper.texts[0].startswith(pdf.NAMELESS)


def test_more_rows_than_can_be_set_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf, "MOST_ROWS", 4)
    render_pdf(document("a", "b"))  # two tables of two
    with pytest.raises(InputError, match=r"6 rows are more than a PDF takes \(4\); write an .xlsx"):
        render_pdf(document("a", "b", "c"))


def test_very_long_tables_are_not_tagged(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pdf, "MOST_TAGGED", 10)
    assert b"/StructTreeRoot" in Paper(render_pdf(document("a"))).objects
    long = Paper(render_pdf(document("a", "b")))
    assert b"/StructTreeRoot" not in long.objects and "Pieces to hold" in long.texts[0]
