from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.capability.fitting import (
    DISTRIBUTIONS,
    HIGHEST,
    LOWEST,
    MOST_COMPARED,
    POOR_FIT,
    Fit,
    fit_distribution,
)
from tests.published import case

RNG = np.random.default_rng(41)
POSITIVE = RNG.lognormal(1, 0.4, 400)


def test_fits_of_ball_bearings_as_printed() -> None:
    published = case("ball_bearings_lieblein_zelen_1956")
    x, printed = published["data"]["x"], published["published"]
    weibull, gamma, lognormal = (
        fit_distribution(x, name=name).parameters for name in ("Weibull", "gamma", "lognormal"))
    found = {
        "weibull_shape": weibull["shape"], "weibull_scale": weibull["scale"],
        "gamma_shape": gamma["shape"], "lognormal_mean_log": lognormal["mean_log"],
        # printed with divisor n, here n - 1
        "lognormal_sigma_log_divisor_n": lognormal["sigma_log"] * math.sqrt(22 / 23),
    }
    assert found.keys() == printed.keys()
    for name, value in found.items():
        assert value == pytest.approx(printed[name]["value"], abs=printed[name]["tolerance"])


@pytest.mark.parametrize(("name", "library", "fixed"), [
    ("lognormal", stats.lognorm, {"floc": 0}), ("Weibull", stats.weibull_min, {"floc": 0}),
    ("gamma", stats.gamma, {"floc": 0}),
])
def test_a_fit_is_as_likely_as_the_library_finds(name: str, library, fixed) -> None:
    found = fit_distribution(POSITIVE, name=name)
    wanted = library(*library.fit(POSITIVE, **fixed))
    for share in (LOWEST, 0.1, 0.5, 0.9, HIGHEST):
        # the lognormal takes n - 1 in sigma, the library n
        assert found.quantile(share) == pytest.approx(wanted.ppf(share), rel=4e-3)
    ours, theirs = (d.logpdf(POSITIVE).sum() for d in (found.frozen, wanted))
    assert ours >= theirs - 1e-3


def test_folded_normal_is_as_likely_as_the_library_finds() -> None:
    x = np.abs(np.random.default_rng(42).normal(0.8, 1, 500))
    found = fit_distribution(x, name="folded normal")
    c, _, scale = stats.foldnorm.fit(x, floc=0)
    assert found.frozen.logpdf(x).sum() >= stats.foldnorm.logpdf(x, c, scale=scale).sum() - 1e-6
    assert found.parameters["mean"] ** 2 + found.parameters["sigma"] ** 2 == pytest.approx(
        (x**2).mean(), rel=1e-12)


def test_johnson_su_is_as_likely_as_the_library_finds() -> None:
    x = stats.johnsonsu(-0.5, 1.4, 2, 3).rvs(600, random_state=np.random.default_rng(43))
    found = fit_distribution(x, name="Johnson SU")
    theirs = stats.johnsonsu.logpdf(x, *stats.johnsonsu.fit(x, -0.5, 1.4, loc=2, scale=3)).sum()
    assert found.frozen.logpdf(x).sum() >= theirs - 0.01


def test_normal_takes_the_sample_mean_and_sigma() -> None:
    found = fit_distribution(POSITIVE, name="normal")
    assert found.parameters == pytest.approx(
        {"mean": POSITIVE.mean(), "sigma": POSITIVE.std(ddof=1)}, rel=1e-12)


TRUTHS = {
    "normal": lambda rng: rng.normal(50, 1, 2000),
    "lognormal": lambda rng: rng.lognormal(0, 0.5, 2000),
    "Weibull": lambda rng: 10 * rng.weibull(1.7, 2000),
    "gamma": lambda rng: rng.gamma(2.5, 1, 2000),
    "folded normal": lambda rng: np.abs(rng.normal(0.7, 1, 2000)),
    "shifted lognormal": lambda rng: 20 + rng.lognormal(0, 0.5, 2000),
    "shifted gamma": lambda rng: -7 + rng.gamma(2, 1, 2000),
    "mirrored gamma": lambda rng: 5 - rng.gamma(2, 1, 2000),
    "mirrored lognormal": lambda rng: -rng.lognormal(0, 0.6, 2000),
    "Johnson SU": lambda rng: rng.standard_t(4, 2000),
}


