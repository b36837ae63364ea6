from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.comparing.intervals import rate_interval
from qc.stats.comparing.ratios import RatioCaution, standardised_ratio
from tests.published import case
from tests.reference.comparisons import poisson_ends, two_sided


@pytest.mark.parametrize("row", case("garwood_1936_poisson_ends")["cases"])
def test_ends_as_printed_for_an_expectation_of_one(row) -> None:
    found = standardised_ratio(row["n_events"], 1)
    assert (found.low, found.high) == pytest.approx((row["low"], row["high"]),
                                                    abs=row["tolerance"])


@pytest.mark.parametrize("observed", [0, 1, 7, 40])
@pytest.mark.parametrize("expected", [0.3, 5.0, 44.4])
def test_agrees_with_the_definition(observed, expected) -> None:
    found = standardised_ratio(observed, expected)
    low, high = poisson_ends(observed, 0.025)
    assert found.ratio == observed / expected
    assert (found.low, found.high) == pytest.approx((low / expected, high / expected), abs=1e-9)
    assert found.p_value == pytest.approx(two_sided(observed, expected), abs=1e-9)


def test_p_values_agree_with_a_library() -> None:
    k, mean = np.meshgrid(np.arange(60), [0.01, 1.0, 9.5, 31.0])
    found = standardised_ratio(k, mean)
    tails = np.minimum(stats.poisson.cdf(k, mean), stats.poisson.sf(k - 1, mean))
    np.testing.assert_allclose(found.p_value, np.minimum(1, 2 * tails), rtol=1e-9)


def test_p_value_and_interval_tell_one_story() -> None:
    k, mean = np.meshgrid(np.arange(80), np.linspace(0.2, 60, 97))
    found = standardised_ratio(k, mean)
    outside = (found.low > 1) | (found.high < 1)
    np.testing.assert_array_equal(outside, found.p_value < 0.05)


def test_nothing_expected_is_unknown_not_nought() -> None:
    found = standardised_ratio([0, 2, 1], [0.0, 0.0, 3.0])
    assert np.isnan(found.ratio[:2]).all()
    assert np.isnan(found.high[:2]).all()
    assert found.p_value.tolist()[:2] == [1.0, 0.0]
    assert found.cautions == (RatioCaution.NOTHING_EXPECTED, RatioCaution.LITTLE_EXPECTED)
    assert standardised_ratio(3, 5.0).cautions == ()


def test_is_a_rate_per_expected_event() -> None:
    ratio, rate = standardised_ratio(12, 7.5), rate_interval(12, 7.5)
    assert (ratio.ratio, ratio.low, ratio.high) == (rate.rate, rate.low, rate.high)


def test_covers_at_least_as_often_as_it_says() -> None:
    rng = np.random.default_rng(21)
    found = standardised_ratio(rng.poisson(6.3, 20_000), np.full(20_000, 6.3))
    assert ((found.low <= 1) & (found.high >= 1)).mean() >= 0.95


@pytest.mark.parametrize(("call", "message"), [
    (lambda: standardised_ratio(-1, 2), "observed is -1; allowed: whole numbers from 0"),
    (lambda: standardised_ratio(1.5, 2), r"observed is 1\.5; allowed: whole numbers from 0"),
    (lambda: standardised_ratio(1, -2), "expected is -2; allowed: finite numbers from 0"),
    (lambda: standardised_ratio([1, 1], [1, np.inf]), "expected is inf at position 2; allowed: f"),
    (lambda: standardised_ratio(1, 2, confidence=95), "confidence is 95; it must be inside"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
