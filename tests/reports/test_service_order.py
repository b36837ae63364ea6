"""A service order on paper."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from qc.desk.cases import CasePiece
from qc.domain.instants import DAY_US
from qc.domain.platens import Conformity
from qc.domain.service import (
    OrderStanding,
    PressedSince,
    ServiceOrder,
    ServiceStep,
    SurveyFound,
)
from reports.document import Caution, Facts, Table
from reports.service_order import service_document
from reports.writing import FORMS

ZONE = ZoneInfo("Europe/Lisbon")
T0 = 1_750_000_000_000_000
OPENING = {"press": "P4", "platen": "upper", "reason": "flag", "words": "drifts <b>",
           "flag_id": "f1", "evidence": [["State of the platen", "Mean −5.6 °C"],
                                         ["Flag", "f1: drifts <b>"]]}


def found(state: str, offset: float, *, good: bool) -> SurveyFound:
    return SurveyFound(
        survey_id=state, at_us=T0 + DAY_US, state=state, instrument="TP-1", setpoint_c=160.0,
        offset_c=offset, spread_c=2.0, uncertainty_c=1.3, n_points=9, judged=(Conformity(
            what="mean", decision="in_tolerance" if good else "out", risk=0.97,
            uncertainty_c=1.5, accepted_to_c=5.5, out_from_c=5.5),))


def standing(*, out: bool, closed: bool = False) -> OrderStanding:
    steps = [ServiceStep(number=1, order_id="S1", step="open", by="Ann", at_us=T0, said=OPENING),
             ServiceStep(number=2, order_id="S1", step="done", by="Rui", at_us=T0 + 9,
                         said={"words": "new relay"})]
    if closed:
        steps.append(ServiceStep(number=3, order_id="S1", step="close", by="Ann", at_us=T0 + 99,
                                 said={}))
    as_found = found("as_found", -6.0, good=False) if out else None
    pressed = PressedSince(since_us=T0, until_us=T0 + DAY_US, n_pieces=2,
                           by_status=(("shipped", 2),), last_good=None) if out else None
    return OrderStanding(order=ServiceOrder(steps=tuple(steps)), state="leave" if out else "find",
                         next_step="Adjust it.", found=as_found, pressed=pressed)


def piece(name: str) -> CasePiece:
    return CasePiece(
        piece_id=name, location="back", press="P4", operator=None, fabric="fleece",
        transfer="film", transfer_lot=None, garment_lot=None, job="J1", pressed_at_us=T0 + 5,
        disposition="pass", n=1, defects="", status="shipped", shipped_at_us=T0 + 7)


def document(one: OrderStanding, *pieces: CasePiece):  # noqa: ANN201
    return service_document(one, pieces, shop_name="Quillmere <Press>", zone=ZONE,
                            as_of_us=T0 + 2 * DAY_US, heat_unit="c")


def test_a_new_order_has_cautions_steps_and_boxes_to_fill_in() -> None:
    made = document(standing(out=False))
    assert made.title.text == "Service order S1: upper platen of P4"
    cautions = [block for block in made.blocks if isinstance(block, Caution)]
    assert len(cautions) == 2
    assert "Lock out first" in cautions[1].text
    grids = [block for block in made.blocks if isinstance(block, Table)
             and block.title.startswith("Readings")]
    assert [len(grid.rows) for grid in grids] == [3, 3]
    assert made.main.rows[0][0] is not None
    assert "as found" in str(made.main.rows[0][0])


def test_evidence_that_says_the_same_is_said_once() -> None:
    facts = next(b for b in document(standing(out=False)).blocks if isinstance(b, Facts))
    assert [name for name, _ in facts.pairs].count("Flag") == 0
    assert ("Why", "drifts <b>") in facts.pairs


def test_found_out_it_lists_the_pieces_since_the_last_good_check() -> None:
    made = document(standing(out=True), piece("B10"), piece("B9"))
    assert [row[0] for row in made.main.rows] == ["B9", "B10"]
    facts = dict(next(b for b in made.blocks if isinstance(b, Facts)).pairs)
    assert "mean −6.0 °C from 160 °C" in facts["As found"]
    assert "mean out of tolerance (risk 97 %)" in facts["As found"]
    assert facts["As left"] == "not yet"
    grids = [b for b in made.blocks if isinstance(b, Table) and b.title.startswith("Readings")]
    assert len(grids) == 1


def test_a_closed_order_has_nothing_to_fill_in() -> None:
    made = document(standing(out=False, closed=True))
    assert not [b for b in made.blocks if isinstance(b, Table) and b.title.startswith("Readings")]


@pytest.mark.parametrize("form", sorted(FORMS))
def test_the_same_bytes_again_and_no_markup_from_text(form: str) -> None:
    one = document(standing(out=True), piece("=1+1"))
    assert FORMS[form](one) == FORMS[form](one)
    if form == ".html":
        assert b"<b>" not in FORMS[form](one)
        assert b"Quillmere &lt;Press&gt;" in FORMS[form](one)
