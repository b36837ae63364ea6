from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from qc.domain.records import SENSORS
from qc.presses.conformity import rule_words
from qc.presses.decision import (
    GUARDED,
    acceptance_limit,
    beyond_probability,
    can_prove,
    conformance_probability,
    decided,
    false_acceptance_at_limit,
)
from qc.presses.sensors import sensor_tolerance, sensor_words
from qc.presses.uncertainty import expanded_uncertainty, probe_uncertainty
from qc.units import to_stored
from tests.published import case
from tests.qc.presses.made import T0, instruments

PUBLISHED = case("guard_bands")


def test_two_limits_of_jcgm_106() -> None:
    wanted = PUBLISHED["conformance"]
    found = conformance_probability(
        wanted["value"], wanted["u"], lower=wanted["lower"], upper=wanted["upper"]
    )
    assert found == pytest.approx(wanted["probability"], abs=wanted["tolerance"])


@pytest.mark.parametrize("wanted", PUBLISHED["one_limit"], ids=lambda wanted: wanted["name"])
def test_one_limit_of_jcgm_106(wanted: dict) -> None:
    found = conformance_probability(wanted["value"], wanted["u"], upper=wanted["upper"])
    assert found == pytest.approx(wanted["probability"], abs=wanted["tolerance"])


@pytest.mark.parametrize("wanted", PUBLISHED["rules"], ids=lambda wanted: wanted["rule"])
def test_no_accepted_value_has_more_risk_than_its_rule_says(wanted: dict) -> None:
    """ILAC-G8:09/2019: a rule's risk is that of a value right at its acceptance limit."""
    tolerance, expanded = 10.0, 2.0
    limit = acceptance_limit(tolerance, expanded, guard=wanted["guard"])
    risks = [beyond_probability(value, expanded / 2, tolerance)
             for value in np.linspace(0, limit, 50)]
    assert np.all(np.diff(risks) >= -1e-12)
    assert risks[-1] == pytest.approx(false_acceptance_at_limit(wanted["guard"]), rel=1e-6)
    assert risks[-1] < wanted["risk_below"]


@pytest.mark.parametrize(("departure", "guard", "decision"), [
    (4.0, 0.0, "in_tolerance"), (4.01, 0.0, "out"),
    (2.8, 1.0, "in_tolerance"), (2.81, 1.0, "not_shown"), (4.0, 1.0, "not_shown"),
    (5.2, 1.0, "not_shown"), (5.21, 1.0, "out"),
    (3.4, 0.5, "in_tolerance"), (3.41, 0.5, "not_shown"), (4.61, 0.5, "out"),
])
def test_decisions_by_guard_band(departure: float, guard: float, decision: str) -> None:
    assert decided(departure, 4.0, 1.2, guard=guard) == decision


def test_a_probe_worse_than_the_tolerance_can_show_only_what_is_far_out() -> None:
    assert [decided(value, 3.0, 3.8, guard=1.0) for value in (0.0, 6.8, 6.9)] == [
        "not_shown", "not_shown", "out"]


@pytest.mark.parametrize(("guard", "words"), [
    (0.0, "simple acceptance, at most 50 % risk"), (1.0, "guard band of U, at most 2.3 % risk"),
    (0.83, "guard band of 0.83 U, at most 4.8 % risk"),
])
def test_the_rule_in_words(guard: float, words: str) -> None:
    assert rule_words(guard) == words


@pytest.mark.parametrize("wanted", PUBLISHED["false_acceptance"])
def test_false_acceptance_at_a_guarded_limit(wanted: dict[str, float]) -> None:
    found = false_acceptance_at_limit(wanted["guard"])
    assert found == pytest.approx(wanted["probability"], abs=wanted["tolerance"])


@pytest.mark.parametrize("wanted", PUBLISHED["budgets"])
def test_probe_budgets(wanted: dict) -> None:
    found = expanded_uncertainty(half_widths=wanted["half_widths"], standard=wanted["standard"])
    assert found == pytest.approx(wanted["expanded"], abs=wanted["tolerance"])


@pytest.mark.parametrize("wanted", PUBLISHED["acceptance"])
def test_acceptance_zone_of_a_tolerance_in_fahrenheit(wanted: dict[str, float]) -> None:
    tolerance = to_stored(wanted["tolerance_f"], "temperature_difference", "f")
    found = acceptance_limit(tolerance, wanted["expanded"], guard=GUARDED)
    assert found == pytest.approx(wanted["limit_k"], abs=0.006)
    assert can_prove(tolerance, wanted["expanded"]) == (wanted["limit_k"] > 0)


