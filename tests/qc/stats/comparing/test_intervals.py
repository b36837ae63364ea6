from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from qc.stats.comparing.intervals import (
    IntervalCaution,
    exact_interval,
    rate_interval,
    wilson_interval,
)
from tests.published import case
from tests.reference.comparisons import exact_ends, poisson_ends, wilson_ends

NEWCOMBE = case("newcombe_1998_intervals")
GARWOOD = case("garwood_1936_poisson_ends")
BOTH = [(wilson_interval, "wilson"), (exact_interval, "exact")]
COUNTS = [(0, 1), (1, 1), (0, 20), (20, 20), (1, 29), (15, 148), (81, 263), (3, 9)]


@pytest.mark.parametrize("row", NEWCOMBE["cases"], ids=lambda r: f"{r['n_defective']}")
@pytest.mark.parametrize(("interval", "name"), BOTH)
def test_ends_of_a_share_as_printed(row, interval, name) -> None:
    found = interval(row["n_defective"], row["n_inspected"])
    assert (found.low, found.high) == pytest.approx(row[name], abs=NEWCOMBE["tolerance"])


@pytest.mark.parametrize("row", GARWOOD["cases"], ids=lambda r: f"{r['n_events']}")
def test_ends_of_a_poisson_mean_as_printed(row) -> None:
    found = rate_interval(row["n_events"], 1)
    assert found.low == pytest.approx(row["low"], abs=row["tolerance"])
    assert found.high == pytest.approx(row["high"], abs=row["tolerance"])


@pytest.mark.parametrize(("d", "n"), COUNTS)
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.999])
def test_ends_agree_with_two_libraries(d, n, confidence) -> None:
    alpha = 1 - confidence
    wilson = wilson_interval(d, n, confidence=confidence)
    exact = exact_interval(d, n, confidence=confidence)
    assert (wilson.low, wilson.high) == pytest.approx(
        proportion_confint(d, n, alpha=alpha, method="wilson"), abs=1e-9)
    assert (exact.low, exact.high) == pytest.approx(
        proportion_confint(d, n, alpha=alpha, method="beta"), abs=1e-9)
    test = stats.binomtest(d, n)
    for found, method in [(wilson, "wilson"), (exact, "exact")]:
        other = test.proportion_ci(confidence_level=confidence, method=method)
        assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=1e-9)


@pytest.mark.parametrize(("d", "n"), COUNTS)
def test_ends_agree_with_their_definitions(d, n) -> None:
    wilson, exact = wilson_interval(d, n), exact_interval(d, n)
    z = stats.norm.ppf(0.975)
    assert (wilson.low, wilson.high) == pytest.approx(wilson_ends(d, n, z), abs=1e-12)
    assert (exact.low, exact.high) == pytest.approx(exact_ends(d, n, 0.025), abs=1e-9)


@pytest.mark.parametrize("k", [0, 1, 4, 23, 60])
def test_poisson_ends_agree_with_their_definition(k) -> None:
    found = rate_interval(k, 2.5, confidence=0.9)
    low, high = poisson_ends(k, 0.05)
    assert (found.low, found.high) == pytest.approx((low / 2.5, high / 2.5), abs=1e-9)


def test_poisson_ends_agree_with_chi_square() -> None:
    k = np.arange(1, 400)
    found = rate_interval(k, np.ones(399))
    np.testing.assert_allclose(found.low, stats.chi2.ppf(0.025, 2 * k) / 2, rtol=1e-9)
    np.testing.assert_allclose(found.high, stats.chi2.ppf(0.975, 2 * k + 2) / 2, rtol=1e-9)


@pytest.mark.parametrize("interval", [wilson_interval, exact_interval])
def test_none_and_all_touch_the_end(interval) -> None:
    none, every = interval(0, 50), interval(50, 50)
    assert none.low == 0.0
    assert every.high == 1.0
    assert (1 - every.low) == pytest.approx(none.high)
    assert none.cautions == (IntervalCaution.NOTHING_SEEN,)
    assert interval(3, 10).cautions == (IntervalCaution.FEW_PIECES,)


def test_arrays_say_what_scalars_say() -> None:
    d, n = np.array([0, 3, 20]), 20
    for interval in (wilson_interval, exact_interval, rate_interval):
        many = interval(d, n)
        for at, k in enumerate(d):
            one = interval(int(k), n)
            assert isinstance(one.low, float)
            assert (many.low[at], many.high[at]) == (one.low, one.high)
        with pytest.raises(ValueError, match="read-only"):
            many.low[0] = 1


@pytest.mark.parametrize(("call", "message"), [
    (lambda: wilson_interval(5, 4), r"n_defective is 5; allowed: 0 to the number inspected"),
    (lambda: wilson_interval([1, 9], 4), "n_defective is 9 at position 2; allowed: 0 to the num"),
    (lambda: exact_interval(1.5, 4), r"n_defective is 1\.5; allowed: whole numbers from 0"),
    (lambda: wilson_interval(0, 0), "n_inspected is 0; allowed: whole numbers from 1"),
    (lambda: wilson_interval(1, 4, confidence=1), r"confidence is 1; it must be inside \(0, 1\)"),
    (lambda: exact_interval(1, 4, confidence=0), r"confidence is 0; it must be inside \(0, 1\)"),
    (lambda: rate_interval(-1, 4), "n_events is -1; allowed: whole numbers from 0"),
    (lambda: rate_interval(1, 0), "exposure is 0; allowed: numbers above 0"),
    (lambda: rate_interval(np.nan, 1), "n_events is nan; allowed: whole numbers from 0"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
