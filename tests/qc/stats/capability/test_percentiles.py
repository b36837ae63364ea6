from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.capability.fitting import Fit, fit_distribution
from qc.stats.capability.percentiles import percentile_indices, percentile_intervals
from qc.stats.capability.specification import Specification
from tests.published import case

PUBLISHED = case("capability_percentile_lognormal_weibull")


def named(frozen, *, mirrored: bool = False) -> Fit:
    return Fit(name="given", parameters={}, frozen=frozen, mirrored=mirrored)


@pytest.mark.parametrize(("fit", "at", "name"), [
    (named(stats.lognorm(0.5)), 0, "lognormal"), (named(stats.weibull_min(2, scale=10)), 1,
                                                  "weibull"),
])
def test_indices_of_known_distributions(fit: Fit, at: int, name: str) -> None:
    limits, wanted = PUBLISHED["data"]["cases"][at], PUBLISHED["recomputed"][name]
    found = percentile_indices(fit, Specification(lower=limits["LSL"], upper=limits["USL"]))
    by_name = {"X0_135": found.low, "X50": found.median, "X99_865": found.high, "Pp": found.pp,
               "PpkU": found.upper, "PpkL": found.lower, "Ppk": found.ppk}
    assert {key: by_name[key] for key in wanted} == pytest.approx(wanted, rel=1e-9)
    left = {key for key in by_name if key not in wanted}
    assert all(math.isnan(by_name[key]) for key in left)


def test_a_normal_has_its_usual_indices() -> None:
    found = percentile_indices(named(stats.norm(10, 2)), Specification(lower=2, upper=15))
    three = stats.norm.ppf(0.99865)  # 2.99998, not 3
    assert found.pp == pytest.approx(13 / (4 * three), rel=1e-12)
    assert found.ppk == pytest.approx(5 / (2 * three), rel=1e-12)
    assert found.share_outside == pytest.approx(stats.norm.cdf(-4) + stats.norm.sf(2.5), rel=1e-12)


def test_a_mirrored_distribution_swaps_its_sides() -> None:
    plain = percentile_indices(named(stats.lognorm(0.5)), Specification(lower=0.1, upper=5))
    mirrored = percentile_indices(named(stats.lognorm(0.5), mirrored=True),
                                  Specification(lower=-5, upper=-0.1))
    assert (mirrored.lower, mirrored.upper) == pytest.approx((plain.upper, plain.lower))
    assert (mirrored.low, mirrored.high) == pytest.approx((-plain.high, -plain.low))
    assert mirrored.share_outside == pytest.approx(plain.share_outside)


def test_a_limit_beyond_the_support_costs_nothing() -> None:
    found = percentile_indices(named(stats.lognorm(0.5)), Specification(lower=-1))
    assert found.share_outside == 0
    assert found.low > 0
    assert found.lower == pytest.approx(2 / (1 - found.low))


def test_a_median_outside_has_a_negative_index() -> None:
    assert percentile_indices(named(stats.norm(10, 2)), Specification(upper=9)).ppk < 0


TRUTHS = {"normal": stats.norm(1, 1), "lognormal": stats.lognorm(0.5),
          "Weibull": stats.weibull_min(2, scale=2)}
LIMITS = Specification(lower=-4, upper=5)


@pytest.mark.parametrize("name", TRUTHS)
def test_intervals_cover_the_truth(name: str) -> None:
    truth = percentile_indices(named(TRUTHS[name]), LIMITS)
    rng, hits = np.random.default_rng(61), np.zeros(3)
    for _ in range(80):
        x = TRUTHS[name].rvs(60, random_state=rng)
        found = percentile_intervals(x, fit_distribution(x, name=name), LIMITS, 0.9)
        hits += [found.pp[0] <= truth.pp <= found.pp[1], found.ppk[0] <= truth.ppk <= found.ppk[1],
                 found.share_outside[0] <= truth.share_outside <= found.share_outside[1]]
    np.testing.assert_allclose(hits / 80, 0.9, atol=0.1)


def test_intervals_of_a_normal_are_near_the_exact_ones() -> None:
    from qc.stats.capability.indices import deviation_spread, nearer_index

    x = np.random.default_rng(62).normal(1, 1, 400)
    one_sided = Specification(upper=5)
    found = percentile_intervals(x, fit_distribution(x, name="normal"), one_sided, 0.95)
    exact = nearer_index((5 - x.mean()) / (3 * x.std(ddof=1)), 400, deviation_spread(1, 399, ""),
                         0.95)
    assert found.ppk[1] - found.ppk[0] == pytest.approx(exact.high - exact.low, rel=0.3)
    assert math.isnan(found.pp[0])
    # one limit: the share outside follows from the index
    assert found.share_outside[1] == pytest.approx(
        stats.norm.sf(found.ppk[0] * stats.norm.ppf(0.99865)), rel=1e-6)


def test_many_values_are_refitted_in_part_and_scaled() -> None:
    x = np.random.default_rng(63).normal(size=40_000)
    few, many = (percentile_intervals(part, fit_distribution(part, name="normal"), LIMITS, 0.95)
                 for part in (x[:10_000], x))
    ratio = (few.ppk[1] - few.ppk[0]) / (many.ppk[1] - many.ppk[0])
    assert ratio == pytest.approx(2, rel=0.5)  # root 4, both by 20 groups


def test_no_interval_where_there_is_too_little_to_refit() -> None:
    for x in ([1.0, 2, 3, 4, 5, 6, 7], [0.0] * 9 + [1.0]):
        values = np.array(x)
        fit = fit_distribution(values, name="normal")
        assert percentile_intervals(values, fit, LIMITS, 0.95) is None
