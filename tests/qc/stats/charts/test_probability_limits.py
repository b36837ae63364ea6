from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from qc.stats.charts.probability_limits import (
    binomial_limits,
    geometric_limits,
    poisson_limits,
    tail_chance,
    weibull_limits,
)
from tests.published import case
from tests.reference.counts import binomial_tails, geometric_tails, whole_limits

TAILS = [5e-13, 5e-6, 0.00135, 0.025, 0.4]


def test_cumulative_count_limits_as_recomputed() -> None:
    published = case("rare_events_ccc_limits_500ppm")
    p, tail = published["data"]["p"], published["data"]["alpha"] / 2
    run, wanted = geometric_limits((1 - p) / p, tail=tail), published["recomputed"]
    assert [run.lower, run.median, run.upper] == pytest.approx(wanted["LCL_CL_UCL"], rel=1e-9)
    count = stats.geom(p)
    assert count.cdf(np.floor(run.lower)) == pytest.approx(
        wanted["check_cdf"]["P_le_floor_LCL"], rel=1e-9)
    assert count.sf(run.upper) == pytest.approx(wanted["check_cdf"]["P_gt_UCL"], rel=1e-9)


def test_limits_of_runs_between_events_as_recomputed() -> None:
    published = case("rare_events_g_chart_constructed")
    wanted, tail = published["recomputed"]["zero_based"], published["parameters"]["alpha"] / 2
    run = geometric_limits(wanted["mean"], tail=tail)
    assert [run.lower - 1, run.median - 1, run.upper - 1] == pytest.approx(
        [wanted["prob_LCL"], wanted["prob_CL_median"], wanted["prob_UCL"]], rel=1e-8)
    wanted = published["recomputed"]["one_based_same_numbers"]
    run = geometric_limits(wanted["mean"] - 1, tail=tail)  # a 1-based count holds the event too
    assert [run.lower, run.median, run.upper] == pytest.approx(
        [wanted["prob_LCL"], wanted["prob_CL_median"], wanted["prob_UCL"]], rel=1e-9)
    assert 1 / wanted["mean"] == pytest.approx(wanted["phat_moment"], rel=1e-9)


@pytest.mark.parametrize("share", [0.0, 1e-6, 0.02, 0.3, 0.5, 0.93, 1 - 1e-6, 1.0])
@pytest.mark.parametrize("tail", TAILS)
def test_binomial_limits_agree_with_the_library(share: float, tail: float) -> None:
    n = np.r_[1:400, 1000, 10**5, 10**7]
    band, law = binomial_limits(n, share, tail=tail), stats.binom(n, share)
    assert (law.sf(band.upper) <= tail).all()
    assert ((band.upper == 0) | (law.sf(band.upper - 1) > tail)).all()
    assert (law.cdf(band.lower - 1) <= tail).all()
    assert ((band.lower == n) | (law.cdf(band.lower) > tail)).all()


@pytest.mark.parametrize("tail", TAILS)
def test_poisson_limits_agree_with_the_library(tail: float) -> None:
    mean = np.r_[0, np.geomspace(1e-6, 1e6 if tail < 5e-6 else 1e8, 700)]
    band, law = poisson_limits(mean, tail=tail), stats.poisson(mean)
    assert (law.sf(band.upper) <= tail).all()
    assert ((band.upper == 0) | (law.sf(band.upper - 1) > tail)).all()
    assert (law.cdf(band.lower - 1) <= tail).all()
    assert (law.cdf(band.lower) > tail).all()


@pytest.mark.parametrize(("n", "share"), [(50, Fraction(1, 5)), (12, Fraction(1, 50)),
                                          (90, Fraction(3, 10)), (7, Fraction(99, 100))])
def test_binomial_limits_agree_with_exact_fractions(n: int, share: Fraction) -> None:
    for tail in (Fraction(27, 20_000), Fraction(1, 40), Fraction(1, 3)):
        band = binomial_limits(n, float(share), tail=float(tail))
        wanted = whole_limits(binomial_tails(n, share), tail)
        assert (band.lower[0], band.upper[0]) == wanted


def test_runs_agree_with_exact_fractions() -> None:
    for tail in (Fraction(1, 40), Fraction(1, 3)):
        run = geometric_limits(19, tail=float(tail))
        lower, upper = whole_limits(geometric_tails(Fraction(1, 20), 200), tail)
        assert (np.floor(run.lower), np.ceil(run.upper) - 1) == (lower, upper)


def test_exact_poisson_limits_of_the_tables() -> None:
    # cumulative tables of the Poisson distribution, from memory: mean 5: .9980 at 12, .9993 at 13;
    # mean 16: .0004 at 4, .0014 at 5, .9978 at 28, .9989 at 29
    band = poisson_limits([5.0, 16.0], tail=0.00135)
    assert band.upper.tolist() == [13, 29]
    assert band.lower.tolist() == [0, 5]


@pytest.mark.parametrize("shape", [0.3, 1, 2.5])
def test_weibull_limits_agree_with_the_library(shape: float) -> None:
    run = weibull_limits(12.5, tail=0.00135, shape=shape)
    wanted = stats.weibull_min(shape, scale=12.5).ppf([0.00135, 0.5, 1 - 0.00135])
    assert [run.lower, run.median, run.upper] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("alpha", [0.0, 1.0, -0.1, 1e-13, np.nan])
def test_alpha_out_of_range_is_named(alpha: float) -> None:
    with pytest.raises(ValueError, match="alpha is .*; it must be 1e-12 to below 1"):
        tail_chance("probability", alpha)
    assert tail_chance("sigma", alpha) is None


def test_a_tail_that_cannot_be_computed_is_refused() -> None:
    with pytest.raises(ValueError, match="alpha is 2e-06; it must be at least 1e-05 where more th"):
        poisson_limits([3.0, 2e6], tail=1e-6)


def test_poisson_tails_of_large_means_are_right_as_far_as_they_are_used() -> None:
    # the library against the first terms of the tail itself, from Stirling's series
    for mean, tail in [(1e6, 5e-13), (1e6, 0.00135), (1e8, 5e-6)]:
        k = poisson_limits([mean], tail=tail).upper[0]
        terms = np.cumprod(np.r_[1.0, mean / (k + 2 + np.arange(200_000))])
        x = k + 1
        away = (x - mean) / mean
        deviance = mean * sum((-away) ** j / (j * (j - 1)) for j in range(2, 12))
        first = np.exp(-deviance - 1 / (12 * x)) / np.sqrt(2 * np.pi * x)
        assert first * terms.sum() == pytest.approx(stats.poisson(mean).sf(k), rel=1e-4)
        assert first * terms.sum() <= tail < first * terms.sum() * 1.01
