"""A job's sheet on paper; its code is read back from the drawing and from the paper, by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from qc.desk.job_sheet import JobSheet, SheetSetting
from qc.desk.lists import ListedRecord
from qc.units import ShopUnits
from reports import wording
from reports.document import Caution, Facts, Picture
from reports.drawing import check_drawing, drawing_size
from reports.job_sheet import sheet_document
from reports.pdf import POINTS
from reports.qr import LONGEST, MODULE, QUIET, qr_drawing
from reports.writing import FORMS
from tests.reference.qr import read_qr
from tests.reports.pdf_read import Paper

ZONE = ZoneInfo("Europe/Lisbon")
T0 = 1_750_000_000_000_000


def recipe(**values: object) -> ListedRecord:
    kept = {"version": "3", "valid_from": T0, "temperature_c": 150.0} | values
    return ListedRecord(key=("tee", "film"), values=kept, by="Ann", at_us=T0, n_versions=3)


SHEET = JobSheet(
    job="J-118", values={"job": "J-118", "fabric": "tee", "transfer": "film", "ordered": 1200,
                         "location": "left_chest", "shipped_at": None},
    fabric={"fabric": "tee", "name": "Cotton <tee>", "cotton_pct": 95.0, "polyester_pct": 5.0,
            "other_pct": None, "surface": "smooth", "weight_gsm": None, "heat_limit_c": 165.0},
    transfer={"transfer": "film", "name": None, "kind": "cut_film"},
    place={"location": "left_chest", "reference": "collar seam", "part_measured": "top edge",
           "dx_tolerance_mm": 12.7, "dy_tolerance_mm": None, "rotation_tolerance_deg": 2.0},
    recipe=recipe(),
    settings=(SheetSetting(name="temperature_c", target="302", low="293", high="311", symbol="°F"),
              SheetSetting(name="pressure_class", target="medium_firm", low="", high="", symbol=""),
              SheetSetting(name="peel", target="hot", low="", high="", symbol="")),
    units=ShopUnits(temperature="f", length="in", pressure="psi"), as_of_us=T0,
)


def document(sheet: JobSheet = SHEET):  # noqa: ANN201
    return sheet_document(sheet, shop_name="Quillmere <Press>", zone=ZONE)


def modules(svg: str) -> list[list[bool]]:
    """The dark squares of a drawing, without the quiet zone; every one is whole."""
    side = int(drawing_size(svg)[0]) // MODULE - 2 * QUIET
    found = [[False] * side for _ in range(side)]
    for x, y, wide in re.findall(rf"M(\d+) (\d+)h(\d+)v{MODULE}h-\d+z", svg):
        assert int(x) % MODULE == int(y) % MODULE == int(wide) % MODULE == 0
        for at in range(int(x) // MODULE, (int(x) + int(wide)) // MODULE):
            found[int(y) // MODULE - QUIET][at - QUIET] = True
    return found


@given(st.text(alphabet=st.sampled_from("ABCDEFGHJ0123456789-/ abcdefgh_.#é"), min_size=1,
               max_size=24))
def test_the_code_says_the_job_and_nothing_else(job: str) -> None:
    """Checked against a second reading of ISO/IEC 18004:2015, sharing nothing with the library."""
    svg = qr_drawing(job)
    check_drawing(svg)
    assert read_qr(modules(svg)) == job


@pytest.mark.parametrize("job", ["J-118", "12345", "J 119/2", "ÅRE-7", "a" * 40])
def test_usual_codes_are_read_back(job: str) -> None:
    assert read_qr(modules(qr_drawing(job))) == job


@pytest.mark.parametrize("job", ["", "x" * (LONGEST + 1)])
def test_what_makes_no_code_is_refused(job: str) -> None:
    with pytest.raises(ValueError, match=f"1 to {LONGEST} characters"):
        qr_drawing(job)


def test_a_job_with_an_endless_code_has_a_sheet_without_one() -> None:
    blocks = document(replace(SHEET, job="x" * 400)).blocks
    assert not [block for block in blocks if isinstance(block, Picture)]


def test_the_sheet_says_what_is_pressed_on_what_where_and_how() -> None:
    made = document()
    facts = dict(next(block for block in made.blocks if isinstance(block, Facts)).pairs)
    assert facts == {
        "Fabric": "tee, Cotton <tee>, 95 % cotton, 5 % polyester, smooth",
        "Transfer": "film, cut film", "Ordered": "1\u202f200", "Most heat it takes": "329 °F",
        "Place": "left chest, measured from collar seam, to its top edge,"
                 " sideways within 0.5 in, turned within 2°"}
    assert made.main.rows[0] == ("Temperature", "302 °F", "293 °F", "311 °F", None)
    assert made.main.rows[1][:2] == ("Pressure, in words", "medium firm")
    assert "version 3 by Ann" in made.main.title and "counts since" in made.main.title


def test_hot_platens_and_the_suppliers_sheet_are_always_spoken_of() -> None:
    for sheet in (SHEET, replace(SHEET, recipe=None, settings=())):
        made = document(sheet)
        cautions = [block for block in made.blocks if isinstance(block, Caution)]
        assert "Hot platen" in cautions[0].text
        said = made.main.note + "".join(caution.text for caution in cautions)
        assert "transfer supplier's sheet" in said and "press maker's manual" in said


def test_without_a_recipe_there_is_room_to_write_what_was_set() -> None:
    made = document(replace(SHEET, recipe=None, settings=()))
    assert [row[0] for row in made.main.rows] == list(wording.JOB_SETTINGS.values())
    assert {cell for row in made.main.rows for cell in row[1:]} == {None}
    assert any(block.heading == wording.JOB_NO_RECIPE for block in made.blocks
               if isinstance(block, Caution))


def test_a_bare_job_says_what_is_not_said() -> None:
    bare = replace(SHEET, values=dict.fromkeys(SHEET.values), fabric=None, transfer=None,
                   place=None, recipe=None, settings=())
    facts = dict(next(b for b in document(bare).blocks if isinstance(b, Facts)).pairs)
    assert set(facts.values()) == {"not said"}


@pytest.mark.parametrize("form", sorted(FORMS))
def test_the_same_bytes_again_and_no_markup_from_text(form: str) -> None:
    one = FORMS[form](document())
    assert one == FORMS[form](document())
    if form == ".html":
        assert b"<tee>" not in one and b"Quillmere &lt;Press&gt;" in one
        assert b"break-before: auto" in one


def test_the_paper_is_one_page_and_its_code_is_read_back_from_its_pixels() -> None:
    paper = Paper(FORMS[".pdf"](document()))
    (said,) = paper.texts
    assert "J-118" in said and "Scan into the job field" in said
    scale = 4.0  # pixels for each point: three for each square, rendered by pdfium
    page = paper.pages[0].render(scale=scale).to_numpy()[..., 0]
    heading, words = (paper.word(0, said) for said in ("Scan into the job field",
                                                       "The code's text is"))
    top, bottom = (int(page.shape[0] - y * scale) for y in (heading[1], words[3]))
    dark = page[top:bottom, : int(170 * scale)] < 128
    rows, columns = (np.flatnonzero(dark.any(axis=axis)) for axis in (1, 0))
    code = dark[rows[0]: rows[-1] + 1, columns[0]: columns[-1] + 1]
    square = POINTS * MODULE * scale
    n = round(code.shape[0] / square)
    assert n == 21
    middles = ((np.arange(n) + 0.5) * square).astype(int)
    assert read_qr(code[np.ix_(middles, middles)].tolist()) == "J-118"


def test_a_recipe_hotter_than_the_fabric_is_a_caution_on_the_sheet() -> None:
    hot = document(replace(SHEET, too_hot="338 °F is above the most heat tee takes, 329 °F"))
    said = [block for block in hot.blocks if isinstance(block, Caution)]
    assert any(block.heading == wording.JOB_TOO_HOT and "338 °F" in block.text for block in said)
    assert all(not isinstance(block, Caution) or block.heading != wording.JOB_TOO_HOT
               for block in document().blocks)
