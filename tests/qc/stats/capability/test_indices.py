from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.capability.fitting import Fit
from qc.stats.capability.indices import (
    deviation_spread,
    moving_range_spread,
    nearer_index,
    point_indices,
    target_index,
    width_index,
)
from qc.stats.capability.noncentral import noncentral_t_cdf, noncentrality
from qc.stats.capability.percentiles import share_outside
from qc.stats.capability.specification import Specification
from tests.published import case
from tests.reference.capability import bissell_interval


def spread_of(sigma: float, n: int):
    return deviation_spread(sigma, n - 1, "standard deviation")


def test_indices_of_the_handbook_example() -> None:
    published = case("capability_nist_example")
    data, wanted = published["data"], published["recomputed"]
    found = point_indices(data["xbar"], data["s"], Specification(
        lower=data["LSL"], upper=data["USL"], target=published["parameters"]["T"]))
    by_name = {"Cp": found.c, "Cpk": found.nearer, "Cpu": found.upper, "Cpl": found.lower,
               "k_hat": found.k}
    for name, printed in published["published"].items():
        assert by_name[name] == pytest.approx(printed["value"], abs=printed["tolerance"] or 1e-12)
    assert {**by_name, "Cpm_T14": found.cpm} == pytest.approx(wanted, rel=1e-9)


def test_interval_of_cp_as_printed() -> None:
    published = case("capability_cp_chi2_ci")
    data = published["data"]
    specification = Specification(lower=data["LSL"], upper=data["USL"])
    value = point_indices(50, data["s"], specification).c
    found = width_index(value, spread_of(data["s"], data["n"]), 1 - data["alpha"])
    by_name = {"Cp": found.value, "CI_low": found.low, "CI_high": found.high}
    for name, printed in published["published"].items():
        assert by_name[name] == pytest.approx(printed["value"], abs=printed["tolerance"])
    assert by_name == pytest.approx(published["recomputed"], rel=1e-9)


def test_share_outside_of_a_centred_process() -> None:
    published = case("capability_fallout_centred")
    cp = np.array([1, 4 / 3, 5 / 3, 2])
    np.testing.assert_allclose(cp, published["data"]["Cp"], atol=1e-9)
    normal = Fit(name="normal", parameters={}, frozen=stats.norm())
    shares = [share_outside(normal, Specification(lower=-3 * c, upper=3 * c))
              for c in cp]
    ppm = np.array(shares) * 1e6
    np.testing.assert_allclose(ppm, published["recomputed"]["two_sided_ppm"], rtol=1e-9)
    printed = published["published"]["two_sided_ppm"]
    np.testing.assert_allclose(ppm, printed["value"], atol=printed["tolerance"])
    assert 100 * shares[0] == pytest.approx(
        published["recomputed"]["two_sided_percent_at_Cp1"], rel=1e-9)


def test_interval_of_cpk_is_near_the_one_of_bissell() -> None:
    # Montgomery, Introduction to Statistical Quality Control, example of Cpk with n = 20 and
    # 1.33 (data from memory); Bissell (1990), Applied Statistics 39, gives 0.883 to 1.777
    low, high = bissell_interval(1.33, 20, 19, 0.95)
    assert (low, high) == pytest.approx((0.883, 1.777), abs=5e-4)
    found = nearer_index(1.33, 20, spread_of(1, 20), 0.95)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.01)


@pytest.mark.parametrize("n", [5, 20, 100, 10_000])
@pytest.mark.parametrize("value", [-0.4, 0.0, 0.3, 1.33, 2.5])
def test_ends_of_cpk_leave_the_tails_they_should(n: int, value: float) -> None:
    found = nearer_index(value, n, spread_of(1, n), 0.9)
    t = 3 * math.sqrt(n) * value
    above = stats.nct.sf(t, n - 1, 3 * math.sqrt(n) * found.low)
    below = stats.nct.cdf(t, n - 1, 3 * math.sqrt(n) * found.high)
    assert (above, below) == pytest.approx((0.05, 0.05), rel=1e-9)


def test_ends_of_cpk_know_that_a_moving_range_is_not_a_deviation() -> None:
    spread = moving_range_spread(1.0, 5)
    found = nearer_index(1.2, 5, spread, 0.9)
    # sigma found = true sigma * scale * chi / sqrt(df), so room / chi is value times scale
    t = 3 * math.sqrt(5) * 1.2 * spread.scale
    assert spread.scale > 1.08
    assert stats.nct.sf(t, spread.df, 3 * math.sqrt(5) * found.low) == pytest.approx(0.05, rel=1e-8)


@pytest.mark.parametrize("n", [10, 25, 50])
def test_interval_of_cpk_from_moving_ranges_misses_as_often_as_it_says(n: int) -> None:
    true, root = 4 / 3, 3 * math.sqrt(n)
    x = np.random.default_rng(3).normal(size=(20_000, n))
    sigma = np.abs(np.diff(x, axis=1)).mean(axis=1) * math.sqrt(math.pi) / 2
    found = (3 * true - x.mean(axis=1)) / (3 * sigma)  # an upper limit alone
    spread = moving_range_spread(1.0, n)
    least, most = (float(stats.nct.ppf(tail, spread.df, root * true)) / root / spread.scale
                   for tail in (0.025, 0.975))
    assert nearer_index(least, n, spread, 0.95).high == pytest.approx(true, abs=1e-6)
    assert nearer_index(most, n, spread, 0.95).low == pytest.approx(true, abs=1e-6)
    assert (found < least).mean() == pytest.approx(0.025, abs=0.007)
    assert (found > most).mean() == pytest.approx(0.025, abs=0.009)


