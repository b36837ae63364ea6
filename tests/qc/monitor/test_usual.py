"""Usual rates: they find planted rates, borrow where data are thin, and say how sure they are."""

import numpy as np
import pytest
from scipy import stats

from qc.monitor.dispersion import between_levels_sd
from qc.monitor.usual import gamma_poisson_log_likelihood, rescaled_main, usual_rates


def grid(n_fabrics=6, n_transfers=5):
    fabric, transfer = np.divmod(np.arange(n_fabrics * n_transfers), n_transfers)
    place = np.zeros_like(fabric)
    return np.stack([fabric, transfer, place, place], axis=1)


def all_cells(codes):
    return np.arange(len(codes))


def test_a_rate_with_much_data_is_its_own():
    codes = grid()
    rng = np.random.default_rng(1)
    truth = rng.uniform(0.005, 0.08, len(codes))
    n = np.full((1, len(codes)), 20_000.0)
    y = rng.poisson(n * truth).astype(float)
    found = usual_rates(y, n, codes).at(slice(None), all_cells(codes))
    assert found.rate[:, 0] == pytest.approx(truth, rel=0.15)
    assert np.all(found.pairing_variance + found.main_variance.sum(axis=0) < 0.02)


def test_a_new_pairing_borrows_from_its_fabric_and_its_transfer():
    codes = grid()
    fabric_effect, transfer_effect = np.array([0.5, 1, 2, 1, 1, 3]), np.array([1, 2, 0.5, 1, 1])
    truth = 0.01 * fabric_effect[codes[:, 0]] * transfer_effect[codes[:, 1]]
    n = np.full((1, len(codes)), 4000.0)
    unseen = 11  # fabric 2 with transfer 1: 0.01 * 2 * 2
    n[0, unseen] = 0
    y = np.round(n * truth)
    usual = usual_rates(y, n, codes)
    new, known = (usual.at(slice(None), np.array([cell])) for cell in (unseen, 10))
    assert truth[unseen] == pytest.approx(0.04)
    assert new.rate[0, 0] == pytest.approx(0.04, rel=0.2)
    assert new.pairing_variance[0, 0] > known.pairing_variance[0, 0]
    assert np.all(new.main_variance[:, 0, 0] > known.main_variance[:, 0, 0])


def test_leaving_a_level_out_undoes_what_it_put_in():
    codes = grid(2, 2)
    n, y = np.full((1, 4), 1000.0), np.array([[10.0, 10.0, 10.0, 40.0]])
    usual = usual_rates(y, n, codes)
    with_it = usual.at(slice(None), np.array([3])).rate[0, 0]
    without = usual.at(slice(None), np.array([3]), y_out=36.0, n_out=600.0).rate[0, 0]
    assert without < 0.6 * with_it


def test_scaling_the_pieces_scales_the_rates():
    codes = grid(3, 3)
    y = np.arange(9.0)[None, :] + 20
    one = usual_rates(y, np.full((1, 9), 1000.0), codes).at(slice(None), all_cells(codes)).rate
    ten = usual_rates(y, np.full((1, 9), 10_000.0), codes).at(slice(None), all_cells(codes)).rate
    assert one == pytest.approx(10 * ten, rel=1e-6)


def test_the_gamma_poisson_likelihood_is_the_negative_binomial():
    count, mean, shape = np.array([0.0, 3.0, 11.0]), np.array([0.4, 2.0, 9.0]), 3.7
    expected = stats.nbinom.logpmf(count, shape, shape / (shape + mean))
    assert gamma_poisson_log_likelihood(count, mean, shape) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("true_sd", [0.1, 0.3])
def test_the_spread_between_levels_is_found_and_one_bad_level_does_not_inflate_it(true_sd):
    rng = np.random.default_rng(7)
    mean = np.full((60, 1), 40.0)
    level = rng.gamma(1 / true_sd**2, true_sd**2, (60, 1))
    count = rng.poisson(mean * level).astype(float)
    zero = np.zeros_like(mean)
    clean = between_levels_sd(count, mean, zero, default=0.2)
    count[:2] = 160.0
    spoilt = between_levels_sd(count, mean, zero, default=0.2)
    assert clean == pytest.approx(true_sd, abs=0.06)
    assert spoilt <= clean + 0.1


def test_main_effects_without_a_level_are_those_of_the_others():
    codes = grid(2, 2)
    n, y = np.full((1, 4), 1000.0), np.array([[10.0, 30.0, 10.0, 30.0]])
    usual = usual_rates(y, n, codes)
    bad_y, bad_n = np.zeros((1, 1, 4)), np.zeros((1, 1, 4))
    bad_y[..., [1, 3]], bad_n[..., [1, 3]] = 25.0, 500.0  # transfer 1: half of it is one bad lot
    scale, variance = rescaled_main(usual, bad_y, bad_n, codes)
    assert usual.main[0, 1] * scale[0, 0, 1] < 0.6 * usual.main[0, 1]
    assert scale[0, 0, 0] == pytest.approx(1.0, abs=0.3)
    assert np.all(variance[:, 0, 0] >= usual.main_variance[:, 0])
