"""Settings as a form, kinds of defect, people, the first run, and what the alarm budget costs."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from qc.config import SETTINGS
from qc.desk.budget_cost import CHOICES, budget_costs
from qc.desk.first_run import STEPS, first_run
from qc.desk.flags import current_flags
from qc.desk.house_settings import keep_settings, settings_history, settings_shown
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.own_kinds import add_own_kind, kinds_of_shop
from qc.desk.people import people
from qc.desk.shop import Shop, change_setting, open_shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.errors import FormError, InputError
from qc.store import Store
from qc.store.checking import check_store
from qc.store.codes import known_codes
from qc.store.inspections import add_inspections
from qc.store.settings import read_settings
from tests.dashboard.small_shop import END_US, build_shop

NOW = 1_780_000_000_000_000


@pytest.fixture
def shop(store: Store) -> Shop:
    return Shop(store, read_settings(store))


def shown(shop: Shop) -> dict[str, str]:
    return {one.setting.name: one.text for one in settings_shown(shop)}


def look(piece: str, at_us: int, **more: object) -> dict[str, object]:
    return {"piece_id": piece, "attempt": 1, "inspected_at": at_us, "pressed_at": at_us,
            "stage": "final", "press": "P1", "fabric": "tee", "transfer": "film",
            "disposition": "pass", "pieces": 1} | more


def add_looks(shop: Shop, *looks: dict[str, object], by: str = "Zoe") -> None:
    none = pd.DataFrame({"row": [], "kind": [], "zone": [], "extent_mm": [], "n": []})
    add_inspections(shop.store, pd.DataFrame(list(looks)), none.astype({"row": int, "n": int}),
                    by=by, at_us=NOW, source="f",
                    new_codes={"presses": ["P1"], "fabrics": ["tee"], "transfers": ["film"]})


def test_settings_are_kept_together_with_who_and_when(shop: Shop) -> None:
    after, changed = keep_settings(
        shop, {"shop_name": " Quillmere Press ", "false_flags_per_week": "0,5", "currency": ""},
        by=" Ann ", at_us=NOW)
    assert changed == ("shop_name", "false_flags_per_week")
    assert (after.name, after.settings["false_flags_per_week"]) == ("Quillmere Press", "0.5")
    keep_settings(after, {"false_flags_per_week": "1"}, by="Rui", at_us=NOW + 9)
    steps = settings_history(after, as_of_us=NOW + 9)
    assert [(one.name, one.before, one.after, one.by, one.at_us) for one in steps] == [
        ("false_flags_per_week", "0.5", "1", "Rui", NOW + 9),
        ("false_flags_per_week", "0.25", "0.5", "Ann", NOW),
        ("shop_name", "", "Quillmere Press", "Ann", NOW)]
    assert [one.was_default for one in steps] == [False, True, True]
    assert len(settings_history(after, as_of_us=NOW)) == 2


def test_one_wrong_setting_keeps_all_from_being_kept(shop: Shop) -> None:
    with pytest.raises(FormError) as refused:
        keep_settings(shop, {"shop_name": "Q", "timezone": "Mars/Base", "guard_factor": "2",
                             "shift_starts": "25:00", "baseline_from": "soon",
                             "defect_cost": "dear"}, by="Ann", at_us=NOW)
    told = refused.value.by_field
    assert set(told) == {"timezone", "guard_factor", "shift_starts", "baseline_from", "defect_cost"}
    assert told["guard_factor"] == ("'2' cannot be; allowed: 0 to 1 times U",)
    assert "no time zone 'Mars/Base'" in told["timezone"][0]
    assert told["shift_starts"] == ("'25:00' cannot be; write clock times as 06:00,14:00",)
    assert shop.store.change_number() == 0
    with pytest.raises(InputError, match="nobody is named"):
        keep_settings(shop, {"shop_name": "Q"}, by=" ", at_us=NOW)


def test_settings_are_read_and_written_in_the_shops_units(shop: Shop) -> None:
    for name, value in (("temperature_unit", "f"), ("pressure_unit", "psi")):
        shop = change_setting(shop, name=name, value=value, by="Ann", at_us=NOW)
    one = {form.setting.name: form for form in settings_shown(shop)}["probe_uncertainty_c"]
    # 3.8 K of difference are 6.84 degF, without the 32
    assert (one.text, one.symbol, one.low, one.high) == ("6.84", "°F", "0", "90")
    after, changed = keep_settings(shop, shown(shop) | {"probe_uncertainty_c": "9"}, by="Ann",
                                   at_us=NOW)
    assert changed == ("probe_uncertainty_c",)
    assert after.settings["probe_uncertainty_c"] == "5"
    assert after.settings["pressure_tolerance_kpa"] == "35"  # not touched: no drift
    with pytest.raises(FormError, match="allowed: 0 to 90 °F"):
        keep_settings(after, {"probe_uncertainty_c": "91"}, by="Ann", at_us=NOW)
    assert set(shown(shop)) == {setting.name for setting in SETTINGS}


def test_a_shop_adds_its_own_kind_of_defect(shop: Shop) -> None:
    assert add_own_kind(shop, " Glue  spots ", by="Ann", at_us=NOW) == "glue_spots"
    (own,) = kinds_of_shop(shop)
    assert (own.code, own.by, own.at_us) == ("glue_spots", "Ann", NOW)
    assert "glue_spots" in known_codes(shop.store)["kinds"]
    before = shop.store.change_number()
    for words, told in (("glue spots", "on the list already"), ("Scorch", "on the list already"),
                        ("lifted edge or corner", "on the list already"),
                        ("Glue-spots", "on the list already, as Glue spots"),
                        ("Misplacement offset", "already, as Misplacement .offset."),
                        ("", "it is needed"), ("a@b", "cannot be a kind"),
                        ("a;b", "cannot be a kind"), ("hot/cold", "cannot be a kind")):
        with pytest.raises(FormError, match=told):
            add_own_kind(shop, words, by="Ann", at_us=NOW)
    assert shop.store.change_number() == before and check_store(shop.store) == []


def test_people_are_those_named_in_the_records_and_the_changes(shop: Shop) -> None:
    add_looks(shop, *(look(f"A{i}", NOW - DAY_US, operator="Rui", inspector="Ann")
                      for i in range(3)), look("B", NOW - 2 * DAY_US, operator="Bea"))
    found = {one.name: one for one in people(shop)}
    assert {name: (one.n_pressed, one.n_looks, one.n_changes) for name, one in found.items()} == {
        "Zoe": (0, 0, 1), "Rui": (3, 0, 0), "Ann": (0, 3, 0), "Bea": (1, 0, 0)}
    assert [one.name for one in people(shop)][0] == "Zoe"
    assert found["Ann"].last_us == NOW - DAY_US
    assert found["Rui"].last_us == (NOW - DAY_US) // HOUR_US * HOUR_US
    assert people(shop)[-1].name == "Bea"


def test_the_first_run_knows_what_is_done(shop: Shop) -> None:
    assert (first_run(shop).done, first_run(shop).next_step) == (frozenset(), "shop")
    shop, _ = keep_settings(shop, {"shop_name": "Q"}, by="Ann", at_us=NOW)
    assert first_run(shop).next_step == "shop"  # where it stands was not asked yet
    zone = {"timezone": shop.settings["timezone"]}
    shop, kept = keep_settings(shop, zone, by="Ann", at_us=NOW, meant=("timezone",))
    assert kept == ("timezone",) and first_run(shop).next_step == "press"
    assert keep_settings(shop, zone, by="Ann", at_us=NOW, meant=("timezone",))[1] == ()
    for kind, texts in (("presses", {"press": "P1"}), ("fabrics", {"fabric": "tee"})):
        keep_record(shop, RecordWritten(kind=kind, texts=texts), by="Ann", at_us=NOW)
    assert first_run(shop).next_step == "material"
    keep_record(shop, RecordWritten(kind="transfers", texts={"transfer": "film"}), by="Ann",
                at_us=NOW)
    assert first_run(shop).next_step == "record" and not first_run(shop).is_over
    add_looks(shop, look("A1", NOW - DAY_US))
    assert first_run(shop).is_over and first_run(shop).done == frozenset(STEPS)


def test_an_empty_shop_cannot_say_what_its_budget_costs(shop: Shop) -> None:
    costs = budget_costs(shop, as_of_us=NOW)
    assert {one.days for one in costs.choices} == {None} and costs.streams == ()
    assert costs.chosen.false_flags_per_week == 0.25


def test_fewer_false_flags_cost_a_longer_wait(tmp_path: Path) -> None:
    made = build_shop(tmp_path)
    costs = budget_costs(made, as_of_us=END_US)
    assert [one.false_flags_per_week for one in costs.choices] == sorted(CHOICES)
    days = [one.days if one.days is not None else 99.0 for one in costs.choices]
    assert days == sorted(days, reverse=True) and days[0] > days[-1]
    flags = current_flags(made, as_of_us=END_US)
    assert costs.chosen.days == flags.doubling_delay_days
    assert costs.n_streams == flags.n_streams
    other = change_setting(made, name="false_flags_per_week", value="0.3", by="t", at_us=END_US)
    mine = budget_costs(other, as_of_us=END_US)
    assert mine.chosen.false_flags_per_week == 0.3 and len(mine.choices) == len(CHOICES) + 1
    made.store.close()


def test_an_open_shop_is_read_anew_after_a_change(tmp_path: Path) -> None:
    made = open_shop(str(tmp_path / "shop.db"), create=True)
    after, _ = keep_settings(made, {"timezone": "Europe/Lisbon"}, by="Ann", at_us=NOW)
    assert after.zone.key == "Europe/Lisbon"
    made.store.close()
