from __future__ import annotations

import math

import pytest
from scipy import stats

from qc.stats.fitting import Fit
from qc.stats.percentiles import percentile_indices
from qc.stats.specification import Specification
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
