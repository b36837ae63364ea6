"""The floor: counts against a plain loop, shifts over midnight, and what makes a press's state."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from qc.desk.floor import day_start, floor_now, press_state, shift_start
from qc.desk.in_use import bring_back, retire
from qc.desk.presses import press_health
from qc.desk.shop import Shop
from qc.domain.flags import FactorShare, Flag, FlagList
from qc.domain.instants import DAY_US, HOUR_US, iso, parse_instant
from qc.store.inspections import read_findings, read_looks
from tests.dashboard.small_shop import END_US, PRESSES, build_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return build_shop(tmp_path_factory.mktemp("floor"))


def flag_on(factor: str, level: str | None, *, press: str | None = None, **more: object) -> Flag:
    """An open flag with this cause."""
    made = Flag(
        id="abc", kind="defect_rate", characteristic="lifted_edge", direction="up", press=press,
        platen=None, zone=None, signalled_at_us=END_US, changed_at_us=END_US - HOUR_US,
        changed_between_us=(END_US - 2 * HOUR_US, END_US), ended_at_us=None,
        factor=FactorShare(name=factor, level=level, weight=0.9), other_factors=(), before=0.01,
        after=0.05, expected_after=0.012, unit="per piece", pieces_at_risk=10, also=(),
        message="m", next_step="n", urgency=1.0)
    return replace(made, **more)


def flags(*found: Flag) -> FlagList:
    return FlagList(flags=found, as_of_us=END_US, baseline_us=None, n_pieces=1, n_streams=1,
                    false_flags_per_week=0.25, doubling_delay_days=None, cautions=())


@pytest.mark.parametrize(("now", "shift"), [
    ("2026-03-10T05:59", "2026-03-09T22:00"), ("2026-03-10T06:00", "2026-03-10T06:00"),
    ("2026-03-10T21:59", "2026-03-10T14:00"), ("2026-03-10T23:30", "2026-03-10T22:00"),
    ("2026-03-29T05:00", "2026-03-28T22:00"),
])
def test_shift_of_a_moment(shop: Shop, now: str, shift: str) -> None:
    """Lisbon; the clocks go forward in the night to 29 March 2026."""
    begun = shift_start(shop, parse_instant(now, shop.zone))
    assert iso(begun, shop.zone).startswith(shift)


def test_counts_agree_with_a_plain_loop(shop: Shop) -> None:
    floor = floor_now(shop, as_of_us=END_US)
    looks = read_looks(shop.store, as_of_us=END_US)
    bad = set(read_findings(shop.store, as_of_us=END_US)["look"])
    begun = day_start(shop, END_US)
    assert [p.press for p in floor.presses] == sorted(PRESSES)
    for now in floor.presses:
        mine = looks[(looks["press"] == now.press) & (looks["pressed_at"] >= begun)]
        assert now.today.n_pieces == len(mine) > 0
        assert now.today.n_defective == len(bad & set(mine.index))
        assert now.today.low <= now.today.share <= now.today.high
        fresh = looks[(looks["press"] == now.press) & (looks["attempt"] == 1)
                      & looks["stage"].isin(["after_peel", "final"])]
        newest = fresh.sort_values("pressed_at").iloc[-1]
        assert now.last.job == newest["job"]
        assert now.last.inspected_at_us == newest["inspected_at"]


def test_a_listed_press_without_pieces_is_there(shop: Shop, tmp_path) -> None:
    floor = floor_now(shop, as_of_us=END_US - 60 * 24 * HOUR_US)
    assert {p.press for p in floor.presses} <= set(PRESSES)
    assert all(p.last is None and p.today.share is None for p in floor.presses)


def test_states(shop: Shop) -> None:
    floor = floor_now(shop, as_of_us=END_US)
    anvil = next(p for p in floor.presses if p.press == "Anvil")

    def state(*found: Flag, at_us: int = END_US) -> str:
        return press_state(anvil, as_of_us=at_us, flags=flags(*found), health=()).state

    assert state() == "running"
    assert state(at_us=END_US + 3 * HOUR_US) == "quiet"
    assert state(flag_on("press", "Anvil", press="Anvil")) == "act"
    assert state(flag_on("press", "Brook", press="Brook")) == "running"
    assert state(flag_on("press", "Anvil", press="Anvil", ended_at_us=END_US)) == "running"
    assert state(flag_on("transfer_lot", anvil.last.transfer_lot)) == "act"
    assert state(flag_on("operator", "nobody")) == "running"
    assert state(flag_on("shop", None)) == "running"
    assert state(flag_on("station", "Anvil/A2")) == "act"
    assert state(flag_on("station", "Anvil 2/A2")) == "running"
    assert state(flag_on("time_since_start", "Anvil, first 15 min")) == "act"
    assert state(flag_on("time_since_start", "first 15 min")) == "running"
    unseen = replace(anvil, last=None)
    assert press_state(unseen, as_of_us=END_US, flags=None, health=()).state == "unseen"


def test_platens_make_a_state(shop: Shop) -> None:
    floor = floor_now(shop, as_of_us=END_US)
    health = press_health(shop, as_of_us=END_US)
    states = {now.press: press_state(now, as_of_us=END_US, flags=None, health=health).state
              for now in floor.presses}
    assert states == {"Anvil": "running", "Brook": "running", "Cedar": "act", "Dune": "running"}
    watched = tuple(replace(h, state="watch") for h in health)
    dune = floor.presses[-1]
    assert press_state(dune, as_of_us=END_US, flags=None, health=watched).state == "watch"


def test_a_press_that_is_no_longer_used_leaves_the_floor(tmp_path: Path) -> None:
    mine = build_shop(tmp_path)
    tomorrow = END_US + DAY_US
    for press in ("Dune", "Brook"):
        retire(mine, "presses", press, by="Ann", at_us=END_US)
    assert {one.press for one in floor_now(mine, as_of_us=END_US).presses} == set(PRESSES)
    assert {one.press for one in floor_now(mine, as_of_us=tomorrow).presses} == {"Anvil", "Cedar"}
    bring_back(mine, "presses", "Brook", by="Ann", at_us=tomorrow)
    assert "Brook" in {one.press for one in floor_now(mine, as_of_us=tomorrow).presses}
