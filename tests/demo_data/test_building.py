"""The demo shop in a store: whole, sound, and never over somebody else's file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from demo_data import demo_shop, demo_spec, end_of, simulate
from demo_data.building import build_store, is_shop
from demo_data.shop import SimulatedShop
from qc.desk.recipes import settings_against_recipe
from qc.desk.shop import check, open_shop
from qc.errors import InputError
from qc.store.inspections import read_looks
from qc.store.records import read_records


@pytest.fixture(scope="module")
def shop() -> SimulatedShop:
    return demo_shop()


@pytest.fixture(scope="module")
def small() -> SimulatedShop:
    return simulate(replace(demo_spec(), n_pieces=3000, faults=(), long_lots=()), 1)


@pytest.fixture(scope="module")
def built(shop: SimulatedShop, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("demo") / "demo.db"
    build_store(shop, place, by="test")
    return place


def test_everything_is_in_the_store_and_the_store_is_sound(
    built: Path, shop: SimulatedShop
) -> None:
    opened = open_shop(str(built))
    try:
        assert check(opened) == ()
        assert opened.name == shop.name
        assert opened.zone.key == shop.zone
        looks = read_looks(opened.store, as_of_us=shop.end_us, columns=["piece_id"])
        assert len(looks) == len(shop.frames["inspections"])
        for kind in ("presses", "recipes", "platen_readings", "machine_checks", "jobs"):
            assert len(read_records(opened.store, kind)) == len(shop.frames[kind])
    finally:
        opened.store.close()


def test_looking_back_to_the_first_week_finds_the_lists(built: Path, shop: SimulatedShop) -> None:
    opened = open_shop(str(built))
    try:
        week = shop.start_us + 7 * 86_400_000_000
        presses = read_records(opened.store, "presses", as_of_us=week)
        recipes = read_records(opened.store, "recipes", as_of_us=week)
        surveys = read_records(opened.store, "platen_readings", as_of_us=week)
    finally:
        opened.store.close()
    assert len(presses) == 7
    assert len(recipes) == 30
    assert 0 < len(surveys) < len(shop.frames["platen_readings"]) / 5


def test_the_changed_dwell_stands_first_in_settings_against_recipe(
    built: Path, shop: SimulatedShop
) -> None:
    opened = open_shop(str(built))
    try:
        found = settings_against_recipe(opened, as_of_us=shop.end_us)
    finally:
        opened.store.close()
    planted, = [one for one in shop.truth if one.kind == "changed_dwell"]
    drifting, = [one for one in shop.truth if one.kind == "drifting_platen"]
    first, second = [row for row in found.rows if row.needs_a_look]
    assert (first.press, first.quantity) == (planted.level, "dwell_s")
    assert first.n_outside == first.n_told > 1000 and first.off_median == pytest.approx(-3.0)
    # the platen's display stays inside while its surveys say it is not
    assert (second.press, second.quantity) == (drifting.level, "actual_temperature_c")
    assert second.n_hidden == second.n_outside > 0
    assert found.without == found.faults == ()


def test_only_the_store_is_left_in_the_folder(built: Path) -> None:
    assert [path.name for path in built.parent.iterdir()] == [built.name]


def test_a_file_that_is_there_is_not_touched(small: SimulatedShop, tmp_path: Path) -> None:
    place = tmp_path / "mine.db"
    place.write_bytes(b"mine")
    with pytest.raises(InputError, match="mine.db is there already; name a new file"):
        build_store(small, place, by="test")
    assert place.read_bytes() == b"mine"


def test_a_folder_that_is_not_there_is_said_so(small: SimulatedShop, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="its folder is not there; make it first"):
        build_store(small, tmp_path / "no" / "where.db", by="test")


def test_a_broken_build_leaves_nothing(small: SimulatedShop, tmp_path: Path) -> None:
    frames = small.frames | {"jobs": small.frames["jobs"].assign(fabric="unheard-of")}
    with pytest.raises(InputError, match="the demo's own jobs.csv did not load"):
        build_store(replace(small, frames=frames), tmp_path / "demo.db", by="test")
    assert list(tmp_path.iterdir()) == []


def test_a_shop_is_known_by_its_name(
    built: Path, shop: SimulatedShop, tmp_path: Path
) -> None:
    other = tmp_path / "other.db"
    open_shop(str(other), create=True).store.close()
    text = tmp_path / "notes.db"
    text.write_text("not a database at all, but long enough to be taken for one" * 20)
    assert is_shop(built, shop.name)
    assert not is_shop(other, shop.name)
    assert not is_shop(text, shop.name)
    assert not is_shop(tmp_path, shop.name)


def test_the_demo_ends_on_its_fixed_evening(shop: SimulatedShop) -> None:
    assert end_of(demo_spec()) == shop.end_us
    assert open_end(shop) == "2026-11-20T20:00:00+00:00"


def open_end(shop: SimulatedShop) -> str:
    from zoneinfo import ZoneInfo

    from qc.domain.instants import iso

    return iso(shop.end_us, ZoneInfo(shop.zone))
