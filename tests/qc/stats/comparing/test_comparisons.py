from __future__ import annotations

import warnings

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep
from statsmodels.stats.rates import confint_poisson_2indep

from qc.stats.comparing.comparisons import ComparisonCaution, compare_rates, compare_shares
from tests.published import case
from tests.reference.two_groups import (
    conditional_ends,
    conditional_p,
    fisher,
    koopman_ends,
    newcombe_ends,
)

PUBLISHED = case("two_groups_published")
Z95 = stats.norm.ppf(0.975)
SHARES = [(7, 34, 1, 34), (56, 70, 48, 80), (0, 10, 3, 10), (3, 10, 0, 10), (10, 10, 20, 20),
          (10, 10, 3, 20), (3, 20, 20, 20), (10, 10, 0, 20), (1, 3, 2, 5), (40, 400, 12, 380)]
RATES = [(60, 51.5, 30, 54.3), (11, 800.0, 21, 3011.0), (0, 3.0, 4, 2.0), (4, 2.0, 0, 3.0),
         (1, 1.0, 1, 1.0), (25, 0.5, 3, 9.0)]


@pytest.mark.parametrize("row", PUBLISHED["differences"]["cases"])
def test_differences_as_printed(row) -> None:
    found = compare_shares(*row["counts"]).difference
    assert (found.low, found.high) == pytest.approx(
        (row["low"], row["high"]), abs=PUBLISHED["differences"]["tolerance"])


@pytest.mark.parametrize("name", ["difference", "ratio"])
def test_seven_of_34_as_printed(name) -> None:
    wanted = PUBLISHED["seven_of_34"][name]
    found = getattr(compare_shares(*PUBLISHED["seven_of_34"]["counts"]), name)
    for end, off in zip(("low", "high"), wanted["tolerance"], strict=True):
        assert getattr(found, end) == pytest.approx(wanted[end], abs=off)


def test_rates_as_printed() -> None:
    wanted = PUBLISHED["rates"]
    found = compare_rates(*wanted["counts"])
    assert (found.ratio.low, found.ratio.high) == pytest.approx(
        (wanted["ratio"]["low"], wanted["ratio"]["high"]), rel=1e-12)
    for name in ("p_value", "mid_p"):
        assert getattr(found, name) / 2 == pytest.approx(
            wanted["one_sided"][name], abs=wanted["one_sided"]["tolerance"])
    other = PUBLISHED["rates_of_two_groups"]
    ratio = compare_rates(*other["counts"]).ratio
    assert (ratio.low, ratio.high) == pytest.approx(
        (other["ratio"]["low"], other["ratio"]["high"]), abs=other["ratio"]["tolerance"])


def test_tea_as_printed() -> None:
    found = compare_shares(*PUBLISHED["tea"]["counts"])
    assert found.p_value == pytest.approx(PUBLISHED["tea"]["p_value"], rel=1e-12)


@pytest.mark.parametrize("counts", SHARES)
def test_shares_agree_with_the_definitions(counts) -> None:
    found = compare_shares(*counts)
    assert (found.p_value, found.mid_p) == pytest.approx(fisher(*counts), rel=1e-12)
    assert (found.difference.low, found.difference.high) == pytest.approx(
        newcombe_ends(*counts, Z95), abs=1e-12)
    assert (found.ratio.low, found.ratio.high) == pytest.approx(
        koopman_ends(*counts, Z95), rel=1e-7)


@pytest.mark.parametrize("counts", RATES)
def test_rates_agree_with_the_definitions(counts) -> None:
    found = compare_rates(*counts)
    assert (found.p_value, found.mid_p) == pytest.approx(conditional_p(*counts), rel=1e-9)
    assert (found.ratio.low, found.ratio.high) == pytest.approx(
        conditional_ends(*counts, 0.025), rel=1e-9)


def test_values_are_difference_and_ratio_of_the_two() -> None:
    shares = compare_shares(7, 35, 3, 60)
    assert (shares.share, shares.reference) == (0.2, 0.05)
    assert (shares.difference.value, shares.ratio.value) == pytest.approx((0.15, 4), rel=1e-12)
    rates = compare_rates(6, 0.5, 9, 3.0)
    assert (rates.rate, rates.reference) == (12, 3)
    assert (rates.difference.value, rates.ratio.value) == pytest.approx((9, 4), rel=1e-12)


