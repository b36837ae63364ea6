from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.diagnostic import normal_ad

from qc.stats.capability.normality import NormalityCaution, anderson_darling, p_value_of, steps_of
from tests.published import case
from tests.reference.capability import a_squared, a_squared_spread

SAMPLES = {
    "normal": np.random.default_rng(1).normal(50, 2, 60),
    "skewed": np.random.default_rng(2).lognormal(0, 0.5, 200),
    "eight": np.random.default_rng(3).normal(0, 1, 8),
    "uniform": np.random.default_rng(4).uniform(-1, 1, 40),
    "two humps": np.r_[np.linspace(-9, -8, 30), np.linspace(8, 9, 30)],
    "rounded": np.random.default_rng(5).normal(0, 2, 80).round(),
    "concentration": np.array(case("imr_concentration")["data"]["x"]),
}


@pytest.mark.parametrize("name", SAMPLES)
def test_statistic_and_p_value_agree_with_the_library(name: str) -> None:
    found = anderson_darling(SAMPLES[name])
    statistic, p_value = normal_ad(SAMPLES[name])
    assert (found.statistic, found.p_value) == pytest.approx((statistic, p_value), rel=1e-9)


@pytest.mark.parametrize("name", ["normal", "skewed", "eight", "rounded"])
def test_statistic_agrees_with_a_plain_loop(name: str) -> None:
    assert anderson_darling(SAMPLES[name]).statistic == pytest.approx(
        a_squared(SAMPLES[name].tolist()), rel=1e-9)


def test_weights_of_chicks_as_printed() -> None:
    published = case("chick_weights_bliss_1967")
    x, printed = np.array(published["data"]["x"], dtype=float), published["published"]
    test = anderson_darling(x)
    found = {"mean": x.mean(), "sigma": x.std(ddof=1), "A_squared": test.statistic,
             "A_squared_adjusted": test.adjusted, "p_value": test.p_value}
    assert found.keys() == printed.keys()
    for name, value in found.items():
        assert value == pytest.approx(printed[name]["value"], abs=printed[name]["tolerance"])


def test_one_value_far_out_has_a_finite_statistic() -> None:
    x = np.r_[np.linspace(-1, 1, 400), 30.0]
    # the library rounds the upper tail to 0 and says infinity
    assert normal_ad(x)[0] == np.inf
    assert anderson_darling(x).statistic == pytest.approx(a_squared(x.tolist()), rel=1e-9)
    assert anderson_darling(x).p_value == 0


@pytest.mark.parametrize(("adjusted", "p_value", "half_unit"), [
    # upper tail points of Stephens (1974) and D'Agostino & Stephens (1986), table 4.7, case 3
    # (from memory); the formula of table 4.9 meets them within two units of the last digit
    (0.631, 0.10, 0.002), (0.752, 0.05, 0.001), (0.873, 0.025, 0.001), (1.035, 0.01, 0.0005),
])
def test_p_values_of_the_published_points(adjusted: float, p_value: float, half_unit) -> None:
    assert p_value_of(adjusted) == pytest.approx(p_value, abs=half_unit)


def test_p_values_fall_as_the_statistic_grows() -> None:
    p = [p_value_of(a) for a in np.linspace(0.02, 14, 700)]
    assert (np.diff(p) <= 5e-4).all()  # the pieces of the formula meet within this
    assert 0 <= min(p) < max(p) <= 1
    assert p_value_of(1e9) == 0


def test_normal_values_are_rejected_as_often_as_they_should() -> None:
    rng = np.random.default_rng(6)
    p = np.array([anderson_darling(rng.normal(3, 5, 25)).p_value for _ in range(2000)])
    assert (p < 0.05).mean() == pytest.approx(0.05, abs=0.015)
    assert (p < 0.5).mean() == pytest.approx(0.5, abs=0.04)


@pytest.mark.parametrize("step", [0.25, 0.5, 1.0])
def test_rounding_does_not_pass_for_a_departure(step: float) -> None:
    rng = np.random.default_rng(8)
    found = [anderson_darling((rng.normal(0.3, 1, 300) / step).round() * step)
             for _ in range(100)]
    plain = np.mean([each.p_value < 0.05 for each in found])
    spread = np.mean([each.p_value_spread < 0.05 for each in found])
    assert plain > 0.9
    assert spread <= 0.08
    assert sum(NormalityCaution.ROUNDED in each.cautions for each in found) >= 90


@pytest.mark.parametrize("step", [0.25, 0.5, 1.0])
def test_spread_ties_agree_with_a_plain_loop(step: float) -> None:
    x = (np.random.default_rng(10).normal(0.3, 1, 120) / step).round() * step
    statistic = a_squared_spread(x.tolist(), step)
    wanted = p_value_of(statistic * (1 + 0.75 / 120 + 2.25 / 120**2))
    assert anderson_darling(x).p_value_spread == pytest.approx(wanted, rel=1e-9)


def test_a_skewed_sample_is_seen_through_its_rounding() -> None:
    found = anderson_darling(np.random.default_rng(9).lognormal(0, 0.5, 200).round(1))
    assert found.p_value_spread < 1e-3
    assert found.cautions == ()  # both ways of looking say the same


def test_steps_too_wide_show_nothing() -> None:
    found = anderson_darling([0.0] * 30 + [1.0] * 2)
    assert np.isnan(found.p_value_spread)
    assert found.p_value < 1e-3
    assert found.cautions == (NormalityCaution.TOO_COARSE,)


def test_without_ties_both_p_values_are_one() -> None:
    found = anderson_darling(SAMPLES["normal"])
    assert found.p_value == found.p_value_spread
    assert found.cautions == ()


def test_steps_are_told_from_the_smallest_gap() -> None:
    steps = steps_of(np.sort([0.1 + 0.2, 0.3, 0.5, 0.5, 0.9]))
    assert steps.width == pytest.approx(0.2)
    assert steps.n_each.tolist() == [2, 2, 1]
    np.testing.assert_allclose(steps.low, [0.2, 0.4, 0.8])


@pytest.mark.parametrize("values", [[3.0] * 20, [0.1] * 7, [5.0], [0.1 + 0.2, 0.3] * 9])
def test_values_that_do_not_vary_are_not_judged(values) -> None:
    found = anderson_darling(values)
    assert np.isnan([found.statistic, found.p_value, found.p_value_spread]).all()
    assert found.cautions[0] is NormalityCaution.NO_VARIATION
    assert (NormalityCaution.TOO_FEW_VALUES in found.cautions) == (len(values) < 8)


def test_seven_values_have_a_statistic_but_no_p_value() -> None:
    found = anderson_darling([1.0, 2, 4, 3, 5, 7, 6])
    assert found.statistic > 0
    assert np.isnan([found.p_value, found.p_value_spread]).all()
    assert found.cautions == (NormalityCaution.TOO_FEW_VALUES,)


@pytest.mark.parametrize(("values", "message"), [
    ([], "values has 0 values; it needs at least 1"),
    ([1, np.nan], "values is nan at position 2"),
    ([np.inf, 1], "values is inf at position 1"),
    ([[1, 2]], "values has 2 dimensions"),
])
def test_wrong_input_is_named(values, message) -> None:
    with pytest.raises(ValueError, match=message):
        anderson_darling(values)