def test_probability_agrees_with_drawing_true_values() -> None:
    true = np.random.default_rng(4).normal(2.6, 0.9, 200_000)
    assert beyond_probability(2.6, 0.9, 3.0) == pytest.approx(np.mean(np.abs(true) > 3), abs=0.004)


def test_a_perfect_probe_leaves_no_doubt() -> None:
    assert conformance_probability(3.0, 0.0, lower=-3, upper=3) == 1.0
    assert conformance_probability(3.1, 0.0, lower=-3, upper=3) == 0.0


@pytest.mark.parametrize(("call", "words"), [
    (lambda: conformance_probability(0, -1), "standard_uncertainty is -1"),
    (lambda: conformance_probability(0, 1, lower=2, upper=1), "lower is 2, above upper 1"),
    (lambda: acceptance_limit(math.nan, 1, guard=1), "tolerance is nan"),
    (lambda: expanded_uncertainty(), "both empty"),
    (lambda: expanded_uncertainty(standard=[-0.1]), "a contribution is -0.1"),
    (lambda: expanded_uncertainty(standard=[1], k=0), "k is 0"),
])
def test_wrong_input_is_named(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()


@pytest.mark.parametrize(("uncertainty", "k", "due", "name", "expanded", "words"), [
    (1.1, 2.0, 400, "K1", 1.1, ""),
    (1.5, 3.0, 400, "K1", 1.0, ""),
    (1.1, None, None, "K1", 1.1, ""),
    (1.1, 2.0, 5, "K1", 1.1, "past its own calibration date"),
    (None, 2.0, 400, "K1", 3.8, "no uncertainty on record"),
    (1.1, 2.0, 400, "K9", 3.8, "K9 is not on the list"),
    (1.1, 2.0, 400, None, 3.8, "no probe named"),
])
def test_uncertainty_from_the_record(uncertainty, k, due, name, expanded, words) -> None:
    found = uncertainty_of(instruments(uncertainty, k, due), name)
    assert found.expanded_c == pytest.approx(expanded)
    assert words in found.caution
    assert bool(words) == bool(found.caution)


def uncertainty_of(listed: pd.DataFrame, name: str | None = "K1", at_c: float = 160.0):
    return probe_uncertainty(name, listed, default_c=3.8, at_us=T0 + 10 * DAY_US, at_c=at_c)


@pytest.mark.parametrize("wanted", case("sensor_tolerances")["tolerances"])
def test_a_sensor_without_a_certificate_has_the_tolerance_of_its_class(wanted: dict) -> None:
    found = sensor_tolerance(wanted["sensor"], wanted["at_c"])
    assert found == pytest.approx(wanted["tolerance_c"], abs=0.005)


def test_every_class_a_list_may_name_is_known() -> None:
    assert [bool(sensor_words(name)) for name in SENSORS] == [True] * len(SENSORS)


def test_a_probe_without_a_certificate_adds_up_from_its_parts() -> None:
    """The invented budgets of guard_bands.json, from a row on the list of instruments."""
    row = instruments(None).assign(sensor="type_k_standard", meter_c=1.0, contact_c=2.0,
                                   repeat_c=0.5)
    found = uncertainty_of(row)
    assert found.expanded_c == pytest.approx(3.76, abs=0.005)
    assert [round(part.standard_c, 3) for part in found.parts] == [1.270, 0.577, 1.155, 0.5]
    assert found.parts[0].words == (
        "sensor without a certificate, type K, ASTM E230 standard at 160 °C: within ±2.2 °C")
    hotter = uncertainty_of(row, at_c=360.0).expanded_c  # 0.75 % of 360 is 2.7
    assert hotter == pytest.approx(2 * math.sqrt((2.7**2 + 1 + 4) / 3 + 0.25))


def test_a_certificate_takes_the_place_of_the_class() -> None:
    row = instruments(0.8).assign(sensor="type_k_standard", meter_c=0.3, contact_c=0.7,
                                  repeat_c=0.3)
    found = uncertainty_of(row)
    assert found.expanded_c == pytest.approx(1.33, abs=0.005)
    assert found.parts[0].words == "certificate: ±0.8 °C, k = 2"


def test_parts_without_a_sensor_are_not_a_budget() -> None:
    found = uncertainty_of(instruments(None).assign(contact_c=0.7))
    assert found.expanded_c == 3.8 and found.parts == ()
    assert "neither a certificate nor a class of sensor" in found.caution