@pytest.mark.parametrize("confidence", [0.9, 0.95, 0.999])
def test_intervals_agree_with_a_library(confidence) -> None:
    alpha = 1 - confidence
    for counts in ((7, 34, 1, 34), (56, 70, 48, 80), (40, 400, 12, 380), (900, 10**6, 1000, 10**6)):
        found = compare_shares(*counts, confidence=confidence)
        other = confint_proportions_2indep(*counts, method="newcomb", alpha=alpha)
        assert (found.difference.low, found.difference.high) == pytest.approx(other, rel=1e-9)
        other = confint_proportions_2indep(
            *counts, method="score", compare="ratio", correction=False, alpha=alpha)
        assert (found.ratio.low, found.ratio.high) == pytest.approx(other, rel=1e-9)
    for counts in RATES:
        rates = compare_rates(*counts, confidence=confidence).difference
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            other = confint_poisson_2indep(*counts, method="mover", compare="diff",
                                           method_mover="score", alpha=alpha)
        assert (rates.low, rates.high) == pytest.approx(other, rel=1e-9)


def test_where_the_library_is_wrong_we_differ() -> None:
    # all pieces defective in both groups: the library's ratio interval begins at the estimate, 1;
    # the score equation gives 10 / (10 + z^2), as the slow definition confirms
    found = compare_shares(10, 10, 20, 20).ratio
    other = confint_proportions_2indep(10, 10, 20, 20, method="score", compare="ratio",
                                       correction=False)
    assert found.low == pytest.approx(10 / (10 + Z95**2), rel=1e-12)
    assert found.high == pytest.approx((20 + Z95**2) / 20, rel=1e-12)
    assert other[0] > 0.99


def test_exact_p_values_agree_with_a_library() -> None:
    rng = np.random.default_rng(40)
    n = rng.integers(1, 300, (200, 2))
    d = rng.binomial(n, rng.uniform(0, 0.5, (200, 2)))
    found = compare_shares(d[:, 0], n[:, 0], d[:, 1], n[:, 1])
    wanted = [stats.fisher_exact([[a[0], m[0] - a[0]], [a[1], m[1] - a[1]]]).pvalue
              for a, m in zip(d, n, strict=True)]
    np.testing.assert_allclose(found.p_value, wanted, rtol=1e-9)
    rates = compare_rates(d[:, 0], n[:, 0], d[:, 1], n[:, 1])
    share, total = n[:, 0] / n.sum(axis=1), d.sum(axis=1)
    tails = np.minimum(stats.binom.cdf(d[:, 0], total, share),
                       stats.binom.sf(d[:, 0] - 1, total, share))
    np.testing.assert_allclose(rates.p_value, np.minimum(1, 2 * tails), rtol=1e-9)
    one = stats.binomtest(60, 90, 51.5 / (51.5 + 54.3)).proportion_ci(0.95, "exact")
    ratio = compare_rates(60, 51.5, 30, 54.3).ratio
    odds = [p / (1 - p) * 54.3 / 51.5 for p in (one.low, one.high)]
    assert (ratio.low, ratio.high) == pytest.approx(odds, rel=1e-9)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.5])
def test_mid_p_is_a_half_on_average_without_a_difference(share) -> None:
    n, n0 = 15, 22
    d, d0 = (k.ravel() for k in np.meshgrid(np.arange(n + 1), np.arange(n0 + 1)))
    chance = stats.binom.pmf(d, n, share) * stats.binom.pmf(d0, n0, share)
    found = compare_shares(d, n, d0, n0)
    assert (chance * found.mid_p).sum() == pytest.approx(0.5, abs=1e-12)
    for alpha in (0.01, 0.05, 0.2):  # an exact test is never wrong more often than it says
        assert chance[found.p_value <= alpha].sum() <= alpha


def test_rate_p_value_and_ratio_tell_one_story() -> None:
    k, k0 = np.meshgrid(np.arange(40), np.arange(40))
    found = compare_rates(k, 3.0, k0, 2.0)
    outside = (found.ratio.low > 1) | (found.ratio.high < 1)
    np.testing.assert_array_equal(outside, found.p_value < 0.05)


