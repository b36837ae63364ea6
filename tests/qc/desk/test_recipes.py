"""Settings against recipe out of a real store, and in the shop's words and units."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from qc.desk.correcting import WhichLook, correct
from qc.desk.recipe_words import SettingsInWords, settings_in_words
from qc.desk.recipes import settings_against_recipe
from qc.desk.shop import Shop, change_setting, open_shop
from qc.domain.instants import DAY_US
from qc.domain.recipes import SettingRow, SettingsAgainstRecipe
from qc.errors import InputError
from qc.store.records import add_records
from tests.qc.desk.recipe_shop import END_US, START_US, build_shop, load


@pytest.fixture
def shop(place: str, tmp_path: Path) -> Shop:
    """The shop on SQLite and on PostgreSQL."""
    return build_shop(tmp_path, place)


@pytest.fixture
def small(tmp_path: Path) -> Shop:
    return build_shop(tmp_path)


def row(found: SettingsAgainstRecipe, press: str, quantity: str) -> SettingRow:
    one, = [row for row in (*found.rows, *found.untold)
            if (row.press, row.quantity) == (press, quantity)]
    return one


def test_what_each_press_did_is_found(shop: Shop) -> None:
    found = settings_against_recipe(shop, as_of_us=END_US)
    assert (found.since_us, found.n_recipes) == (END_US - 30 * DAY_US, 3)
    # from the 2nd to the 30th five presses with ten pieces a day each; Elm's fabric has no recipe
    assert (found.n_pieces, found.n_with_recipe) == (1450, 1160)
    dwell = row(found, "Anvil", "dwell_s")
    assert [(row.press, row.n_outside) for row in found.rows][:4] == [
        ("Brook", 160), ("Anvil", 150), ("Cedar", 60), ("Cedar", 10)]
    assert (dwell.n_above, dwell.n_inside, dwell.n_as_before) == (150, 140, 150)
    assert {part.operator: part.n_outside for part in dwell.operators} == {"Ana": 100, "Rui": 50}
    heat = row(found, "Brook", "actual_temperature_c")
    assert (heat.n_below, heat.n_hidden) == (160, 160)
    assert row(found, "Brook", "temperature_c").n_outside == 0
    assert row(found, "Cedar", "pressure_class").n_above == 60
    assert row(found, "Cedar", "cover").n_other == 10
    assert row(found, "Dune", "dwell_s").n_not_recorded == 290
    assert [(pair.fabric, pair.why, pair.n_pieces) for pair in found.without] == [
        ("rib", "nothing_recorded", 290), ("velvet", "no_recipe", 290)]


def test_the_period_bounds_the_pressing(small: Shop) -> None:
    since = START_US + 20 * DAY_US
    found = settings_against_recipe(small, as_of_us=END_US - 5 * DAY_US, since_us=since)
    assert found.n_pieces == 6 * 5 * 10  # the 21st to the 26th
    assert row(found, "Anvil", "dwell_s").n_before_first == 0
    with pytest.raises(InputError, match="begins after it ends"):
        settings_against_recipe(small, as_of_us=since, since_us=since)


def test_looking_back_knows_nothing_later(small: Shop) -> None:
    found = settings_against_recipe(small, as_of_us=START_US + 14 * DAY_US)
    assert all(row.n_outside == 0 for row in found.rows)
    assert row(found, "Brook", "actual_temperature_c").n_told == 140


def test_a_correction_counts_from_when_it_was_made(small: Shop) -> None:
    which = WhichLook(piece_id="20-0")
    correct(small, which, ["dwell_s=12"], why="misread", by="Ana", at_us=END_US + DAY_US)
    before, after = (row(settings_against_recipe(small, as_of_us=END_US + days * DAY_US,
                                                 since_us=START_US), "Anvil", "dwell_s")
                     for days in (0, 2))
    assert (before.n_outside, after.n_outside) == (150, 140)


def test_later_looks_and_repairs_are_no_pieces_more(small: Shop, tmp_path: Path) -> None:
    head = "piece_id,inspected_at,pressed_at,press,fabric,transfer,location,attempt,stage,dwell_s,"
    rows = ["20-0,2026-01-21T09:30Z,2026-01-20T09:00Z,Anvil,rib,film,chest,1,after_24h,15,,10,0",
            "20-0,2026-01-21T10:30Z,2026-01-21T10:00Z,Anvil,rib,film,chest,2,final,30,,10,0"]
    (tmp_path / "more.csv").write_text("\n".join([f"{head}defects,pieces,defective", *rows]) + "\n")
    load(small, tmp_path / "more.csv")
    found = settings_against_recipe(small, as_of_us=END_US)
    assert (found.n_pieces, row(found, "Anvil", "dwell_s").n_outside) == (1450, 150)


def test_a_shop_without_recipes_is_told_nothing(tmp_path: Path) -> None:
    shop = open_shop(str(tmp_path / "empty.db"), create=True)
    words = settings_in_words(shop, as_of_us=END_US)
    assert (words.found.n_recipes, words.lines, words.untold, words.faults) == (0, (), (), ())


def said(words: SettingsInWords, press: str, what: str) -> tuple[str, str]:
    line, = [line for line in words.lines if (line.row.press, line.what) == (press, what)]
    return line.off_by, line.off_range


def test_words_say_who_when_and_why(small: Shop) -> None:
    words = settings_in_words(small, as_of_us=END_US)
    heat, dwell, *_ = words.lines
    assert (dwell.state, dwell.off_by, dwell.off_range) == ("outside", "+3.0 s", "0.0 to +3.0")
    assert (dwell.who, dwell.on, dwell.when) == (
        "Ana 100 of 190, Rui 50 of 100", "rib with film 150 of 290", "16 Jan to 30 Jan")
    assert dwell.notes == ("150 still as the version before asked",)
    assert dwell.row.drift is None  # what was set stayed; the target stepped
    assert (heat.row.press, heat.what, heat.who) == ("Brook", "actual temperature", "")
    assert "160 with the display inside its window" in heat.notes[0]
    assert said(words, "Cedar", "pressure class") == ("firm, not medium", "")
    assert said(words, "Cedar", "cover") == ("parchment, not matt sheet", "")
    assert words.heat_is_hidden


def test_differences_are_shown_in_the_shops_units(tmp_path: Path) -> None:
    """A difference of 9.5 degC is 17.1 degF, without the 32."""
    shop = build_shop(tmp_path, temperature_unit="f", pressure_unit="psi")
    words = settings_in_words(shop, as_of_us=END_US, since_us=START_US + 16 * DAY_US)
    assert said(words, "Brook", "actual temperature") == ("−17.1 °F", "−17.1 to −17.1")
    assert said(words, "Brook", "gauge pressure") == ("0 psi", "0 to 0")


def test_what_cannot_be_told_is_said_with_what_would_help(small: Shop) -> None:
    said = settings_in_words(small, as_of_us=END_US).untold
    wanted = (
        "Actual temperature at Anvil: no survey of the upper platen in the 14 days before"
        " (290 pieces).",
        "Temperature shown, dwell and gauge pressure at Dune: asked for by the recipes, not"
        " recorded (290 pieces).",
        "290 pieces without a recipe: velvet with film 290.",
        "290 pieces without any setting recorded: rib with film 290.",
    )
    for sentence in wanted:
        assert sentence in said, sentence
    assert "Peel wait at Anvil, Brook and Dune" in " ".join(said)


def test_a_default_window_is_the_shops_own_and_said(small: Shop, tmp_path: Path) -> None:
    (tmp_path / "waits.csv").write_text(
        "fabric,transfer,version,peel,peel_wait_s\nvelvet,film,1,cold,60\n")
    (tmp_path / "more.csv").write_text(
        "piece_id,inspected_at,press,fabric,transfer,peel_wait_s,defects\n"
        "v1,2026-01-30T09:00Z,Elm,velvet,film,30,\nv2,2026-01-30T09:01Z,Elm,velvet,film,300,\n")
    load(small, tmp_path / "waits.csv", tmp_path / "more.csv")
    told = " ".join(settings_in_words(small, as_of_us=END_US).untold)
    assert "The setting recipe_peel_wait_window_s would give one." in told
    shop = change_setting(small, name="recipe_peel_wait_window_s", value="10", by="t", at_us=END_US)
    words = settings_in_words(shop, as_of_us=END_US)
    wait, = [line for line in words.lines if line.what == "peel wait"]
    assert (wait.row.n_below, wait.row.n_above, wait.row.n_inside) == (1, 0, 1)
    assert "2 by the shop's default window (recipe_peel_wait_window_s)" in wait.notes


def test_an_inverted_window_of_an_older_store_is_named(small: Shop) -> None:
    """Intake refuses one now; what came in before stays as it was."""
    add_records(small.store, "recipes", pd.DataFrame({
        "fabric": ["velvet"], "transfer": ["film"], "version": ["7"],
        "dwell_low_s": [16.0], "dwell_high_s": [14.0]}), by="test", at_us=END_US, source=None)
    assert settings_in_words(small, as_of_us=END_US).faults == (
        "Recipe of velvet with film, version 7: the window of its dwell is upside down and does"
        " not count.",)
