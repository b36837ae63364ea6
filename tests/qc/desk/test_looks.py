"""Looks found and opened, at the desk: shifts over a clock change, order, versions."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

import qc.desk.looks as desk
from qc.desk.correcting import WhichLook, correct, take_back
from qc.desk.looks import (
    ANY,
    LooksAsked,
    all_looks,
    has_looks,
    look_page,
    looks_counted,
    open_look,
    suggestions,
)
from qc.desk.shop import Shop, change_setting, reread
from qc.domain.instants import DAY_US, HOUR_US, offsets_of, to_us
from qc.errors import NotFound
from qc.monitor.ranking import shift_labels
from qc.store import Store
from tests.qc.store.made import LOADED, add, findings_of, look

NOW = LOADED + 10**12
LISBON = ZoneInfo("Europe/Lisbon")
CHANGE_US = to_us(datetime(2026, 3, 29, 1, tzinfo=UTC))  # Lisbon's clocks go forward


@pytest.fixture
def shop(store: Store) -> Shop:
    change_setting(Shop(store, {}), name="timezone", value="Europe/Lisbon", by="ann", at_us=LOADED)
    return reread(Shop(store, {}))


def numbers(shop: Shop, asked: LooksAsked) -> set[str]:
    page = look_page(shop, asked, as_of_us=10**16, start=0, n=10_000)
    return {row["piece_id"] for row in page.rows}


def test_shifts_follow_the_clock_over_its_change(shop: Shop) -> None:
    rng = np.random.default_rng(5)
    pressed = CHANGE_US + rng.integers(-3 * DAY_US, 3 * DAY_US, 600)
    add(shop.store, [look(f"p{at}", pressed_at=int(us), inspected_at=int(us) + 1)
                     for at, us in enumerate(pressed)])
    labels = shift_labels(pressed, LISBON, shop.shift_minutes)
    for shift in ("06:00", "14:00", "22:00"):
        right = {f"p{at}" for at in np.flatnonzero(labels == shift)}
        assert numbers(shop, LooksAsked(levels=(("shift", shift),))) == right and right
    assert numbers(shop, LooksAsked(levels=(("shift", "07:15"),))) == set()


def test_offsets_are_those_of_the_zone() -> None:
    """Europe: last Sundays of March and October, 01:00 UTC (Directive 2000/84/EC)."""
    year = to_us(datetime(2026, 1, 1, tzinfo=UTC)), to_us(datetime(2026, 12, 31, tzinfo=UTC))
    back_us = to_us(datetime(2026, 10, 25, 1, tzinfo=UTC))
    assert offsets_of(LISBON, *year) == ((back_us, 0), (CHANGE_US, HOUR_US), (year[0], 0))
    assert offsets_of(ZoneInfo("Asia/Kolkata"), *year) == ((year[0], 19_800_000_000),)


def test_defects_zones_and_places_are_levels_too(shop: Shop) -> None:
    add(shop.store, [look("a"), look("b"), look("c", location=None)],
        findings_of((0, "scorch", "top", None, 1), (1, "bubble", None, None, 1)))
    for levels, right in (
        ((("defect", ANY),), {"a", "b"}), ((("defect", "scorch"),), {"a"}),
        ((("zone", "top"),), {"a"}), ((("zone", None),), {"b"}), ((("location", None),), {"c"}),
        ((("piece", "b"), ("defect", "scorch")), set()),
    ):
        assert numbers(shop, LooksAsked(levels=levels)) == right, levels


def test_only_what_rates_count_leaves_out_pieces_pressed_again_and_returned(shop: Shop) -> None:
    add(shop.store, [look("a"), look("a", stage="wash"), look("b"), look("b", attempt=2),
                     look("c", attempt=2), look("d", stage="customer")],
        findings_of(*((at, "scorch", "top", None, 1) for at in range(6))))

    def found(*, first: bool) -> list[tuple[str, int, str]]:
        asked = LooksAsked(levels=(("defect", "scorch"),), first=first)
        rows = look_page(shop, asked, as_of_us=10**16, start=0, n=100).rows
        return sorted((row["piece_id"], row["attempt"], row["stage"]) for row in rows)

    assert found(first=True) == [("a", 1, "final"), ("a", 1, "wash"), ("b", 1, "final")]
    assert len(found(first=False)) == 6


def test_a_list_too_long_to_sort_is_in_order_of_time(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    add(shop.store, [look(f"p{at}", press=f"P{1 + at % 2}", pressed_at=LOADED + at,
                          inspected_at=LOADED + at) for at in range(10)])
    asked = LooksAsked(sort="press", newest_first=False)
    page = look_page(shop, asked, as_of_us=NOW, start=0, n=10)
    assert page.is_sorted and [row["press"] for row in page.rows] == ["P1"] * 5 + ["P2"] * 5
    monkeypatch.setattr(desk, "MOST_COUNTED", 9)
    page = look_page(shop, asked, as_of_us=NOW, start=0, n=10)
    assert not page.is_sorted and [row["piece_id"] for row in page.rows] == [
        f"p{at}" for at in range(10)]
    assert not looks_counted(shop, asked, as_of_us=NOW).is_all
    assert sum(map(len, all_looks(shop, asked, as_of_us=NOW))) == 10


def test_a_look_opens_with_its_versions_and_the_piece_s_other_looks(shop: Shop) -> None:
    add(shop.store, [look("a"), look("a", attempt=2), look("a", location=None), look("b")])
    correct(shop, WhichLook(piece_id="a", attempt=1, location="left_chest"), ["dwell_s=14"],
            why="misread", by="bo", at_us=LOADED + 50)
    identity = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}
    opened = open_look(shop, identity)
    assert [one["version"] for one in opened.versions] == [1, 2] and opened.now["dwell_s"] == 14
    assert {(one["attempt"], one["location"]) for one in opened.others} == {
        (2, "left_chest"), (1, None)}
    assert len(open_look(shop, identity, as_of_us=LOADED + 49).versions) == 1
    with pytest.raises(NotFound, match="no look at piece z"):
        open_look(shop, identity | {"piece_id": "z"})


def test_a_look_that_says_no_place_is_corrected_though_the_piece_has_others(shop: Shop) -> None:
    add(shop.store, [look("a"), look("a", location=None)])
    correct(shop, WhichLook(piece_id="a", no_location=True), ["dwell_s=14"], why="misread", by="bo",
            at_us=LOADED + 50)
    found = {one["location"]: one["dwell_s"] for one in look_page(
        shop, LooksAsked(), as_of_us=NOW, start=0, n=9).rows}
    assert found == {None: 14.0, "left_chest": None}


def test_a_look_taken_back_is_found_no_more_and_stays_readable(shop: Shop) -> None:
    add(shop.store, [look("a"), look("b")])
    identity = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}
    take_back(shop, WhichLook(**identity), why="not ours", by="bo", at_us=LOADED + 50)
    assert numbers(shop, LooksAsked()) == {"b"}
    assert looks_counted(shop, LooksAsked(), as_of_us=NOW).n_looks == 1
    assert looks_counted(shop, LooksAsked(), as_of_us=LOADED + 49).n_looks == 2
    now = open_look(shop, identity).now
    assert now["withdrawn"] and (now["changed_by"], now["why"]) == ("bo", "not ours")


def test_levels_are_suggested(shop: Shop) -> None:
    assert not has_looks(shop) and suggestions(shop)["job"] == ()
    add(shop.store, [look("a", job="J9"), look("b", job="J8"), look("c", job=None)])
    found = suggestions(shop)
    assert has_looks(shop) and found["job"] == ("J8", "J9") and found["size"] == ()
    assert found["press"] == ("P1", "P2") and "scorch" in found["defect"]