@pytest.mark.parametrize("name", TRUTHS)
def test_the_rule_finds_what_made_the_values(name: str) -> None:
    found = [fit_distribution(TRUTHS[name](np.random.default_rng(seed))) for seed in range(5)]
    assert sum(fit.name == name for fit in found) >= 3, [fit.name for fit in found]
    assert all(fit.a_squared < POOR_FIT for fit in found)


@pytest.mark.parametrize("name", [*TRUTHS, "Weibull"])
def test_percentiles_are_near_the_truth(name: str) -> None:
    made = TRUTHS[name](np.random.default_rng(9))
    many = np.concatenate([TRUTHS[name](np.random.default_rng(100 + k)) for k in range(150)])
    found = fit_distribution(made)
    low, middle, high = np.quantile(many, [LOWEST, 0.5, HIGHEST])
    assert found.quantile(0.5) == pytest.approx(middle, abs=0.05 * (high - low))
    assert found.quantile(HIGHEST) - found.quantile(0.5) == pytest.approx(high - middle, rel=0.25)
    assert found.quantile(0.5) - found.quantile(LOWEST) == pytest.approx(middle - low, rel=0.25)


@pytest.mark.parametrize("name", DISTRIBUTIONS)
def test_values_and_percentiles_lie_in_the_support(name: str) -> None:
    found = fit_distribution(POSITIVE, name=name)
    low, high = found.support
    points = [found.quantile(share) for share in (LOWEST, 0.5, HIGHEST)]
    assert low <= points[0] < points[1] < points[2] <= high
    assert low < POSITIVE.min()
    assert POSITIVE.max() < high
    assert found.below(low) == pytest.approx(0, abs=1e-15) or low == -math.inf
    for value in points:
        assert found.below(value) + found.above(value) == pytest.approx(1, rel=1e-12)


@pytest.mark.parametrize("name", ["shifted Weibull", "shifted gamma", "shifted lognormal"])
def test_another_zero_moves_the_shift_and_nothing_else(name: str) -> None:
    here, there = fit_distribution(POSITIVE, name=name), fit_distribution(POSITIVE + 64, name=name)
    assert there.parameters["shift"] == pytest.approx(here.parameters["shift"] + 64, abs=1e-3)
    assert there.quantile(HIGHEST) == pytest.approx(here.quantile(HIGHEST) + 64, rel=1e-4)
    other = name.replace("shifted", "mirrored")
    mirrored = fit_distribution(-POSITIVE, name=other)
    assert mirrored.quantile(LOWEST) == pytest.approx(-here.quantile(HIGHEST), rel=1e-6)
    assert mirrored.below(-3) == pytest.approx(here.above(3), rel=1e-6)
    assert mirrored.support[1] == pytest.approx(-here.support[0])


@pytest.mark.parametrize("name", ["shifted lognormal", "shifted Weibull", "shifted gamma"])
def test_a_shift_does_not_run_into_the_smallest_value(name: str) -> None:
    # the likelihood of each grows without end as the shift comes near
    x = 3 + np.random.default_rng(44).weibull(0.7, 60)
    shift = fit_distribution(x, name=name).parameters["shift"]
    assert x.min() - shift >= 0.999 * np.ptp(x) / 120


def test_values_of_one_sign_are_not_given_a_normal_that_reaches_below_zero() -> None:
    x = np.random.default_rng(46).weibull(2, 60)
    assert stats.norm(x.mean(), x.std(ddof=1)).ppf(LOWEST) < 0
    found = fit_distribution(x)
    assert found.name != "normal"
    assert found.quantile(LOWEST) >= 0


