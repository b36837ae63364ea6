"""The hold list says what is off and how sure, warns of heat, and lists every piece in order."""

from __future__ import annotations

import pytest

from qc.domain.flags import FactorShare
from qc.domain.instants import DAY_US, HOUR_US, from_us
from qc.domain.platens import HOT_PLATEN_CAUTION
from reports import wording
from reports.document import Caution, Document, Facts, Paragraph, Table
from reports.hold_list import hold_list
from tests.reports.made import HOSTILE, LISBON, T0_US, case, flag, piece

AS_OF_US = T0_US + 20 * DAY_US


def _listed(*pieces: object, **changes: object) -> Document:
    made = case(*pieces, of=flag(**changes))  # type: ignore[arg-type]
    return hold_list(made, shop_name="Lantern Yard Prints", zone=LISBON, as_of_us=AS_OF_US)


def _facts(document: Document) -> dict[str, str]:
    (facts,) = [block for block in document.blocks if isinstance(block, Facts)]
    return dict(facts.pairs)


def _cautions(document: Document) -> dict[str, str]:
    return {block.heading: block.text for block in document.blocks if isinstance(block, Caution)}


def _count_of(document: Document, title: str) -> list[tuple[object, ...]]:
    (table,) = [b for b in document.blocks if isinstance(b, Table) and b.title == title]
    return list(table.rows)


def _column(document: Document, key: str) -> list[object]:
    at = [column.key for column in document.main.columns].index(key)
    return [row[at] for row in document.main.rows]


PIECES = (
    piece("J10-2", pressed_at_us=T0_US + HOUR_US), piece("J10-1", disposition="scrap",
                                                         defects="lifted_edge@top_left;scorch"),
    piece("J9-7", job="J9", press="P10", disposition=None, pressed_at_us=T0_US + 15 * HOUR_US),
    piece("loose", job=None, operator=None, location=None, transfer_lot=None, garment_lot=None),
)


