from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.measurement.nested_gauge import NestedCaution, nested_gauge, nested_gauge_from_days
from tests.published import case
from tests.reference.anova import nested_components

NIST = case("gauge_nested_nist_check_standard")


def _by_run(name: str) -> np.ndarray:
    run = np.array(NIST["data"]["run"])
    return np.array([np.array(NIST["data"][name])[run == k] for k in np.unique(run)])


def test_nist_check_standard() -> None:
    found = nested_gauge_from_days(_by_run("daily_average"), _by_run("daily_sd"),
                                   n_repeats=NIST["data"]["repetitions"])
    values = {
        "s1_repeatability": found.repeats.deviation, "df1": found.repeats.df,
        "s2_by_run": found.run_deviations, "s2_pooled": found.days.deviation,
        "df2": found.days.df, "run_means": found.run_means, "s3": found.runs.deviation,
        "df3": found.runs.df, "s_days2": found.days.raw, "s_runs2": found.runs.raw,
        "s_reproducibility_one_measurement": found.one_measurement,
    }
    assert set(values) == set(NIST["recomputed"])
    for name, wanted in NIST["recomputed"].items():
        # run_means are printed to 10 digits, half a unit of the last is 5e-10 of 96
        assert values[name] == pytest.approx(wanted, rel=1e-9), name
    assert {"J": found.n_repeats, "K": found.n_days, "L": found.n_runs} == NIST["parameters"]
    assert (found.days.variance, found.days.low) == (0, 0)
    assert found.cautions == (NestedCaution.NEGATIVE_COMPONENT, NestedCaution.FEW_RUNS)
    assert found.repeats.high == pytest.approx(
        60 * found.repeats.variance / stats.chi2.ppf(0.025, 60), rel=1e-9)


def test_agrees_with_the_plain_sums() -> None:
    rng = np.random.default_rng(100)
    for shape in ((4, 5, 3), (2, 2, 2), (6, 3, 8)):
        cube = (rng.normal(0, 1, shape) + rng.normal(0, 0.6, (*shape[:2], 1))
                + rng.normal(0, 2, (shape[0], 1, 1)) + 96)
        found = nested_gauge(cube)
        assert (found.repeats.raw, found.days.raw, found.runs.raw) == pytest.approx(
            nested_components(cube.tolist()), rel=1e-9)
        assert found.one_measurement == pytest.approx(math.sqrt(
            sum(max(one, 0) for one in nested_components(cube.tolist()))), rel=1e-9)


def test_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(101)
    truth, shape = (1.0, 0.36, 4.0), (6, 5, 4)
    found = [nested_gauge(rng.normal(0, 1, shape) + rng.normal(0, 0.6, (6, 5, 1))
                          + rng.normal(0, 2, (6, 1, 1))) for _ in range(500)]
    for name, wanted in zip(("repeats", "days", "runs"), truth, strict=True):
        held = [getattr(one, name).low <= wanted <= getattr(one, name).high for one in found]
        assert np.mean(held) == pytest.approx(0.95, abs=0.035), name
    whole = math.sqrt(sum(truth))
    held = [one.one_measurement_low <= whole <= one.one_measurement_high for one in found]
    assert np.mean(held) == pytest.approx(0.95, abs=0.035)


def test_a_gauge_that_never_varies() -> None:
    found = nested_gauge(np.full((4, 3, 2), 96.0))
    assert found.one_measurement == 0
    assert found.cautions == ()


@pytest.mark.parametrize(("call", "message"), [
    (lambda: nested_gauge(np.ones((2, 3))), "values has 2 dimensions; it must have 3"),
    (lambda: nested_gauge(np.ones((2, 3, 1))), "values has 1 repeats a day; it needs at least 2"),
    (lambda: nested_gauge(np.ones((1, 3, 2))), r"values has shape \(1, 3, 2\); it needs 2 runs"),
    (lambda: nested_gauge([[[1, np.nan], [1, 1]]] * 2), "values is nan somewhere; it must be fin"),
    (lambda: nested_gauge_from_days(np.ones((2, 3)), np.ones((2, 2)), n_repeats=2),
     r"daily_average has shape \(2, 3\) and daily_deviation \(2, 2\)"),
    (lambda: nested_gauge_from_days(np.ones((2, 3)), -np.ones((2, 3)), n_repeats=2),
     "daily_deviation is -1; allowed: numbers from 0"),
    (lambda: nested_gauge_from_days(np.ones((2, 3)), np.ones((2, 3)), n_repeats=1),
     "n_repeats is 1; allowed: whole numbers from 2"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
