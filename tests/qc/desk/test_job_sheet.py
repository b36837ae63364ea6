"""What a job's sheet knows: the lists of the shop as of a moment, the recipe that counts then."""

from __future__ import annotations

import pytest

from qc.desk.job_sheet import job_sheet
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.shop import Shop, change_setting
from qc.errors import NotFound
from qc.store import Store
from qc.store.settings import read_settings

NOW = 1_780_000_000_000_000
LATER = NOW + 3_600_000_000


def keep(shop: Shop, kind: str, /, at: int = NOW, key: tuple[str, ...] | None = None,
         **texts: str) -> None:
    keep_record(shop, RecordWritten(kind=kind, texts=texts, key=key), by="Ann", at_us=at)


@pytest.fixture
def shop(store: Store) -> Shop:
    made = Shop(store, read_settings(store))
    keep(made, "fabrics", fabric="tee", heat_limit_c="165")
    keep(made, "transfers", transfer="film")
    keep(made, "placements", location="back", reference="neck seam")
    keep(made, "jobs", job="J/1", fabric="tee", transfer="film", location="back", ordered="12")
    return made


def test_a_job_with_all_that_is_known_of_it(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", temperature_c="150",
         temperature_low_c="145", dwell_high_s="14", peel="hot", second_press_s="3")
    sheet = job_sheet(shop, "J/1", as_of_us=NOW)
    assert sheet.fabric and sheet.place and sheet.fabric["heat_limit_c"] == 165.0
    assert sheet.place["reference"] == "neck seam"
    assert [(s.name, s.target, s.low, s.high, s.symbol) for s in sheet.settings] == [
        ("temperature_c", "150", "145", "", "°C"), ("dwell_s", "", "", "14", "s"),
        ("peel", "hot", "", "", ""), ("second_press_s", "3", "", "", "s")]


def test_the_recipe_is_the_one_that_counts_then(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", temperature_c="150")
    keep(shop, "recipes", LATER, key=("tee", "film"), temperature_c="155")
    then, now = (job_sheet(shop, "J/1", as_of_us=at) for at in (NOW, LATER))
    assert (then.settings[0].target, now.settings[0].target) == ("150", "155")
    assert now.recipe and now.recipe.values["version"] == "2"


def test_in_the_shops_units(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", temperature_c="160")
    american = change_setting(shop, name="temperature_unit", value="f", by="Ann", at_us=NOW)
    one = job_sheet(american, "J/1", as_of_us=NOW).settings[0]
    assert (one.target, one.symbol) == ("320", "°F")  # 160 degC, exact by definition


def test_no_recipe_is_no_guess(shop: Shop) -> None:
    keep(shop, "recipes", fabric="tee", transfer="film", valid_from="2036-01-01T00:00")
    sheet = job_sheet(shop, "J/1", as_of_us=NOW)
    assert sheet.recipe is None and sheet.settings == ()
    keep(shop, "jobs", job="bare")
    bare = job_sheet(shop, "bare", as_of_us=NOW)
    assert (bare.fabric, bare.transfer, bare.place, bare.recipe) == (None, None, None, None)
    with pytest.raises(NotFound, match="'J9' is not among the jobs"):
        job_sheet(shop, "J9", as_of_us=NOW)


def test_a_recipe_hotter_than_the_fabric_is_kept_and_said(shop: Shop) -> None:
    """A fabric glazes or melts above its limit (common practice, no source)."""
    kept = keep_record(shop, RecordWritten(kind="recipes", texts={
        "fabric": "tee", "transfer": "film", "temperature_c": "170"}), by="Ann", at_us=NOW)
    assert kept.cautions == (
        "170 °C is above the most heat tee takes, 165 °C: it may glaze, melt or bleed",)
    assert job_sheet(shop, "J/1", as_of_us=NOW).too_hot == kept.cautions[0]
    changed = keep_record(shop, RecordWritten(kind="recipes", key=("tee", "film"), texts={
        "temperature_c": "165"}), by="Ann", at_us=LATER)
    assert changed.cautions == () and not job_sheet(shop, "J/1", as_of_us=LATER).too_hot
    # the upper limit of the recipe counts too, and a fabric's limit put down later
    high = keep_record(shop, RecordWritten(kind="recipes", key=("tee", "film"), texts={
        "temperature_high_c": "166"}), by="Ann", at_us=LATER + 1)
    assert high.cautions
    lower = keep_record(shop, RecordWritten(kind="fabrics", key=("tee",), texts={
        "heat_limit_c": "140"}), by="Ann", at_us=LATER + 2)
    assert lower.cautions[0].startswith("Recipe of tee with film: 166 °C is above")


@pytest.mark.parametrize(("given", "said"), [
    ("305", "305 °C is hotter than any transfer is usually pressed at, 120 °C to 210 °C: look"
            " whether its unit is meant"),
    ("71", "71 °C is colder than any transfer is usually pressed at, 120 °C to 210 °C: look"
           " whether its unit is meant"),
    ("225", ""), ("105", ""),
])
def test_a_heat_in_another_unit_is_asked_about(shop: Shop, given: str, said: str) -> None:
    """Transfers are pressed at 120 to 210 degC (common practice, no source)."""
    keep(shop, "fabrics", fabric="drill")
    kept = keep_record(shop, RecordWritten(kind="recipes", texts={
        "fabric": "drill", "transfer": "film", "temperature_c": given}), by="Ann", at_us=NOW)
    assert kept.cautions == ((said,) if said else ())
