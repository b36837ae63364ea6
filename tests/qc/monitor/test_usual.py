"""Usual rates: they find planted rates, borrow where data are thin, and say how sure they are."""

import numpy as np
import pytest

from qc.monitor.dispersion import GRID_SD, JOB_GRID_SD, between_levels_sd
from qc.monitor.usual import (
    level_rates,
    plain_rates,
    rate_doubt,
    usual_rates,
)


def grid(n_fabrics=6, n_transfers=5):
    fabric, transfer = np.divmod(np.arange(n_fabrics * n_transfers), n_transfers)
    place = np.zeros_like(fabric)
    return np.stack([fabric, transfer, place, place], axis=1)


def variance_of(usual, cell, codes):
    """Squared coefficient of variation of the rate of one cell, of the only kind."""
    expected = (np.arange(len(codes)) == cell).astype(float)[None]
    rate = plain_rates(usual, codes)[:, 0][None]
    doubt = rate_doubt(usual.y, rate, usual.n, usual.pairing_shape, codes,
                       usual.effects)
    return doubt.of_mix(expected)[0]


def test_a_rate_with_much_data_is_its_own():
    codes = grid()
    rng = np.random.default_rng(1)
    truth = rng.uniform(0.005, 0.08, len(codes))
    n = np.full((1, len(codes)), 20_000.0)
    y = rng.poisson(n * truth).astype(float)
    usual = usual_rates(y, n, codes)
    assert plain_rates(usual, codes)[:, 0] == pytest.approx(truth, rel=0.15)
    assert all(variance_of(usual, cell, codes) < 0.02 for cell in range(len(codes)))


def test_a_new_pairing_borrows_from_its_fabric_and_its_transfer():
    codes = grid()
    fabric_effect, transfer_effect = np.array([0.5, 1, 2, 1, 1, 3]), np.array([1, 2, 0.5, 1, 1])
    truth = 0.01 * fabric_effect[codes[:, 0]] * transfer_effect[codes[:, 1]]
    n = np.full((1, len(codes)), 4000.0)
    unseen = 11  # fabric 2 with transfer 1: 0.01 * 2 * 2
    n[0, unseen] = 0
    y = np.round(n * truth)
    usual = usual_rates(y, n, codes)
    assert truth[unseen] == pytest.approx(0.04)
    assert plain_rates(usual, codes)[unseen, 0] == pytest.approx(0.04, rel=0.2)
    assert variance_of(usual, unseen, codes) > 1.5 * variance_of(usual, 10, codes)


def test_a_fabric_never_fitted_has_the_rate_of_its_transfer():
    codes = grid(2, 2)
    n, y = np.full((1, 4), 5000.0), np.array([[50.0, 200.0, 50.0, 200.0]])
    usual = usual_rates(y, n, codes)
    new = np.array([[7, 0, 0, 0], [7, 1, 0, 0]])
    assert usual.effects.main(new)[0] == pytest.approx([0.01, 0.04], rel=0.15)


def test_leaving_a_level_out_undoes_what_it_put_in():
    codes = grid(2, 2)
    n, y = np.full((1, 4), 1000.0), np.array([[10.0, 10.0, 10.0, 40.0]])
    usual = usual_rates(y, n, codes)
    own_y, own_n = np.zeros((2, 1, 4)), np.zeros((2, 1, 4))
    own_y[1, 0, 3], own_n[1, 0, 3] = 36.0, 600.0
    rates = level_rates(usual, own_y, own_n, codes)
    assert rates.rate[1, 3, 0] < 0.6 * rates.rate[0, 3, 0]


def test_scaling_the_pieces_scales_the_rates():
    codes = grid(3, 3)
    y = np.arange(9.0)[None, :] + 20
    one, ten = (plain_rates(usual_rates(y, np.full((1, 9), pieces), codes), codes)
                for pieces in (1000.0, 10_000.0))
    assert one == pytest.approx(10 * ten, rel=1e-6)


def test_the_variance_of_a_mix_is_that_of_simulated_fits():
    codes = grid(3, 3)
    rng = np.random.default_rng(11)
    n, rate = np.full((1, 9), 1500.0), 0.02
    expected = rng.uniform(1, 5, (1, 9))
    fits = []
    for _ in range(400):
        pairing = rng.gamma(64, 1 / 64, (1, 9))
        usual = usual_rates(rng.poisson(n * rate * pairing).astype(float), n, codes)
        fits.append(float((expected[0] * plain_rates(usual, codes)[:, 0] / pairing[0]).sum()))
    share = expected / expected.sum()
    said = rate_doubt(n * rate, np.full((1, 9), rate), n, 64.0, codes, usual.effects)
    assert np.var(fits) / np.mean(fits) ** 2 == pytest.approx(said.of_mix(share)[0], rel=0.35)


@pytest.mark.parametrize("shape, least, most", [(4.0, 2.0, 8.0), (30.0, 12.0, 64.0)])
def test_how_much_pairings_differ_is_found_though_they_were_fitted_to(shape, least, most):
    codes = grid(8, 8)
    rng = np.random.default_rng(13)
    found = []
    for _ in range(20):
        mean = rng.uniform(2, 12, (6, len(codes)))
        y = rng.poisson(mean * rng.gamma(shape, 1 / shape, mean.shape)).astype(float)
        found.append(usual_rates(y, mean / 0.02, codes).pairing_shape)
    assert least <= np.median(found) <= most


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


def test_jobs_that_differ_wildly_are_seen_to_and_presses_are_held_to_less():
    rng = np.random.default_rng(8)
    mean = np.full((200, 1), 8.0)
    count = rng.poisson(mean * rng.gamma(1.0, 1.0, mean.shape)).astype(float)
    zero = np.zeros_like(mean)
    of_jobs = between_levels_sd(count, mean, zero, default=0.3, grid=JOB_GRID_SD)
    assert of_jobs == pytest.approx(1.0, abs=0.2)
    assert between_levels_sd(count, mean, zero, default=0.3) == GRID_SD[-1] < of_jobs


def test_main_effects_without_a_level_are_those_of_the_others():
    codes = grid(2, 2)
    n, y = np.full((1, 4), 1000.0), np.array([[10.0, 30.0, 10.0, 30.0]])
    usual = usual_rates(y, n, codes)
    bad_y, bad_n = np.zeros((1, 1, 4)), np.zeros((1, 1, 4))
    bad_y[..., [1, 3]], bad_n[..., [1, 3]] = 25.0, 500.0  # transfer 1: half of it is one bad lot
    rates = level_rates(usual, bad_y, bad_n, codes)
    plain = plain_rates(usual, codes)
    assert rates.rate[0, 1, 0] < 0.6 * plain[1, 0]
    assert rates.rate[0, 0, 0] == pytest.approx(plain[0, 0], rel=0.3)
