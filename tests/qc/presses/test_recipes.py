"""Which version of a recipe counts, and what its window is."""

from __future__ import annotations

import numpy as np
import pytest

from qc.presses.recipes import Coded, class_places, coded, recipes_applied, windows_of
from tests.qc.presses.recipes_made import (
    at,
    found,
    one,
    piece,
    pieces_frame,
    random_shop,
    recipe,
    recipes_frame,
)
from tests.reference import settings as plain


def applied(pieces: list[dict], recipes: list[dict]) -> tuple[list[int], list[int], list[bool]]:
    frame = pieces_frame(pieces)
    it = recipes_applied(coded(frame["fabric"]), coded(frame["transfer"]),
                         frame["pressed_at"].to_numpy(), recipes_frame(recipes))
    return it.now.tolist(), it.before.tolist(), it.listed.tolist()


def test_the_newest_version_valid_at_the_pressing_counts() -> None:
    recipes = [recipe(version="3", valid_from=at(20)), recipe(version="1"),
               recipe(version="2", valid_from=at(5))]
    now, before, _ = applied([piece(day) for day in (0, 4.99, 5, 19.99, 20, 29)], recipes)
    assert now == [1, 1, 2, 2, 0, 0]
    assert before == [-1, -1, 1, 1, 2, 2]


def test_of_two_valid_from_one_moment_the_one_entered_last_counts_and_that_is_said() -> None:
    recipes = [recipe(version="a", valid_from=at(5), dwell_s=15.0, dwell_low_s=14.0),
               recipe(version="b", valid_from=at(5), dwell_s=10.0, dwell_low_s=9.0)]
    assert applied([piece()], recipes)[0] == [1]
    result = found([piece(dwell_s=9.5)], recipes)
    assert one(result, "dwell_s").n_inside == 1
    fault, = result.faults
    assert (fault.version, fault.what) == ("b", "same_moment")


def test_a_recipe_of_a_pair_nobody_pressed_changes_nothing() -> None:
    recipes = [recipe(fabric="velvet", dwell_s=1.0), recipe(transfer="wax", dwell_s=1.0)]
    assert applied([piece()], recipes) == ([-1], [-1], [False])
    result = found([piece(dwell_s=9.0, n=3)], recipes)
    assert (result.n_pieces, result.n_with_recipe, result.rows) == (3, 0, ())
    pair, = result.without
    assert (pair.why, pair.n_pieces) == ("no_recipe", 3)


def test_a_recipe_from_later_on_is_no_recipe_yet() -> None:
    result = found([piece(3, dwell_s=9.0), piece(12, dwell_s=9.0)],
                   [recipe(valid_from=at(10), dwell_s=9.0, dwell_low_s=8.0)])
    pair, = result.without
    assert (pair.why, pair.n_pieces) == ("not_yet_valid", 1)
    assert one(result, "dwell_s").n_inside == 1


@pytest.mark.parametrize("seed", range(12))
def test_versions_agree_with_a_plain_search(seed: int) -> None:
    pieces, recipes = random_shop(np.random.default_rng(seed), 60)
    if not recipes:
        return
    now = applied(pieces, recipes)[0]
    wanted = [plain.recipe_for(it, recipes) for it in pieces]
    assert [None if row < 0 else recipes[row] for row in now] == wanted


def window(quantity: str, around: float = 0.0, **given: object) -> tuple:
    it = windows_of(recipes_frame([recipe(**given)]), quantity, around)
    return (bool(it.asked[0]), bool(it.known[0]), float(it.low[0]), float(it.high[0]),
            bool(it.by_default[0]), bool(it.inverted[0]))


INF = float("inf")


@pytest.mark.parametrize(("given", "around", "wanted"), [
    ({}, 1.0, (False, False, -INF, INF, False, False)),
    ({"dwell_s": 15.0}, 0.0, (True, False, -INF, INF, False, False)),
    ({"dwell_s": 15.0}, 2.0, (True, True, 13.0, 17.0, True, False)),
    ({"dwell_s": 15.0, "dwell_low_s": 14.0}, 0.0, (True, True, 14.0, INF, False, False)),
    ({"dwell_s": 15.0, "dwell_low_s": 14.0}, 2.0, (True, True, 14.0, 17.0, True, False)),
    ({"dwell_low_s": 14.0, "dwell_high_s": 16.0}, 2.0, (True, True, 14.0, 16.0, False, False)),
    ({"dwell_low_s": 16.0, "dwell_high_s": 14.0}, 2.0, (True, False, 16.0, 14.0, False, True)),
    ({"dwell_high_s": 14.0}, 2.0, (True, True, -INF, 14.0, False, False)),
])
def test_a_window_is_the_recipes_own_and_else_only_what_the_shop_has_set(
    given: dict, around: float, wanted: tuple
) -> None:
    assert window("dwell_s", around, **given) == wanted


@pytest.mark.parametrize(("peel", "low", "high"), [
    ("hot", -INF, 25.0), ("warm", 15.0, 25.0), ("cool", 15.0, INF), ("cold", 15.0, INF),
    (None, 15.0, 25.0)])
def test_a_default_window_of_a_wait_is_open_to_the_side_that_does_no_harm(
    peel: str | None, low: float, high: float
) -> None:
    """A hot peel is at once, a cold one when the print has cooled through (common practice, no
    source)."""
    assert window("peel_wait_s", 5.0, peel_wait_s=20.0, peel=peel)[1:4] == (True, low, high)
    assert window("second_press_s", 1.0, second_press_s=4.0, peel=peel)[2:4] == (3.0, 5.0)


def test_an_inverted_window_does_not_count_and_is_named() -> None:
    result = found([piece(dwell_s=15.0)], [recipe(dwell_low_s=16.0, dwell_high_s=14.0)])
    fault, = result.faults
    assert (fault.quantity, fault.what, fault.version) == ("dwell_s", "inverted", "1")
    assert one(result, "dwell_s").n_no_window == 1 and not result.rows


def test_a_target_outside_its_own_window_is_named_and_the_window_counts() -> None:
    result = found([piece(dwell_s=15.0)],
                   [recipe(dwell_s=18.0, dwell_low_s=14.0, dwell_high_s=16.0)])
    assert [(one.quantity, one.what) for one in result.faults] == [("dwell_s", "target_outside")]
    assert one(result, "dwell_s").n_inside == 1


def test_faults_of_versions_still_to_come_are_not_known_yet() -> None:
    late = recipe(version="2", valid_from=at(31), dwell_low_s=16.0, dwell_high_s=14.0)
    assert found([piece(dwell_s=15.0)], [recipe(dwell_s=15.0), late]).faults == ()


def test_classes_stand_in_the_order_of_the_vocabulary() -> None:
    places = class_places(Coded(np.array([0, 1, 2, -1]), ("firm", "light", "iron")))
    assert places[:2].tolist() == [3.0, 0.0] and np.isnan(places[2:]).all()
