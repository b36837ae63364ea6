"""A flag as a case: its days, its pieces, and a list that no spreadsheet runs."""

from __future__ import annotations

from pathlib import Path

import pytest

from qc.desk.cases import Case, case_of
from qc.desk.flags import current_flags
from qc.desk.shop import Shop
from qc.errors import NotFound
from qc.stats.comparing.intervals import wilson_interval
from tests.dashboard.small_shop import END_US, build_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return build_shop(tmp_path_factory.mktemp("cases"))


@pytest.fixture(scope="module")
def case(shop: Shop) -> Case:
    flags = current_flags(shop, as_of_us=END_US).flags
    assert flags, "the planted fault of press Cedar is flagged"
    return case_of(shop, flags[0].id, as_of_us=END_US)


def test_the_planted_press_is_the_case(case: Case) -> None:
    assert (case.flag.factor.name, case.flag.factor.level) == ("press", "Cedar")
    assert case.shown_kind == "lifted_edge"
    assert case.levels[0].level == "Cedar" and case.levels[0].low > 1


def test_days_count_pieces_once(case: Case) -> None:
    days = case.days
    assert days is not None
    assert (days.n_seen <= days.n_pieces).all() and (days.n_pieces > 0).all()
    first = wilson_interval(int(days.n_seen[0]), int(days.n_pieces[0]))
    assert days.low[0] == pytest.approx(first.low) and days.high[0] == pytest.approx(first.high)


def test_pieces_are_newest_first_and_as_many_as_said(case: Case) -> None:
    pressed = [piece.pressed_at_us for piece in case.pieces]
    assert pressed == sorted(pressed, reverse=True)
    assert sum(piece.n for piece in case.pieces) == case.flag.pieces_at_risk
    assert {piece.press for piece in case.pieces} == {"Cedar"}


def test_an_unknown_flag_is_not_found(shop: Shop) -> None:
    with pytest.raises(NotFound, match="there is no flag 'nope'"):
        case_of(shop, "nope", as_of_us=END_US)


def test_a_shop_that_keeps_no_lots_is_looked_at_all_the_same(tmp_path: Path) -> None:
    bare = build_shop(tmp_path, without=("garment_lot", "transfer_lot", "operator", "job"))
    flags = current_flags(bare, as_of_us=END_US).flags
    assert "Cedar" in [flag.factor.level for flag in flags]
