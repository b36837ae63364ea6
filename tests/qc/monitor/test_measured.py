"""Measured streams: a planted shift is found where it sits, and honest jitter is not."""

import numpy as np
import pytest

from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US
from qc.monitor.measured import find_shifts, start_interval
from qc.monitor.readings import CHARACTERISTICS, Readings, typical_targets

DWELL = next(c for c in CHARACTERISTICS if c.name == "dwell_s")
BUDGET = AlarmBudget(false_flags_per_week=0.25)
FOREVER = 10**18


def readings(rng, n=600, sigma=0.02):
    """Readings of 6 presses and 7 people, four in a slot; people mostly keep to a press."""
    press = rng.integers(0, 6, n)
    operator = np.where(rng.random(n) < 0.7, press, rng.integers(0, 7, n))
    slot = np.arange(n) // 4
    return Readings(
        value=rng.normal(0, sigma, n),
        n=np.ones(n),
        within=0.0,
        again=np.zeros(n, dtype=bool),
        seen_slot=slot,
        seen_us=slot * SLOT_US + 1000,
        pressed_us=slot * SLOT_US,
        level={"press": press, "operator": operator},
        n_levels={"press": 6, "operator": 7},
    )


def shifts(data, characteristic=DWELL):
    return find_shifts(data, characteristic, BUDGET, as_of_us=FOREVER, n_characteristics=4)


def test_a_shorter_dwell_on_one_press_is_one_shift_of_that_press():
    data = readings(np.random.default_rng(1))
    data.value[(data.level["press"] == 2) & (np.arange(600) >= 300)] -= 0.20
    found = shifts(data)
    assert [(s.factor, s.level, s.end) for s in found] == [("press", 2, None)]
    assert found[0].shift == pytest.approx(-0.20, abs=0.02)
    assert abs(found[0].start - 300) <= 12


def test_put_back_it_is_ended_and_not_a_second_shift():
    data = readings(np.random.default_rng(2))
    at = np.arange(600)
    data.value[(data.level["press"] == 2) & (at >= 200) & (at < 400)] -= 0.20
    found = shifts(data)
    assert [(s.factor, s.level) for s in found] == [("press", 2)]
    assert found[0].end is not None
    assert abs(found[0].end - 400) <= 25


def test_a_person_is_told_from_a_press():
    data = readings(np.random.default_rng(3))
    data.value[(data.level["operator"] == 4) & (np.arange(600) >= 300)] += 0.15
    found = shifts(data)
    assert [(s.factor, s.level) for s in found] == [("operator", 4)]


def test_honest_jitter_raises_no_flag_in_twenty_shops():
    found = [shifts(readings(np.random.default_rng(seed))) for seed in range(100, 120)]
    assert sum(map(len, found)) == 0


def test_a_shift_too_small_to_matter_is_not_flagged():
    data = readings(np.random.default_rng(4), sigma=0.001)
    data.value[(data.level["press"] == 2) & (np.arange(600) >= 300)] -= 0.03
    assert shifts(data) == []


def test_as_of_hides_what_was_seen_later():
    data = readings(np.random.default_rng(5))
    data.value[(data.level["press"] == 2) & (np.arange(600) >= 300)] -= 0.20
    early = find_shifts(data, DWELL, BUDGET, as_of_us=70 * SLOT_US, n_characteristics=4)
    assert early == []


def test_the_interval_of_a_start_holds_it():
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(200):
        value = rng.normal(0, 1, 60)
        value[25:] += 1.5
        low, high = start_interval(value, 0.0, 1.5, 1.0)
        held += low <= 25 <= high
    assert held / 200 >= 0.85


def test_without_a_recipe_the_usual_value_is_the_target():
    value = np.array([15.0, 15.2, 14.8, 12.0, 9.0])
    cell = np.array([0, 0, 0, 0, 1])
    target = np.array([np.nan] * 4 + [10.0])
    filled = typical_targets(value, cell, target, np.arange(5), n_first=3)
    assert filled.tolist() == [15.0, 15.0, 15.0, 15.0, 10.0]
