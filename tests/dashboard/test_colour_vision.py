"""Colours for people who lack one kind of cone: simulated, and their differences measured."""

from __future__ import annotations

import itertools
import json

import pytest

from dashboard.theme import DARK, HEAT, LIGHT, PALETTES, SERIES, SHAPES, between, to_light
from tests.published import case
from tests.reference.colour import ciede2000, lab, linear, seen_by

PUBLISHED = case("colour_vision")
SIGHTS = {name: rows for name, rows in PUBLISHED["simulation"].items() if isinstance(rows, list)}
SIGHTS["all cones"] = [[1, 0, 0], [0, 1, 0], [0, 0, 1]]
CLEAR = 10.0
"""CIEDE2000 between two colours that must not be taken for each other; about 1 is just seen."""


def apart(one: str, other: str, sight: str) -> float:
    """The difference of two #rrggbb colours in somebody's sight."""
    return ciede2000(*(lab(seen_by(SIGHTS[sight], linear(colour))) for colour in (one, other)))


@pytest.mark.parametrize("pair", PUBLISHED["differences"]["pairs"])
def test_differences_are_the_printed_ones(pair: list) -> None:
    one, other, printed = pair
    assert ciede2000(one, other) == pytest.approx(printed, abs=0.00005)
    assert ciede2000(other, one) == pytest.approx(printed, abs=0.00005)


def test_greys_stay_grey_and_lab_is_the_known_one() -> None:
    """White is L 100; sRGB red is (53.24, 80.09, 67.20) by IEC 61966-2-1 and CIE 15."""
    for rows in SIGHTS.values():
        assert [sum(row) for row in rows] == pytest.approx([1, 1, 1], abs=2e-6)
    assert lab(linear("#ffffff")) == pytest.approx((100, 0, 0), abs=0.03)
    assert lab(linear("#ff0000")) == pytest.approx((53.24, 80.09, 67.20), abs=0.03)


def test_the_check_finds_red_beside_green() -> None:
    assert apart("#c23b22", "#6b7a1e", "all cones") > 40
    assert apart("#c23b22", "#6b7a1e", "protanopia") < 15
    assert apart("#a63509", "#735000", "protanopia") < 3  # an earlier alarm and watch of ours


@pytest.mark.parametrize(("scheme", "sight"), list(itertools.product(PALETTES, SIGHTS)))
def test_states_and_series_stay_apart(scheme: str, sight: str) -> None:
    colours = PALETTES[scheme]
    for group in ([colours[tone] for tone in SHAPES], list(SERIES[scheme]),
                  [colours[name] for name in ("ink", "accent", "alarm", "watch")]):
        for one, other in itertools.combinations(group, 2):
            assert apart(one, other, sight) >= CLEAR, (one, other)


@pytest.mark.parametrize(("scheme", "sight"), list(itertools.product(HEAT, SIGHTS)))
def test_heat_runs_one_way_and_cold_is_never_hot(scheme: str, sight: str) -> None:
    stops = [colour for _, colour in HEAT[scheme]]
    for one, other in itertools.combinations(stops, 2):
        assert apart(one, other, sight) >= CLEAR, (one, other)
    ends = [between(HEAT[scheme], at / 20) for at in range(21)]
    away = [apart(ends[0], colour, sight) for colour in ends[:11]]
    assert away == sorted(away)  # the further from the coldest, the more different


def test_every_dark_colour_of_a_figure_has_its_light_one() -> None:
    light = json.loads(to_light())
    assert light[DARK["ink"]] == LIGHT["ink"] and light[DARK["alarm"]] == LIGHT["alarm"]
    assert [light[colour] for colour in SERIES["dark"]] == list(SERIES["light"])
    assert [light[colour] for _, colour in HEAT["dark"]] == [c for _, c in HEAT["light"]]
