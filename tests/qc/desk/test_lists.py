"""The shop's lists: added to, changed with every version kept, refused in words at the field."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.lists import (
    LISTS,
    key_fields,
    list_kind,
    listed,
    natural,
    newest_jobs,
    one_listed,
    past_versions,
    range_of,
    symbol_of,
    text_of,
)
from qc.desk.shop import Shop, change_setting
from qc.domain.recipes import version_that_counts
from qc.domain.records import FABRICS, RECIPES, RECORD_KINDS
from qc.errors import Conflict, FormError, InputError, NotFound
from qc.presses.recipes import coded, recipes_applied
from qc.store import Store
from qc.store.checking import check_store
from qc.store.records import add_records, read_records
from qc.store.settings import read_settings

NOW = 1_780_000_000_000_000


@pytest.fixture
def shop(store: Store) -> Shop:
    made = Shop(store, read_settings(store))
    keep(made, "fabrics", fabric="tee", cotton_pct="100")
    keep(made, "transfers", transfer="film")
    return made


def keep(shop: Shop, kind: str, /, at: int = 0, key: tuple[str, ...] | None = None,
         seen: int | None = None, by: str = "Ann", **texts: str) -> Any:
    return keep_record(shop, RecordWritten(kind=kind, texts=texts, key=key, seen=seen), by=by,
                       at_us=NOW + at)


def texts_of(shop: Shop, kind: str, key: tuple[str, ...]) -> dict[str, str]:
    record = one_listed(shop, kind, key, as_of_us=NOW + 99)
    return {field.name: text_of(field, record.values[field.name], shop)
            for field in list_kind(kind).fields}


def in_american_units(shop: Shop) -> Shop:
    for name, value in (("temperature_unit", "f"), ("length_unit", "in"), ("pressure_unit", "psi")):
        shop = change_setting(shop, name=name, value=value, by="Ann", at_us=NOW)
    return shop


def test_every_list_can_be_added_to_from_its_fields_alone(shop: Shop) -> None:
    keep(shop, "presses", press="P1")
    for kind in LISTS:
        record = list_kind(kind)
        texts = {}
        for field in record.fields:
            if field.choices:
                texts[field.name] = field.choices[0]
            elif field.listed:
                texts[field.name] = {"fabrics": "tee", "transfers": "film"}[field.listed]
            elif field.kind == "yes_no":
                texts[field.name] = "yes"
            elif field.is_text:
                texts[field.name] = "Z9"
            elif field.kind == "instant":
                texts[field.name] = "2026-03-01T14:30"
            else:
                texts[field.name] = str(int(field.low or 1) + 1)
        assert keep(shop, kind, **texts).became == "new", kind
        record_now = one_listed(shop, kind, [texts[name] for name in key_fields(kind)],
                                as_of_us=NOW)
        filled = {name for name, value in record_now.values.items() if value is not None}
        assert filled == {field.name for field in record.fields}, kind
    assert check_store(shop.store) == []


def test_a_change_is_a_new_version_and_the_old_one_stays_readable(shop: Shop) -> None:
    keep(shop, "presses", press="P1", temperature_tolerance_c="5", name="the old one")
    kept = keep(shop, "presses", 10, key=("P1",), by="Rui", press="P1", name="the old one",
                temperature_tolerance_c="3,5")
    assert (kept.became, kept.version) == ("changed", "2")
    new, old = past_versions(shop, "presses", ("P1",), as_of_us=NOW + 10)
    assert (new.by, new.at_us, old.by, old.at_us) == ("Rui", NOW + 10, "Ann", NOW)
    assert [(c.field, c.before, c.after) for c in new.changes] == [
        ("temperature_tolerance_c", 5.0, 3.5)]
    assert (new.counts, old.counts) == (True, False)
    assert old.values["temperature_tolerance_c"] == 5.0
    one = one_listed(shop, "presses", ("P1",), as_of_us=NOW + 9)
    assert (one.values["temperature_tolerance_c"], one.n_versions) == (5.0, 1)


def test_what_goes_back_to_what_it_was_is_a_version_too(shop: Shop) -> None:
    keep(shop, "transfers", 1, key=("film",), transfer="film", kind="cut film")
    keep(shop, "transfers", 2, key=("film",), transfer="film", kind="")
    versions = past_versions(shop, "transfers", ("film",), as_of_us=NOW + 2)
    assert [one.counts for one in versions] == [True, False, False]
    assert [one.values["kind"] for one in versions] == [None, "cut film", None]


def test_a_field_that_is_not_written_stays_as_it_is(shop: Shop) -> None:
    keep(shop, "fabrics", 1, key=("tee",), surface="smooth")
    keep(shop, "recipes", 1, fabric="tee", transfer="film", dwell_s="12", valid_from="2026-01-01")
    keep(shop, "recipes", 2, key=("tee", "film"), peel="hot")
    texts = texts_of(shop, "fabrics", ("tee",))
    assert (texts["cotton_pct"], texts["surface"]) == ("100", "smooth")
    new = past_versions(shop, "recipes", ("tee", "film"), as_of_us=NOW + 2)[0].values
    assert (new["dwell_s"], new["peel"], new["valid_from"]) == (12.0, "hot", NOW + 2)


def test_nothing_changed_is_no_version(shop: Shop) -> None:
    before = shop.store.change_number()
    kept = keep(shop, "fabrics", 5, key=("tee",), fabric="tee", cotton_pct="100.0")
    assert kept.became == "same" and shop.store.change_number() == before


def test_a_recipe_gets_a_new_number_that_counts_from_now(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", temperature_c="150", dwell_s="12")
    kept = keep(shop, "recipes", 60_000_000, key=("tee", "film"), temperature_c="155", dwell_s="12")
    assert (kept.became, kept.version) == ("changed", "2")
    new, old = past_versions(shop, "recipes", ("tee", "film"), as_of_us=NOW + 60_000_000)
    assert (new.version, old.version) == ("2", "1") and new.counts and not old.counts
    assert new.values["valid_from"] == NOW + 60_000_000 and old.values["valid_from"] is None
    assert {c.field for c in new.changes} == {"temperature_c", "valid_from"}
    (one,) = listed(shop, "recipes", as_of_us=NOW + 60_000_000)
    assert one.values["temperature_c"] == 155.0
    (then,) = listed(shop, "recipes", as_of_us=NOW + 59_999_999)
    assert then.values["temperature_c"] == 150.0


def test_a_recipe_for_later_does_not_count_yet(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", valid_from="2030-01-01T00:00")
    (one,) = listed(shop, "recipes", as_of_us=NOW)
    assert not one.counts
    (version,) = past_versions(shop, "recipes", ("tee", "film"), as_of_us=NOW)
    assert not version.counts


@pytest.mark.parametrize("seed", range(20))
def test_the_version_that_counts_is_the_one_pieces_are_held_against(seed: int) -> None:
    rng = np.random.default_rng(seed)
    since = [None if rng.random() < 0.3 else int(rng.integers(1, 6)) for _ in range(4)]
    recipes = pd.DataFrame({"fabric": "tee", "transfer": "film",
                            "valid_from": pd.array(since, dtype="Int64")})
    one = coded(pd.Series(["tee"] * 7)), coded(pd.Series(["film"] * 7))
    applied = recipes_applied(*one, np.arange(7), recipes).now
    mine = [version_that_counts(since, at) for at in range(7)]
    assert [-1 if place is None else place for place in mine] == applied.tolist()


@pytest.mark.parametrize(("kind", "texts", "field", "told"), [
    ("recipes", {"fabric": "tee", "transfer": "film", "temperature_low_c": "165",
                 "temperature_high_c": "155"}, "temperature_high_c", "is below"),
    ("recipes", {"fabric": "tee", "transfer": "film", "dwell_low_s": "9", "dwell_s": "8"},
     "dwell_s", "dwell_s is below dwell_low_s"),
    ("recipes", {"fabric": "silk", "transfer": "film"}, "fabric",
     "fabric 'silk' is not on the list of fabrics; add it there first"),
    ("recipes", {"transfer": "film"}, "fabric", "fabric is blank: it is needed"),
    ("recipes", {"fabric": "tee", "transfer": "film", "peel": "lukewarm"}, "peel",
     "allowed: hot, warm, cool, cold"),
    ("presses", {"press": "P1", "platen_width_mm": "wide"}, "platen_width_mm",
     "'wide', not a number"),
    ("presses", {"press": "P1", "platen_width_mm": "1"}, "platen_width_mm", "allowed: 10 to 5000"),
    ("fabrics", {"fabric": "mix", "cotton_pct": "80", "polyester_pct": "40"}, "cotton_pct",
     "more than 100 %"),
    ("fabrics", {"fabric": "tee"}, "fabric", "on the list already; open it"),
    ("fabrics", {"fabric": "Tee"}, "fabric", "in other letters"),
    ("jobs", {"job": "J1", "ordered": "12.5"}, "ordered", "must be a whole number"),
    ("jobs", {"job": "J1", "shipped_at": "tomorrow"}, "shipped_at", "not a time"),
])
def test_what_cannot_be_is_said_at_its_field_and_nothing_is_kept(
    shop: Shop, kind: str, texts: dict[str, str], field: str, told: str
) -> None:
    before = shop.store.change_number()
    with pytest.raises(FormError) as refused:
        keep(shop, kind, **texts)
    assert list(refused.value.by_field) == [field]
    assert told in refused.value.by_field[field][0]
    assert shop.store.change_number() == before


def test_all_that_is_wrong_is_said_at_once(shop: Shop) -> None:
    with pytest.raises(FormError) as refused:
        keep(shop, "presses", press="", check_every_days="often", heated_lower="maybe")
    assert set(refused.value.by_field) == {"press", "check_every_days", "heated_lower"}


def test_two_people_at_one_record(shop: Shop) -> None:
    keep(shop, "fabrics", 1, key=("tee",), seen=1, by="Rui", fabric="tee", cotton_pct="95")
    with pytest.raises(Conflict, match="Rui has changed it"):
        keep(shop, "fabrics", 2, key=("tee",), seen=1, fabric="tee", cotton_pct="90")
    assert texts_of(shop, "fabrics", ("tee",))["cotton_pct"] == "95"


def test_somebody_must_be_named(shop: Shop) -> None:
    for by in ("", "  ", "x" * 10_000):
        with pytest.raises(InputError, match="name"):
            keep(shop, "fabrics", by=by, fabric="new")


def test_a_code_from_a_file_gets_its_row(shop: Shop) -> None:
    add_records(shop.store, "transfers", pd.DataFrame({"transfer": ["film"]}), by="x", at_us=NOW,
                source=None, new_codes={"fabrics": ["rib"]})
    one = one_listed(shop, "fabrics", ("rib",), as_of_us=NOW)
    assert one.code_only
    assert keep(shop, "fabrics", 1, key=("rib",), surface="ribbed").became == "changed"
    assert not one_listed(shop, "fabrics", ("rib",), as_of_us=NOW + 1).code_only


def test_the_shops_own_units_go_in_and_come_out(shop: Shop) -> None:
    american = in_american_units(shop)
    keep(american, "presses", press="P1", temperature_tolerance_c="9", platen_width_mm="16")
    keep(american, "recipes", fabric="tee", transfer="film", temperature_c="320", pressure_kpa="40")
    press = read_records(shop.store, "presses").iloc[0]
    recipe = read_records(shop.store, "recipes").iloc[0]
    # 9 degF of difference = 5 K, 16 in = 406.4 mm, 320 degF = 160 degC: exact by definition;
    # 1 psi = 6.894757 kPa: NIST SP 811, B.8
    assert press["temperature_tolerance_c"] == pytest.approx(5)
    assert press["platen_width_mm"] == pytest.approx(406.4)
    assert recipe["temperature_c"] == pytest.approx(160)
    assert recipe["pressure_kpa"] == pytest.approx(275.79028)
    assert texts_of(american, "recipes", ("tee", "film"))["pressure_kpa"] == "40"
    field = RECIPES.by_name["temperature_c"]
    assert (symbol_of(field, american), range_of(field, american)) == ("°F", ("32", "752"))
    assert symbol_of(FABRICS.by_name["weight_gsm"], american) == "g/m²"
    with pytest.raises(FormError, match="allowed: 32 to 752 °F"):
        keep(american, "recipes", key=("tee", "film"), temperature_c="999")


def test_what_was_not_touched_does_not_drift_through_the_units(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", temperature_c="151.7", pressure_kpa="271",
         dwell_s="12.3456789")
    american = in_american_units(shop)
    texts = texts_of(american, "recipes", ("tee", "film")) | {"peel": "hot", "valid_from": ""}
    keep_record(american, RecordWritten(kind="recipes", texts=texts, key=("tee", "film")),
                by="Ann", at_us=NOW + 1)
    last = read_records(shop.store, "recipes").iloc[-1]
    assert (last["temperature_c"], last["pressure_kpa"], last["dwell_s"]) == (
        151.7, 271.0, 12.3456789)


def test_lists_are_in_the_order_people_count(shop: Shop) -> None:
    for press in ("P10", "P2", "A1", "9"):
        keep(shop, "presses", press=press)
    assert [one.key[0] for one in listed(shop, "presses", as_of_us=NOW)] == [
        "9", "A1", "P2", "P10"]
    assert natural("P2") < natural("P10") < natural("Q1")


def test_what_is_not_there_is_said(shop: Shop) -> None:
    for call in (lambda: one_listed(shop, "presses", ("P9",), as_of_us=NOW),
                 lambda: past_versions(shop, "recipes", ("tee",), as_of_us=NOW)):
        with pytest.raises(NotFound):
            call()
    with pytest.raises(InputError, match="no list"):
        listed(shop, "inspections", as_of_us=NOW)
    assert set(LISTS) < set(RECORD_KINDS)


def test_the_newest_jobs_and_those_in_the_house_are_found_without_the_rest(shop: Shop) -> None:
    jobs = [f"J-{at}" for at in range(1, 31)]
    left = [None if at in (2, 9, 30) else NOW for at in range(1, 31)]
    add_records(shop.store, "jobs", pd.DataFrame(
        {"job": jobs, "shipped_at": pd.array(left, dtype="Int64")}), by="Ann", at_us=NOW,
        source=None)
    found = [one.key[0] for one in newest_jobs(shop, as_of_us=NOW, at_most=3)]
    assert found == ["J-2", "J-9", "J-28", "J-29", "J-30"]
    everything = {one.key: one for one in listed(shop, "jobs", as_of_us=NOW)}
    assert newest_jobs(shop, as_of_us=NOW, at_most=99) == tuple(everything.values())
