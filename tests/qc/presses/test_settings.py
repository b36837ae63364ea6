"""Settings against recipe: each piece once, by press and quantity, the worst first."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from qc.domain.recipes import SETTING_QUANTITIES, SETTING_STATES
from qc.presses.settings_drift import weighted_quantiles
from tests.qc.presses.recipes_made import at, found, one, piece, random_shop, recipe
from tests.reference import settings as plain

DWELL = recipe(dwell_s=15.0, dwell_low_s=14.0, dwell_high_s=16.0)
PUBLISHED = Path(__file__).parents[2] / "published"


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("around", [0.0, 2.0])
def test_every_piece_has_the_state_a_plain_loop_gives_it(seed: int, around: float) -> None:
    pieces, recipes = random_shop(np.random.default_rng(seed))
    if not recipes:
        return
    result = found(pieces, recipes, **dict.fromkeys(plain.LIMITS, around))
    rows = {(row.press, row.quantity): row for row in (*result.rows, *result.untold)}
    for quantity in set(SETTING_QUANTITIES) - {"actual_temperature_c"}:
        for press, states in plain.counts(pieces, recipes, quantity, around).items():
            row = rows.get((press, quantity))
            if row is None:  # nothing to tell, or only gaps of a kind this press does not show
                assert not set(states) & {"below", "above", "other", "inside", "no_window"}
                continue
            counted = {name: getattr(row, f"n_{name}") for name in SETTING_STATES
                       if name != "not_asked"}
            assert counted == {name: states[name] for name in counted}


def test_limits_are_inside_and_blocks_count_as_their_pieces() -> None:
    values = (13.9, 14.0, 15.0, 16.0, 16.1)
    row = one(found([piece(dwell_s=value, n=7) for value in values], [DWELL]), "dwell_s")
    assert (row.n_below, row.n_inside, row.n_above) == (7, 21, 7)
    assert (row.n_outside, row.n_told, row.share) == (14, 35, 14 / 35)


def test_the_interval_is_the_published_one() -> None:
    """Newcombe (1998), Table I, method 3: 81 of 263."""
    case = json.loads((PUBLISHED / "newcombe_1998_intervals.json").read_text())["cases"][0]
    bad, n = case["n_defective"], case["n_inspected"]
    row = one(found([piece(dwell_s=10.0, n=bad), piece(dwell_s=15.0, n=n - bad)], [DWELL]),
              "dwell_s")
    assert [row.share_low, row.share_high] == pytest.approx(case["wilson"], abs=0.00005)


def test_what_was_not_recorded_is_not_in_the_share() -> None:
    row = one(found([piece(dwell_s=10.0), piece(n=9), piece(dwell_s=15.0)], [DWELL]), "dwell_s")
    assert (row.n_not_recorded, row.n_told, row.share) == (9, 2, 0.5)


def test_a_new_version_in_the_middle_and_who_went_on_by_the_old() -> None:
    new = recipe(version="2", valid_from=at(15), dwell_s=12.0, dwell_low_s=11.0, dwell_high_s=13.0)
    pieces = [piece(day, dwell_s=15.0) for day in (10, 14.9, 15, 20)]
    row = one(found([*pieces, piece(20, dwell_s=9.0), piece(20, dwell_s=12.0)], [DWELL, new]),
              "dwell_s")
    assert (row.n_inside, row.n_above, row.n_below, row.n_as_before) == (3, 2, 1, 2)
    assert (row.first_us, row.last_us, row.n_before_first) == (at(15), at(20), 2)
    assert row.off_median == 0.0  # of 0, 0, 3, 3, -3, 0 against the target of its own day


def test_by_whom_and_on_what() -> None:
    other = DWELL | {"fabric": "jersey"}
    pieces = [piece(dwell_s=10.0, n=3), piece(dwell_s=15.0, n=4, operator="Rui"),
              piece(dwell_s=17.0, n=5, operator="Rui", fabric="jersey"),
              piece(dwell_s=17.0, operator=None)]
    row = one(found(pieces, [DWELL, other]), "dwell_s")
    assert [(it.operator, it.n_outside, it.n_told) for it in row.operators] == [
        ("Rui", 5, 9), ("Ana", 3, 3), (None, 1, 1)]
    assert [(it.fabric, it.transfer, it.n_outside, it.n_told) for it in row.pairs] == [
        ("jersey", "film", 5, 5), ("rib", "film", 4, 8)]


def test_the_worst_come_first() -> None:
    pieces = [piece(press="P1", dwell_s=10.0, n=2), piece(press="P2", dwell_s=10.0, n=5),
              piece(press="P3", dwell_s=15.0), piece(press="P4", dwell_s=10.0, n=2),
              piece(press="P4", dwell_s=15.0, n=2)]
    assert [row.press for row in found(pieces, [DWELL]).rows] == ["P2", "P1", "P4", "P3"]


def test_kinds_of_pressure_are_never_converted() -> None:
    asked = recipe(pressure_dial=5.0, pressure_low_dial=4.0, pressure_high_dial=6.0)
    result = found([piece(pressure_kpa=280.0, n=4), piece(pressure_class="firm")], [asked])
    assert result.rows == ()
    row, = result.untold
    assert (row.quantity, row.n_other_kind, row.n_not_recorded) == ("pressure_dial", 5, 0)


def test_a_press_that_shows_one_of_two_kinds_asked_for_has_no_gap() -> None:
    asked = recipe(pressure_kpa=280.0, pressure_low_kpa=240.0, pressure_high_kpa=320.0,
                   pressure_dial=5.0, pressure_low_dial=4.0, pressure_high_dial=6.0)
    pieces = [piece(pressure_kpa=400.0), piece(press="P2", pressure_dial=5.0), piece()]
    result = found(pieces, [asked])
    assert [(row.press, row.quantity, row.n_outside) for row in result.rows] == [
        ("P1", "pressure_kpa", 1), ("P2", "pressure_dial", 0)]
    assert result.untold == ()
    assert one(result, "pressure_kpa").n_not_recorded == 1


def test_a_class_is_held_against_the_class() -> None:
    pieces = [piece(pressure_class=name) for name in ("light", "medium", "medium", "firm", "heavy")]
    row = one(found(pieces, [recipe(pressure_class="medium")]), "pressure_class")
    assert (row.n_below, row.n_inside, row.n_above) == (1, 2, 2)
    assert (row.off_median, row.drift) == (None, None)
    row = one(found([piece(pressure_class="firm", n=3), piece(pressure_class="light")],
                    [recipe(pressure_class="medium")]), "pressure_class")
    assert (row.most_set, row.most_asked) == ("firm", "medium")


def test_a_cover_is_the_recipes_or_another() -> None:
    pieces = [piece(cover="Matt  sheet"), piece(cover="parchment", n=2), piece()]
    row = one(found(pieces, [recipe(cover="matt sheet")]), "cover")
    assert (row.n_inside, row.n_other, row.n_not_recorded) == (1, 2, 1)
    assert (row.most_set, row.most_asked) == ("parchment", "matt sheet")


def test_a_limit_copied_from_degrees_fahrenheit_is_met_by_a_reading_on_it() -> None:
    """300 degF is 148.89 degC; a recipe that says 148.9 means the same."""
    asked = recipe(temperature_c=151.7, temperature_low_c=148.9, temperature_high_c=154.4)
    shown = [piece(temperature_c=(f - 32) / 1.8) for f in (299, 300, 310, 311)]
    row = one(found(shown, [asked]), "temperature_c")
    assert (row.n_below, row.n_inside, row.n_above) == (1, 2, 1)


def test_pieces_with_nothing_recorded_cannot_be_told() -> None:
    result = found([piece(n=6), piece(press="P2", dwell_s=15.0)], [DWELL])
    pair, = result.without
    assert (pair.why, pair.n_pieces) == ("nothing_recorded", 6)
    assert [(row.press, row.n_not_recorded) for row in result.untold] == [("P1", 6)]


def test_no_pieces_no_rows() -> None:
    result = found([], [DWELL])
    assert (result.n_pieces, result.rows, result.untold, result.without) == (0, (), (), ())


def test_a_default_window_is_told_as_one() -> None:
    row = one(found([piece(dwell_s=13.0, n=3), piece(dwell_s=15.0)], [recipe(dwell_s=15.0)],
                    dwell_s=1.0), "dwell_s")
    assert (row.n_outside, row.n_by_default) == (3, 4)
    assert one(found([piece(dwell_s=13.0)], [recipe(dwell_s=15.0)]), "dwell_s").n_no_window == 1


def moving(slope: float, seed: int = 3, n_days: int = 25) -> list[dict]:
    rng = np.random.default_rng(seed)
    return [piece(day + rng.uniform(0.1, 0.9), dwell_s=15.0 + slope * day + rng.normal(0, 0.2))
            for day in range(n_days) for _ in range(9)]


def test_what_people_set_drifts_or_does_not() -> None:
    moved, still = (one(found(moving(slope), [DWELL]), "dwell_s").drift for slope in (0.05, 0.0))
    assert moved is not None and moved.stands_out and moved.low < 0.05 < moved.high
    assert still is not None and not still.stands_out and still.low < 0 < still.high
    assert moved.n_days == still.n_days == 25


def test_the_slope_is_that_of_the_days_medians() -> None:
    pieces = moving(0.05)
    days = [int((it["pressed_at"] - at(0)) // 86_400_000_000) for it in pieces]
    medians = [np.median([it["dwell_s"] - 15 for it, day in zip(pieces, days, strict=True)
                          if day == wanted]) for wanted in range(25)]
    drift = one(found(pieces, [DWELL]), "dwell_s").drift
    assert drift is not None
    theirs = stats.theilslopes(medians, np.arange(25), method="joint")
    assert drift.per_day == pytest.approx(theirs.slope, rel=1e-9)


def test_a_new_version_is_no_drift() -> None:
    """What people set stayed; the target stepped under it."""
    new = DWELL | {"version": "2", "valid_from": at(12), "dwell_s": 14.5}
    assert one(found(moving(0.0), [DWELL, new]), "dwell_s").drift is None
    other = [it | {"fabric": "jersey"} for it in moving(0.05)]
    row = one(found([*moving(0.0), *other], [DWELL, new, DWELL | {"fabric": "jersey"}]), "dwell_s")
    assert row.drift is not None and row.drift.stands_out and row.drift.low < 0.05 < row.drift.high


def test_four_days_are_too_few_for_a_slope() -> None:
    assert one(found(moving(0.5, n_days=4), [DWELL]), "dwell_s").drift is None
    assert one(found(moving(0.5, n_days=5), [DWELL]), "dwell_s").drift is not None


def test_chance_alone_seldom_looks_like_a_drift() -> None:
    """Of 60 shops with five steady presses the 5 % of Benjamini and Hochberg (1995) name few."""
    named = 0
    for seed in range(60):
        pieces = [it | {"press": f"P{k}"} for k in range(5) for it in moving(0.0, 10 * seed + k)]
        named += any(row.drift is not None and row.drift.stands_out
                     for row in found(pieces, [DWELL]).rows)
    assert named <= 7  # of 60 at 5 % more than 7 come once in 100 such runs


@pytest.mark.parametrize("seed", range(5))
def test_quantiles_of_blocks_are_those_of_their_pieces(seed: int) -> None:
    rng = np.random.default_rng(seed)
    value, weight = np.sort(rng.normal(size=30)), rng.integers(1, 9, 30)
    at_ = (0.05, 0.25, 0.5, 0.95)
    theirs = np.quantile(np.repeat(value, weight), at_, method="averaged_inverted_cdf")
    assert weighted_quantiles(value, weight, at_) == pytest.approx(theirs, rel=1e-12)