def test_few_values_are_taken_as_normal() -> None:
    assert fit_distribution([0.1, 0.2, 0.2, 0.3, 9.0]).name == "normal"


def test_zeros_rule_out_what_begins_above_zero() -> None:
    x = np.r_[0.0, np.abs(RNG.normal(size=200))]
    for name in ("lognormal", "Weibull", "gamma"):
        with pytest.raises(ValueError, match=f"distribution is '{name}'; these values"):
            fit_distribution(x, name=name)
    assert fit_distribution(x).quantile(LOWEST) < 0.1


def test_normal_scores_turn_a_fit_into_the_standard_normal() -> None:
    found = fit_distribution(POSITIVE, name="lognormal")
    logs = np.log(POSITIVE)
    np.testing.assert_allclose(found.normal_scores(POSITIVE),
                               (logs - logs.mean()) / logs.std(ddof=1), rtol=1e-8, atol=1e-12)
    assert found.normal_scores(np.array([-1.0, 1e300])).tolist() == [-38, 38]


def test_many_values_are_chosen_by_some_and_fitted_by_all() -> None:
    x = np.random.default_rng(47).lognormal(0, 0.5, 3 * MOST_COMPARED)
    found = fit_distribution(x)
    assert found.name == "lognormal"
    assert found.parameters["mean_log"] == pytest.approx(np.log(x).mean(), rel=1e-9)


def test_rounded_values_are_not_a_poor_fit() -> None:
    x = np.random.default_rng(48).lognormal(1, 0.4, 1000).round(1)
    found = fit_distribution(x, name="lognormal")
    assert found.a_squared < POOR_FIT
    assert stats.anderson((np.log(x) - np.log(x).mean()) / np.log(x).std(ddof=1),
                          method="interpolate").statistic > found.a_squared


@pytest.mark.parametrize("name", ["lognormal", "Weibull", "gamma"])
def test_values_far_from_zero_have_no_skew_to_find_there(name: str) -> None:
    far = 1e9 + RNG.normal(size=50)
    with pytest.raises(ValueError, match=f"distribution is '{name}'; these values"):
        fit_distribution(far, name=name)


def test_two_humps_are_a_poor_fit() -> None:
    x = np.r_[RNG.normal(0, 1, 100), RNG.normal(9, 1, 100)]
    assert fit_distribution(x).a_squared > POOR_FIT


@pytest.mark.parametrize(("values", "message"), [
    ([1.0], "values has 1 values; it needs at least 2"),
    ([2.0, 2.0], "values are all 2; a distribution needs values that vary"),
    ([1.0, np.nan], "values is nan at position 2"),
    ([-1e308, 1e308], "values from -1e\\+308 to 1e\\+308 are too far apart to compute with"),
    ([1e-200, 3e-200], "values from 1e-200 to 3e-200 are too close together to compute with"),
])
def test_wrong_input_is_named(values, message) -> None:
    with pytest.raises(ValueError, match=message):
        fit_distribution(values)


def test_a_fit_without_a_name_of_ours_can_be_judged_too() -> None:
    fit = Fit(name="exponential", parameters={"scale": 2.0}, frozen=stats.expon(scale=2))
    assert fit.quantile(0.5) == pytest.approx(2 * math.log(2))
    assert fit.support == (0, math.inf)


def test_few_values_are_given_no_third_parameter() -> None:
    # skewed enough for the test to speak: below fifty values a made-up threshold would decide
    x = np.array([0.2, 0.3, 0.3, 0.4, 0.4, 0.5, 0.6, 0.8, 1.4, 3.9]) + 5
    assert len(fit_distribution(x).parameters) == 2
    assert len(fit_distribution(np.tile(x, 5) + np.linspace(0, 0.05, 50)).parameters) > 2


def test_a_name_may_be_written_large_or_small() -> None:
    assert fit_distribution(POSITIVE, name="weibull").name == "Weibull"
    assert fit_distribution(POSITIVE, name="johnson su").name == "Johnson SU"
