"""Every page on the first records of a shop that writes down only what it must."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
import pytest

from dashboard import text
from qc.desk.shop import open_shop
from qc.domain.instants import SECOND_US
from qc.store.inspections import add_inspections
from tests.benchmarks.pages import Question, Shop, questions
from tests.dashboard.asking import callback, words
from tests.dashboard.small_shop import END_US

MUST = {"attempt": 1, "stage": "final", "press": "P1", "fabric": "jersey", "transfer": "film",
        "pieces": 1}
ASKED = questions(END_US)


@pytest.fixture(scope="module", params=[(1, 0), (2, 1), (40, 4)], ids=["good", "fault", "day"])
def bare(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
         ) -> Iterator[Shop]:
    """So many looks, so many of them at a fault, with neither place nor job nor person."""
    n_looks, n_bad = request.param
    place = tmp_path_factory.mktemp("bare") / "shop.db"
    shop = open_shop(str(place), create=True)
    looks = pd.DataFrame([MUST | {
        "piece_id": f"F{at}", "inspected_at": END_US - 120 * at * SECOND_US,
        "pressed_at": END_US - (120 * at + 30) * SECOND_US,
        "disposition": "press_again" if at < n_bad else "pass"} for at in range(n_looks)])
    found = pd.DataFrame([{"row": at, "kind": "lifted_edge", "zone": None, "extent_mm": None,
                           "n": 1} for at in range(n_bad)],
                         columns=["row", "kind", "zone", "extent_mm", "n"])
    add_inspections(shop.store, looks, found, by="test", at_us=END_US, source="test", new_codes={
        "presses": ["P1"], "fabrics": ["jersey"], "transfers": ["film"]})
    shop.store.close()
    yield Shop(place)


@pytest.mark.parametrize("question", ASKED, ids=[one.name for one in ASKED])
def test_every_page_can_be_worked_out(bare: Shop, question: Question) -> None:
    if question.path:
        work = {name: value or "" for name, value in bare.work.items()}
        answer = bare.app.server.test_client().get(question.path.format_map(work))
        assert answer.status_code == 200, answer.get_data(as_text=True)
    else:
        answer = callback(bare.app, question.output, **question.given)
        assert text.ERROR_TITLE not in words([
            value for props in answer.values() for value in props.values()])


def test_the_floor_says_what_the_presses_page_says_of_a_platen_never_surveyed(bare: Shop) -> None:
    (floor,) = [one for one in ASKED if "floor-cards" in one.output]
    (board,) = [one for one in ASKED if "presses-board" in one.output]
    said = [words([value for props in callback(bare.app, one.output, **one.given).values()
                   for value in props.values()]) for one in (board, floor)]
    assert text.FIRST_DUE in said[0]
    assert text.FLOOR_FIRST_CHECK in said[1] and text.FLOOR_NO_CHECK not in said[1]