def test_what_is_known_later_of_where_the_pieces_are_is_said() -> None:
    made = case(*PIECES, of=flag())
    later = hold_list(made, shop_name="", zone=LISBON, as_of_us=AS_OF_US,
                      now_us=AS_OF_US + 4 * HOUR_US // 60)
    assert later.title.under == (
        "Pieces as known on Fri 13 Nov 2026, 10:00, where they are as of Fri 13 Nov 2026, 10:04 "
        "(Europe/Lisbon). Flag abc123.")
    same = hold_list(made, shop_name="", zone=LISBON, as_of_us=AS_OF_US, now_us=AS_OF_US)
    assert same.title.under == _listed(*PIECES).title.under


def test_the_words_come_in_the_order_they_are_needed() -> None:
    document = _listed(*PIECES)
    assert document.title.over == "Lantern Yard Prints"
    assert document.title.text == "Hold list: press P2"
    assert document.title.under == (
        "As known on Fri 13 Nov 2026, 10:00 (Europe/Lisbon). Flag abc123.")
    assert list(_facts(document).items()) == [
        ("What is off", "Edges lift on press P2."),
        ("Since", "Sat 24 Oct 2026, 11:00; with 90 % confidence between Sat 24 Oct 2026, 10:00 "
                  "and Sat 24 Oct 2026, 12:00"),
        ("Now", "still going on"),
        ("How sure", "Clearly more than luck; almost certainly press P2."),
        ("First seen", "Sun 25 Oct 2026, 16:00"),
        ("Pieces", "4, pressed between Sat 24 Oct 2026, 11:00 and Sun 25 Oct 2026, 01:00"),
    ]
    headings = [b.heading for b in document.blocks if isinstance(b, Paragraph | Caution)]
    assert headings == [wording.FIRST_STEP, wording.HOT, wording.ON_THE_SHELVES]


def test_pieces_are_in_walking_order_and_all_there() -> None:
    document = _listed(*PIECES)
    assert _column(document, "piece_id") == ["J9-7", "J10-1", "J10-2", "loose"]
    assert _column(document, "defects") == [None, "lifted_edge@top_left;scorch", None, None]
    assert set(_column(document, "found")) == {None}
    assert _column(document, "pressed_at")[1] == from_us(T0_US, LISBON)
    assert [column.key for column in document.main.columns] == [
        "piece_id", "location", "job", "status", "shipped_at", "press", "operator",
        "transfer_lot", "garment_lot", "pressed_at", "disposition", "defects", "found"]


def test_counts_are_of_pieces_by_job_press_and_disposition() -> None:
    document = _listed(*PIECES)
    jobs = _count_of(document, wording.BY_JOB)
    assert [row[:4] for row in jobs] == [
        ("J9", 1, 0, "P10"), ("J10", 2, 1, "P2"), ("not said", 1, 0, "P2")]
    assert jobs[1][4:] == (from_us(T0_US, LISBON), from_us(T0_US + HOUR_US, LISBON), None)
    assert _count_of(document, wording.BY_PRESS) == [("P2", 3), ("P10", 1)]
    assert _count_of(document, wording.BY_DISPOSITION) == [
        ("pass", 2), ("scrap", 1), ("not said", 1)]


SHIPPED_US = T0_US + 5 * DAY_US
GONE = (
    piece("J8-1", job="J8", status="shipped", shipped_at_us=SHIPPED_US),
    piece("J8-2", job="J8", status="shipped", shipped_at_us=SHIPPED_US, n=4),
    piece("J7-1", job="J7", status="shipped", shipped_at_us=None, defects="scorch"),
    piece("J1-1", job="J1", status="scrapped", disposition="scrap"),
    piece("J2-1", job="J2", status="held", disposition="hold"),
)


def test_shipped_jobs_come_first_as_a_question_about_the_customer() -> None:
    document = _listed(*PIECES, *GONE)
    assert _cautions(document)[wording.CALL].startswith("6 pieces have left the house")
    assert _count_of(document, wording.SHIPPED_BY_JOB) == [
        ("J7", 1, 1, None, None), ("J8", 5, 0, from_us(SHIPPED_US, LISBON), None)]
    titles = [getattr(block, "title", "") for block in document.blocks]
    assert titles.index(wording.SHIPPED_BY_JOB) < titles.index(wording.BY_STATUS) < titles.index(
        wording.BY_JOB)
    assert wording.CALL not in _cautions(_listed(*PIECES))


def test_where_the_pieces_are_is_counted_and_only_the_racks_are_walked() -> None:
    document = _listed(*PIECES, *GONE)
    assert _count_of(document, wording.BY_STATUS) == [
        ("shipped", 6), ("in_house", 4), ("held", 1), ("scrapped", 1)]
    assert [row[0] for row in _count_of(document, wording.BY_JOB)] == ["J2", "J9", "J10",
                                                                       "not said"]
    assert _column(document, "piece_id")[-4:] == ["J1-1", "J7-1", "J8-1", "J8-2"]
    assert _column(document, "status")[-4:] == ["scrapped", *["shipped"] * 3]
    assert _column(document, "shipped_at")[-2:] == [from_us(SHIPPED_US, LISBON)] * 2


def test_blocks_of_pieces_count_as_many_as_they_stand_for() -> None:
    document = _listed(piece("B-1", n=40), piece("B-2", n=1))
    assert _column(document, "n") == [40, 1]
    assert _count_of(document, wording.BY_JOB)[0][1] == 41
    assert _facts(document)["Pieces"].startswith("41, ")


@pytest.mark.parametrize(
    ("changes", "hot"),
    [
        ({"kind": "calibration", "platen": "upper"}, True), ({}, True),
        ({"kind": "setting", "factor": FactorShare(name="fabric", level="rib", weight=1.0)}, True),
        ({"factor": FactorShare(name="shop", level=None, weight=1.0)}, True),
        ({"factor": FactorShare(name="transfer_lot", level="T-1", weight=1.0)}, False),
        ({"kind": "placement", "factor": FactorShare(name="operator", level="Ana", weight=1.0)},
         False),
    ],
)
def test_every_list_warns_and_in_full_where_work_is_at_a_press(
    changes: dict[str, object], hot: bool
) -> None:
    cautions = _cautions(_listed(*PIECES, **changes))
    (text,) = cautions.values()
    assert (text == HOT_PLATEN_CAUTION) is hot
    assert "burn" in text and "manual" in text and "local codes" in text and "closing" in text


def test_an_unsettled_cause_names_its_rivals_and_what_is_not_on_the_list() -> None:
    document = _listed(
        *PIECES, factor=FactorShare(name="press", level="P2", weight=0.5),
        other_factors=(FactorShare(name="operator", level="Ana", weight=0.3),
                       FactorShare(name="zone", level="top_left", weight=0.16),
                       FactorShare(name="size", level="L", weight=0.04)),
        sure="More than luck.", settle="Let Ana work at another press for 200 pieces.")
    assert _facts(document)["How sure"] == (
        "More than luck. Let Ana work at another press for 200 pieces.")
    said = _cautions(document)[wording.DOUBT]
    assert "the pieces of press P2" in said
    assert "Should operator Ana or top left of the print be the cause" in said


def test_a_platen_is_measured_and_named() -> None:
    document = _listed(*PIECES, kind="calibration", platen="lower")
    assert document.title.text == "Hold list: press P2, lower platen"
    assert _facts(_listed(*PIECES, sure=""))["How sure"] == wording.NOT_SAID


def test_an_ended_change_and_a_known_start_are_said() -> None:
    facts = _facts(_listed(*PIECES, ended_at_us=T0_US + DAY_US,
                           changed_between_us=(T0_US, T0_US)))
    assert facts["Now"] == "over since Sun 25 Oct 2026, 10:00"
    assert facts["Since"] == "Sat 24 Oct 2026, 11:00"


def test_no_piece_in_the_time_concerned() -> None:
    document = _listed()
    assert _facts(document)["Pieces"] == wording.PIECES_NONE
    assert document.main.rows == ()
    assert not [block for block in document.blocks if isinstance(block, Table)]


def test_hostile_names_are_only_names() -> None:
    pieces = [piece(text, job=text, press=text, operator=text, defects=text) for text in HOSTILE]
    document = _listed(*pieces, piece("9" * 5_000, job="J" + "1" * 5_000),
                       factor=FactorShare(name="press", level=HOSTILE[0], weight=1.0))
    assert set(_column(document, "piece_id")) == {*HOSTILE, "9" * 5_000}
    assert document.title.text == f"Hold list: press {HOSTILE[0]}"


@pytest.mark.parametrize("name", [*wording.FACTOR_WORDS, "shop", "a_new_one"])
def test_every_factor_has_words(name: str) -> None:
    said = wording.where(FactorShare(name=name, level="X_1", weight=1.0))
    assert "X" in said and "{" not in said
    assert wording.where(FactorShare(name="shop", level=None, weight=1.0)) == wording.WHOLE_SHOP
