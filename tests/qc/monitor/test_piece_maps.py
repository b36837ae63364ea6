"""The finished pieces as a thermometer."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import betabinom, binom

from qc.domain.counting import count_once
from qc.domain.instants import DAY_US
from qc.domain.kinds import ZONES
from qc.domain.piece_maps import HEAT_KINDS, PieceMap, place_of, zone_at
from qc.monitor.piece_maps import piece_maps
from qc.monitor.zone_counts import ZoneCounts, zone_counts
from qc.monitor.zone_pattern import chance_of, clumping, usual_pattern

NOW = 100 * DAY_US
SHARES = np.array([3, 2, 3, 1, 0.5, 1, 3, 2, 3]) / 18.5


def shop(
    rng: np.random.Generator, *, n: int = 12_000, days: int = 50, rate: float = 0.03,
    extra: dict[tuple[str, str], float] | None = None, stations: tuple[str, ...] = ("A", "B"),
    spoilt_job: int | None = None,
) -> ZoneCounts:
    """Four presses; ``extra`` lifts more edges at (press or press-station, zone), times the rate of
    that zone. ``spoilt_job``: all of its pieces lift at the bottom."""
    press = rng.choice(["P1", "P2", "P3", "P4"], n)
    station = rng.choice(list(stations), n) if stations else np.full(n, None)
    day = np.sort(rng.integers(0, days, n))
    job = (day * 4 + np.char.lstrip(press, "P").astype(int)) // 2
    chance = rate * np.tile(SHARES, (n, 1))
    for (where, zone), ratio in (extra or {}).items():
        spot = (press == where) | (np.char.add(press, station.astype(str)) == where)
        chance[np.ix_(spot, [ZONES.index(zone)])] *= ratio
    hit = rng.random((n, 9)) < chance
    if spoilt_job is not None:
        hit[job == spoilt_job, ZONES.index("bottom")] = True
    at = NOW - (days - day) * DAY_US
    looks = pd.DataFrame({
        "piece_id": [f"B{i}" for i in range(n)], "attempt": 1, "stage": "final",
        "inspected_at": at, "pressed_at": at, "press": press, "station": station,
        "fabric": rng.choice(["fleece", "jersey"], n), "transfer": "film",
        "location": rng.choice(["front", "back"], n), "job": [f"J{j}" for j in job],
        "pieces": 1, "defective": 0,
    }, index=pd.RangeIndex(1, n + 1, name="look"))
    piece, zone_number = np.nonzero(hit)
    findings = pd.DataFrame({
        "look": piece + 1, "kind": "lifted_edge",
        "zone": [ZONES[z] for z in zone_number], "n": 1})
    return zone_counts(count_once(looks, findings), HEAT_KINDS)


def maps(counts: ZoneCounts, **more: object) -> dict[str, PieceMap]:
    given: dict[str, object] = {"since_us": {}, "fold": lambda *_: np.eye(9)} | more
    found = piece_maps(counts, as_of_us=NOW, **given)  # type: ignore[arg-type]
    return {one.press: one for one in found}


def test_places_and_zones_are_each_other() -> None:
    assert [zone_at(place_of(zone)) for zone in ZONES] == list(ZONES)
    assert place_of("bottom_left") == (3, 1)


def test_a_cold_corner_is_named_with_what_the_stations_share() -> None:
    found = maps(shop(np.random.default_rng(1), extra={("P2", "bottom_right"): 6}))
    assert {press: len(one.spots) for press, one in found.items()} == {
        "P1": 0, "P2": 1, "P3": 0, "P4": 0}
    spot = found["P2"].spots[0]
    assert spot.place == (3, 3)
    assert spot.stations == ("A", "B")
    assert found["P2"].seen[2, 2] == spot.seen


def test_its_ratio_has_an_honest_interval() -> None:
    held = 0
    for seed in range(30):
        spots = maps(shop(np.random.default_rng(seed), extra={("P2", "bottom_right"): 6}))["P2"]
        held += spots.spots[0].low < 6 < spots.spots[0].high
    assert held >= 26  # 28.5 at 95 %


def test_a_spot_of_one_station_names_that_station() -> None:
    found = maps(shop(np.random.default_rng(2), extra={("P2A", "left"): 14}))
    assert [(s.place, s.stations) for s in found["P2"].spots] == [((2, 1), ("A",))]


def test_a_press_that_is_worse_everywhere_has_no_spot() -> None:
    everywhere = {("P3", zone): 3.0 for zone in ZONES}
    found = maps(shop(np.random.default_rng(3), extra=everywhere))
    assert not any(one.spots for one in found.values())
    assert found["P3"].seen.sum() > 2 * found["P3"].expected.sum()


def test_one_spoilt_job_is_no_cold_spot() -> None:
    found = maps(shop(np.random.default_rng(4), spoilt_job=170))
    assert not any(one.spots for one in found.values())


def test_two_presses_with_the_same_corner_do_not_hide_each_other() -> None:
    extra = {("P1", "top_left"): 6.0, ("P2", "top_left"): 6.0}
    found = maps(shop(np.random.default_rng(5), extra=extra))
    assert {press for press, one in found.items() if one.spots} == {"P1", "P2"}


def test_what_was_before_an_adjustment_counts_no_more() -> None:
    counts = shop(np.random.default_rng(6), extra={("P2", "top_left"): 6})
    found = maps(counts, since_us={"P2": NOW - 3 * DAY_US})
    assert found["P2"].since_us == NOW - 3 * DAY_US
    assert found["P2"].n_pieces < 400


def test_small_prints_do_not_blame_the_corners() -> None:
    to_centre = np.zeros((9, 9))
    to_centre[:, ZONES.index("centre")] = 1
    counts = shop(np.random.default_rng(7), extra={("P2", "top_left"): 6})
    found = maps(counts, fold=lambda *_: to_centre)
    assert not any(one.spots for one in found.values())
    assert found["P2"].seen[1, 1] == found["P2"].seen.sum()


def test_too_little_to_compare_with_is_said() -> None:
    found = maps(shop(np.random.default_rng(8), n=300))
    assert all("too few" in one.why_not for one in found.values())


def test_chance_alone_names_hardly_anything() -> None:
    named = sum(
        any(one.spots for one in maps(shop(np.random.default_rng(100 + seed), n=4000)).values())
        for seed in range(60))
    assert named <= 2  # at most one look in a hundred is wanted


def test_counts_are_those_of_the_records() -> None:
    counts = shop(np.random.default_rng(9), n=2000)
    assert counts.n.sum() == 2000
    assert set(counts.presses) == {"P1", "P2", "P3", "P4"}
    assert counts.faults.sum() == pytest.approx(2000 * 0.03, rel=0.3)


def test_a_share_known_exactly_gives_the_binomial_tail() -> None:
    assert chance_of(7, 20, 0.1, 1e6, 1.0) == pytest.approx(binom.sf(6, 20, 0.1), rel=1e-3)
    # far out, where one less a sum of probabilities would be nothing
    assert chance_of(90, 100, 0.01, 1e6, 1.0) == pytest.approx(binom.sf(89, 100, 0.01), rel=0.02)


def test_a_share_known_from_few_is_less_sure() -> None:
    few = chance_of(7, 20, 0.1, 50, 1.0)
    assert few == pytest.approx(betabinom.sf(6, 20, 5, 45))
    assert few > chance_of(7, 20, 0.1, 1e9, 1.0)
    assert chance_of(0, 20, 0.1, 50, 1.0) == 1.0


def test_jobs_alike_in_where_they_fail_count_as_fewer() -> None:
    assert clumping(0.0, np.array([5.0, 5.0])) == 1.0
    assert clumping(1.0, np.array([5.0, 5.0])) == 5.0


def test_how_alike_jobs_are_is_learnt_from_them() -> None:
    counts = shop(np.random.default_rng(10))
    everything = np.ones(len(counts.n), dtype=bool)
    assert usual_pattern(counts, everything).alike < 0.01
    spoilt = shop(np.random.default_rng(10), spoilt_job=100)
    assert usual_pattern(spoilt, np.ones(len(spoilt.n), dtype=bool)).alike > 0.05
