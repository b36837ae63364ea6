"""Likelihood ratio and tail of a window against scipy's negative binomial and Poisson."""

import numpy as np
import pytest
from scipy import stats

from qc.monitor.detection import (
    gamma_poisson_log_likelihood,
    log_likelihood_ratio,
    upper_tail,
)


@pytest.mark.parametrize("count, mean, variance", [(4, 1.2, 0.05), (30, 12.0, 0.02), (9, 8.9, 0.5)])
def test_the_tail_is_that_of_the_negative_binomial(count, mean, variance):
    shape = 1 / variance
    expected = stats.nbinom.sf(count - 1, shape, shape / (shape + mean))
    got = upper_tail(np.float64(count), np.float64(mean), np.float64(variance))
    assert got == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("count, mean", [(1, 0.3), (7, 3.0), (40, 20.0)])
def test_without_extra_variance_it_is_the_poisson(count, mean):
    got = upper_tail(np.float64(count), np.float64(mean), np.float64(1e-9))
    assert got == pytest.approx(stats.poisson.sf(count - 1, mean), rel=1e-6)
    gain = log_likelihood_ratio(np.float64(count), np.float64(mean), np.float64(1e-9))
    assert gain == pytest.approx(count * np.log(count / mean) - (count - mean), rel=1e-6)


def test_the_gain_is_the_difference_of_two_log_probabilities():
    count, mean, variance = 18.0, 6.0, 0.1
    shape = 1 / variance
    best = stats.nbinom.logpmf(count, shape, shape / (shape + count))
    usual = stats.nbinom.logpmf(count, shape, shape / (shape + mean))
    gain = log_likelihood_ratio(np.float64(count), np.float64(mean), np.float64(variance))
    assert gain == pytest.approx(best - usual, rel=1e-10)


def test_fewer_than_expected_is_no_gain():
    counts = np.array([0.0, 1.0, 3.0])
    assert log_likelihood_ratio(counts, np.full(3, 3.0), np.full(3, 0.1)).tolist() == [0, 0, 0]


def test_an_uncertain_expectation_makes_the_same_count_less_surprising():
    variances = np.array([0.001, 0.05, 0.2, 1.0])
    tails = upper_tail(np.full(4, 20.0), np.full(4, 8.0), variances)
    assert np.all(np.diff(tails) > 0)


def test_the_gamma_poisson_likelihood_is_the_negative_binomial():
    count, mean, shape = np.array([0.0, 3.0, 11.0]), np.array([0.4, 2.0, 9.0]), 3.7
    expected = stats.nbinom.logpmf(count, shape, shape / (shape + mean))
    assert gamma_poisson_log_likelihood(count, mean, shape) == pytest.approx(expected, rel=1e-10)