@pytest.mark.parametrize(("p", "q"), [(0.05, 0.05), (0.1, 0.03), (0.5, 0.2)])
def test_intervals_hold_the_truth_as_often_as_they_say(p, q) -> None:
    rng = np.random.default_rng(41)
    d, d0 = rng.binomial(120, p, 4000), rng.binomial(90, q, 4000)
    found = compare_shares(d, 120, d0, 90)
    for one, truth in ((found.difference, p - q), (found.ratio, p / q)):
        assert 0.94 <= ((one.low <= truth) & (truth <= one.high)).mean() <= 0.98
    rates = compare_rates(d, 120.0, d0, 90.0)  # small shares: close to Poisson, a little narrower
    assert ((rates.ratio.low <= p / q) & (p / q <= rates.ratio.high)).mean() >= 0.95


def test_nothing_seen_is_said() -> None:
    none = compare_shares(0, 50, 0, 40)
    assert np.isnan(none.ratio.value)
    assert (none.ratio.low, none.ratio.high, none.p_value) == (0.0, np.inf, 1.0)
    assert none.cautions == (ComparisonCaution.NONE_AT_ALL,)
    assert compare_rates(0, 9.0, 0, 1.0).p_value == compare_rates(0, 1.0, 0, 9.0).p_value == 1.0
    assert compare_rates(1, 9.0, 0, 1.0).p_value == 1.0  # 0.9 of all events would be the first's
    rates = compare_rates([0, 3], 5.0, [2, 0], 1.0)
    assert rates.ratio.value.tolist() == [0.0, np.inf]
    assert (rates.ratio.low[0], rates.ratio.high[1]) == (0.0, np.inf)
    assert rates.cautions == (ComparisonCaution.NOTHING_SEEN,)
    assert compare_shares(3, 10, 5, 50).cautions == (ComparisonCaution.FEW_PIECES,)
    assert compare_shares(3, 20, 5, 50).cautions == ()


def test_arrays_say_what_scalars_say() -> None:
    many = compare_shares([0, 7, 20], [20, 34, 20], 1, 34)
    for at, (d, n) in enumerate([(0, 20), (7, 34), (20, 20)]):
        one = compare_shares(d, n, 1, 34)
        assert isinstance(one.ratio.low, float)
        for part in ("difference", "ratio"):
            for end in ("value", "low", "high"):
                assert getattr(getattr(many, part), end)[at] == getattr(getattr(one, part), end)
        assert (many.p_value[at], many.mid_p[at]) == (one.p_value, one.mid_p)
    with pytest.raises(ValueError, match="read-only"):
        many.ratio.low[0] = 1


def test_a_million_pieces_and_far_apart_shares() -> None:
    far = compare_shares(900_000, 10**6, 1000, 10**6)
    assert far.p_value == 0.0  # below 1e-300
    near = compare_shares(50_000_100, 10**9, 50_000_000, 10**9)
    assert near.p_value == pytest.approx(0.9925, abs=0.001)  # 0.0102 standard errors apart


@pytest.mark.parametrize(("call", "message"), [
    (lambda: compare_shares(5, 4, 1, 9), "n_defective is 5; allowed: 0 to n_inspected"),
    (lambda: compare_shares(1, 4, 10, 9), "reference_defective is 10; allowed: 0 to reference_in"),
    (lambda: compare_shares(1, 0, 1, 9), "n_inspected is 0; allowed: whole numbers from 1"),
    (lambda: compare_shares(1, 4, 1.5, 9), r"reference_defective is 1\.5; allowed: whole num"),
    (lambda: compare_shares(-1, 4, 1, 9), "n_defective is -1; allowed: whole numbers from 0"),
    (lambda: compare_shares(np.nan, 4, 1, 9), "n_defective is nan; allowed: whole numbers"),
    (lambda: compare_shares(1, np.inf, 1, 9), "n_inspected is inf; allowed: whole numbers"),
    (lambda: compare_shares([1, 2], 4, [1, 2, 3], 9), r"shapes \(2,\), \(2,\), \(3,\), \(3,\)"),
    (lambda: compare_shares(1, 4, 1, 9, confidence=95), r"confidence is 95; it must be inside"),
    (lambda: compare_rates(-1, 1, 1, 1), "n_events is -1; allowed: whole numbers from 0"),
    (lambda: compare_rates(1, 0, 1, 1), "exposure is 0; allowed: finite numbers above 0"),
    (lambda: compare_rates(1, 1, 1, np.inf), "reference_exposure is inf; allowed: finite numb"),
    (lambda: compare_rates(1, 1, 1, 1, confidence=0), "confidence is 0; it must be inside"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
