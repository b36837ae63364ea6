"""A ranking to take away: the same numbers, as numbers, in every form."""

from __future__ import annotations

import csv
import io
from zoneinfo import ZoneInfo

import pytest
from python_calamine import CalamineWorkbook

from qc.domain.ranking import Pareto, ParetoRow
from reports import wording
from reports.document import Facts
from reports.ranking import ranking_document
from reports.writing import FORMS

ZONE = ZoneInfo("Europe/Lisbon")
NOW_US = 1_775_838_000_000_000


def row(level: tuple[str | None, ...], n: int, expected: float, *, out: bool) -> ParetoRow:
    return ParetoRow(
        level=level, n_defects=n, n_pieces=400, rate=n / 400, share=n / 60, cumulative=1.0,
        expected=expected, ratio=n / expected, ratio_low=0.8, ratio_high=4.2, p_value=0.01,
        stands_out=out)


def ranking(**more: object) -> Pareto:
    given = {
        "by": ("press", "defect"), "kinds": (), "since_us": NOW_US - 10**12, "until_us": None,
        "as_of_us": NOW_US, "n_pieces": 1600, "n_defects": 60,
        "rows": (row(("=P1", "lifted_edge"), 40, 10.0, out=True),
                 row((None, "scorch"), 20, 30.0, out=True)),
    }
    return Pareto(**(given | more))


def test_numbers_stay_numbers_and_names_stay_text() -> None:
    document = ranking_document(ranking(), shop_name="Lantern Yard", zone=ZONE, price=2.5,
                                currency="EUR")
    book = CalamineWorkbook.from_filelike(io.BytesIO(FORMS[".xlsx"](document)))
    heads, first, second = book.get_sheet_by_index(1).to_python()
    found = dict(zip(heads, first, strict=True))
    assert found["Press"] == "=P1"  # as text: a formula would be read as its value
    assert (found["Defects"], found["Pieces"]) == (40, 400)
    assert found["Ratio"] == pytest.approx(4.0) and found["Cost, EUR"] == pytest.approx(100)
    assert found["Defect"] == "Lifted edge or corner"
    assert found["Stands out"] == "more than its mix"
    assert dict(zip(heads, second, strict=True))["Stands out"] == "fewer than its mix"


def test_csv_is_for_programs_and_runs_nothing() -> None:
    document = ranking_document(ranking(), shop_name="Lantern Yard", zone=ZONE)
    rows = list(csv.DictReader(io.StringIO(FORMS[".csv"](document).decode("utf-8-sig"))))
    assert rows[0]["press"] == "'=P1" and rows[0]["defect"] == "lifted_edge"
    assert float(rows[0]["ratio"]) == 4 and float(rows[1]["expected"]) == 30
    assert rows[1]["press"] == "" and "cost" not in rows[0]
    assert [r["stands_out"] for r in rows] == ["more", "fewer"]


def test_what_stands_out_is_said_in_words() -> None:
    document = ranking_document(ranking(), shop_name="Lantern Yard", zone=ZONE)
    facts = next(block for block in document.blocks if isinstance(block, Facts))
    assert facts.pairs[2][1] == "press =P1, Lifted edge or corner"
    assert document.title.text == "Where the defects are: by press and defect"
    quiet = ranking_document(ranking(rows=(row(("P1", "scorch"), 4, 4.0, out=False),), kinds=(
        "scorch",), since_us=None), shop_name="", zone=ZONE)
    facts = next(block for block in quiet.blocks if isinstance(block, Facts))
    assert facts.pairs[2][1] == wording.RANKING_NONE_OUT
    assert "Only Scorch or yellowing, pressed over all records" in quiet.title.under


@pytest.mark.parametrize("form", sorted(FORMS))
def test_the_same_ranking_gives_the_same_bytes(form: str) -> None:
    made = [FORMS[form](ranking_document(ranking(), shop_name="x", zone=ZONE, price=1.0))
            for _ in range(2)]
    assert made[0] == made[1] and len(made[0]) > 100