@pytest.mark.parametrize(("t", "df", "delta"), [
    (0.3, 1, 1), (5, 1, -2), (0, 4, 0.5), (-2, 3, -1), (17, 19, 15), (450, 9999, 445),
    (6, 1.3, 4), (36, 60.5, 33), (0.4, 99, 0.1), (2, 9999, 2), (0.5, 99_999, 1), (-40, 60, -35),
    (-450, 9999, -445),
])
def test_noncentral_t_agrees_with_the_library(t: float, df: float, delta: float) -> None:
    found = noncentral_t_cdf(t, df, delta)
    assert found == pytest.approx(float(stats.nct.cdf(t, df, delta)), rel=1e-9, abs=1e-13)
    assert noncentrality(t, df, found) == pytest.approx(delta, abs=1e-9)


def test_noncentral_t_of_a_large_sample_is_nearly_normal() -> None:
    # at df 1e6: T is normal with mean delta c, variance 1 + delta^2 / (2 df), to 1e-3
    t, df, delta = 6000.0, 1e6, 5995.0
    wanted = stats.norm.cdf((t - delta) / math.sqrt(1 + delta**2 / (2 * df)))
    assert noncentral_t_cdf(t, df, delta) == pytest.approx(wanted, abs=1e-3)
    delta = noncentrality(t, df, 0.975)
    assert noncentral_t_cdf(t, df, delta) == pytest.approx(0.975, abs=1e-12)


@pytest.mark.parametrize("n", [2, 3, 10, 50])
def test_moving_range_is_as_sure_as_simulated(n: int) -> None:
    x = np.random.default_rng(7).normal(size=(60_000, n))
    sigma = np.abs(np.diff(x, axis=1)).mean(axis=1) * math.sqrt(math.pi) / 2
    spread = moving_range_spread(1.0, n)
    chi = stats.chi(spread.df, scale=spread.scale / math.sqrt(spread.df))
    assert chi.mean() == pytest.approx(1, abs=1e-9)
    assert chi.std() == pytest.approx(sigma.std(), rel=0.015)
    # tails of the interval, 2.5 % wanted each
    assert (sigma < chi.ppf(0.025)).mean() == pytest.approx(0.025, abs=0.013)
    assert (sigma > chi.ppf(0.975)).mean() == pytest.approx(0.025, abs=0.013)


def test_two_values_have_one_degree_of_freedom_and_many_three_in_five() -> None:
    assert moving_range_spread(1.0, 2).df == pytest.approx(1, abs=1e-9)
    # variance (d3^2 + 2 cov) / d2^2 = 0.826 for each value: df = 1 / (2 * 0.826)
    assert moving_range_spread(1.0, 10**6).df / 10**6 == pytest.approx(0.605, abs=5e-4)
    around = [moving_range_spread(1.0, n).df for n in (329, 330, 331, 332, 333)]
    np.testing.assert_allclose(np.diff(around), np.diff(around)[0], rtol=1e-4)


def test_cpm_on_target_is_as_sure_as_cp_of_one_more_value() -> None:
    on_target = target_index(1.2, 30, 0.0, 0.95)
    known_mean = width_index(1.2 * math.sqrt(30 / 29), deviation_spread(1, 30, ""), 0.95)
    assert (on_target.low, on_target.high) == pytest.approx((known_mean.low, known_mean.high))
    # off target the mean counts too, and it is known better: the interval narrows
    assert target_index(1.2, 30, 1.5, 0.95).low > on_target.low
    assert target_index(1.2, 30, -1.5, 0.95) == target_index(1.2, 30, 1.5, 0.95)


@pytest.mark.parametrize("n", [5, 20])
def test_interval_of_cpm_on_target_leaves_the_tails_it_should(n: int) -> None:
    x = np.random.default_rng(9).normal(0, 1, (6000, n))
    missed = np.zeros(2)
    for row in x:
        at = point_indices(row.mean(), row.std(ddof=1), Specification(lower=-3, upper=3, target=0))
        index = target_index(at.cpm, n, row.mean() / row.std(ddof=1), 0.95)
        missed += index.high < 1, index.low > 1
    assert missed / 6000 == pytest.approx([0.025, 0.025], abs=0.011)


def test_interval_of_cpm_covers() -> None:
    rng, n, off = np.random.default_rng(11), 40, 0.7
    x = rng.normal(off, 1, (4000, n))
    true = 6 / (6 * math.sqrt(1 + off**2))
    inside = 0
    for row in x:
        found = point_indices(row.mean(), row.std(ddof=1), Specification(
            lower=-3, upper=3, target=0)).cpm
        index = target_index(found, n, row.mean() / row.std(ddof=1), 0.95)
        inside += index.low <= true <= index.high
    assert inside / 4000 == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize(("given", "message"), [
    ({}, "lower is None and upper is None; at least one must be a number"),
    ({"target": 3}, "lower is None and upper is None"),
    ({"lower": 5, "upper": 5}, "lower is 5; it must be below upper, 5"),
    ({"lower": math.nan}, "lower is nan; it must be a finite number"),
    ({"upper": math.inf}, "upper is inf; it must be a finite number"),
    ({"lower": 0, "target": math.nan}, "target is nan; it must be a finite number"),
    ({"lower": 0, "upper": 4, "target": 5}, "target is 5; it must lie within 0 to 4"),
])
def test_limits_that_make_no_sense_are_named(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        Specification(**given)


def test_a_target_may_be_a_limit() -> None:
    assert Specification(lower=0, upper=4, target=0).target == 0
    assert Specification(upper=4, target=4).target == 4


def test_a_value_on_a_limit_keeps_it() -> None:
    assert Specification(lower=1, upper=3).n_outside(np.array([1.0, 3, 0.9, 3.1, 2])) == 2
