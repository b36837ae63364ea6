"""Timers and gauges against what was set."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from qc.domain.machine_checks import MachineCheck
from qc.presses.checks import USUAL_SCATTER, USUAL_WEIGHT, machine_checks
from tests.qc.presses.made import T0

TOLERANCES = {"dwell_s": 0.5, "pressure_kpa": 35.0, "pressure_dial": 0.5}
HOUR_DAYS = 1 / 24


def row(day: float, error: float, press: str = "P1", quantity: str = "dwell_s",
        state: str = "routine", set_value: float = 15.0) -> dict:
    return {"measured_at": T0 + round(day * DAY_US), "press": press, "quantity": quantity,
            "set_value": set_value, "measured_value": set_value + error, "state": state}


def found(*rows: dict, as_of_day: float = 100) -> list[MachineCheck]:
    return list(machine_checks(pd.DataFrame(rows), TOLERANCES,
                               as_of_us=T0 + round(as_of_day * DAY_US)))


def test_the_latest_round_counts_and_a_later_one_is_not_known_yet() -> None:
    rows = [row(1, 0.6), row(8, 0.05), row(8 + HOUR_DAYS, 0.15), row(15, 3.0)]
    one, = found(*rows, as_of_day=10)
    assert (one.n, one.error) == (2, pytest.approx(0.1))
    assert one.scatter == pytest.approx(0.1 / np.sqrt(2))  # of two readings 0.1 apart
    variance = (USUAL_WEIGHT * USUAL_SCATTER["dwell_s"] ** 2 + 0.005) / (USUAL_WEIGHT + 1)
    assert one.uncertainty == pytest.approx(2 * np.sqrt(variance / 2))
    assert one.state == "in_tolerance"
    assert found(*rows)[0].state == "out"


@pytest.mark.parametrize(("error", "state"), [
    (0.05, "in_tolerance"), (-0.2, "not_shown"), (0.49, "not_shown"), (0.51, "out"), (-3, "out")])
def test_a_single_reading_by_hand_has_the_usual_doubt(error: float, state: str) -> None:
    one, = found(row(1, error))
    assert one.scatter is None
    assert one.uncertainty == pytest.approx(2 * USUAL_SCATTER["dwell_s"])
    assert one.state == state


def test_ten_readings_show_what_one_cannot() -> None:
    rows = [row(1 + i / 1000, 0.3 + 0.1 * (-1) ** i) for i in range(10)]
    assert found(*rows)[0].state == "in_tolerance"
    assert found(rows[0])[0].state == "not_shown"


def test_what_was_left_counts_not_what_was_found() -> None:
    one, = found(row(1, -3.0, state="as_found"), row(1 + HOUR_DAYS, 0.02, state="as_left"))
    assert (one.n, one.state) == (1, "in_tolerance")
    assert one.scatter is None  # before and after are no repeats


def test_quantities_and_presses_apart_the_worst_first() -> None:
    said = found(row(1, 0.0), row(1, 40, quantity="pressure_kpa", set_value=280), row(1, 0, "P0"),
                 row(1, 0.3, quantity="pressure_dial", set_value=5))
    assert [(one.press, one.quantity, one.state) for one in said] == [
        ("P1", "pressure_kpa", "out"), ("P1", "pressure_dial", "not_shown"),
        ("P0", "dwell_s", "in_tolerance"), ("P1", "dwell_s", "in_tolerance")]


def test_without_a_check_nothing_is_said() -> None:
    assert machine_checks(pd.DataFrame([row(1, 0)]).iloc[:0], TOLERANCES, as_of_us=T0) == ()


def test_the_doubt_of_a_mean_is_held_as_often_as_it_says() -> None:
    """The true error lies within the uncertainty in about 95 of 100 rounds of eight readings, in
    more where readings agree better than usual."""
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(400):
        rows = [row(1 + i / 1000, 0.2 + rng.normal(0, 0.15)) for i in range(8)]
        one, = found(*rows)
        held += abs(one.error - 0.2) <= one.uncertainty
    assert 0.93 <= held / 400 <= 0.99
