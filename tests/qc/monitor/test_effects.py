"""Main effects: found, drawn to none as strongly as the data say, and right without a level."""

import numpy as np
import pytest
from scipy import stats

from qc.monitor.effects import (
    EFFECT_SHAPE,
    Effects,
    fit_effects,
    refit_effects,
)
from qc.monitor.usual import level_rates, rate_doubt, usual_rates


def cells(*n_levels: int) -> np.ndarray:
    """All combinations of fabrics, transfers and places, looked at in one way."""
    codes = np.stack([axis.ravel() for axis in np.meshgrid(
        *(np.arange(n) for n in n_levels), indexing="ij")], axis=1)
    return np.concatenate([codes, np.zeros((len(codes), 4 - codes.shape[1]), dtype=int)], axis=1)


def counts_of(rng: np.random.Generator, codes: np.ndarray, shape: float, n_kinds: int,
              pieces: np.ndarray, rate: float = 0.01) -> tuple[np.ndarray, np.ndarray]:
    """Rates whose fabrics differ as a gamma of a shape, and faults seen, (kinds, cells)."""
    effect = rng.gamma(shape, 1.0 / shape, (n_kinds, codes[:, 0].max() + 1))
    truth = rate * effect[:, codes[:, 0]]
    return truth, rng.poisson(pieces * truth).astype(float)


def test_effects_are_those_of_a_log_linear_model_without_shrinkage():
    """With all the data one could wish for: the row and column effects of a table of rates."""
    codes = cells(4, 3)
    fabric, transfer = np.array([0.5, 1.0, 1.0, 2.0]), np.array([0.7, 1.0, 1.6])
    n = np.full((1, 12), 4e7)
    y = n * 0.01 * fabric[codes[:, 0]] * transfer[codes[:, 1]]
    found = fit_effects(y, n, codes)
    assert found.of[0][0, 1:] / found.of[0][0, 2] == pytest.approx(fabric, rel=0.01)
    assert found.of[1][0, 1:] / found.of[1][0, 2] == pytest.approx(transfer, rel=0.01)


@pytest.mark.parametrize("shape, least, most", [(2.0, 1.0, 4.0), (20.0, 8.0, 32.0)])
def test_how_much_fabrics_differ_is_found(shape, least, most):
    rng, codes = np.random.default_rng(5), cells(8, 4)
    pieces = np.full((10, 32), 400.0)
    found = [fit_effects(counts_of(rng, codes, shape, 10, pieces)[1], pieces, codes).shape[0]
             for _ in range(20)]
    assert least <= np.median(found) <= most


def test_where_fabrics_hardly_differ_one_without_faults_is_taken_to_be_like_the_others():
    codes = cells(8)
    n = np.full((10, 8), 600.0)
    alike, apart = np.full((10, 8), 6.0), np.tile([1.0, 14.0], (10, 4))
    alike[0, 0] = apart[0, 0] = 0.0
    one, other = (fit_effects(y, n, codes).of[0][0, 1] for y in (alike, apart))
    assert one > 0.7 > 0.35 > other


def test_without_a_level_the_effects_are_those_of_a_fit_without_it():
    rng, codes = np.random.default_rng(8), cells(5, 4, 2)
    pieces = rng.uniform(50, 800, (3, len(codes)))
    y = rng.poisson(0.01 * pieces * rng.gamma(4, 0.25, 5)[codes[:, 0]]).astype(float)
    part = rng.uniform(0, 0.9, len(codes)) ** 2
    own = rng.binomial(y.astype(int), part).astype(float)
    whole = fit_effects(y, pieces, codes)
    rest_y, rest_n = y - own, pieces * (1 - part)
    rest = refit_effects(rest_y[None], rest_n[None], codes, whole).at(0)
    again = Effects(base=np.full(3, 0.02), of=tuple(np.ones_like(e) for e in whole.of),
                    shape=whole.shape)
    for _ in range(10):
        again = refit_effects(rest_y[None], rest_n[None], codes, again).at(0)
    assert rest.main(codes) == pytest.approx(again.main(codes), rel=0.03)
    assert not np.allclose(rest.main(codes), whole.main(codes), rtol=0.1)


def test_what_is_left_of_a_fabric_that_one_level_made_up_is_like_other_fabrics():
    """All that is known of a fabric came of one press, which saw nothing: others know nothing of
    it, so the press is held against the fabrics there are."""
    codes = cells(4)
    n, y = np.full((1, 4), 2000.0), np.array([[0.0, 20.0, 22.0, 18.0]])
    own_y, own_n = np.zeros((2, 1, 4)), np.zeros((2, 1, 4))
    own_n[1, 0, 0] = 2000.0
    rates = level_rates(usual_rates(y, n, codes), own_y, own_n, codes).rate[:, 0, 0]
    assert rates[0] < 0.004
    assert rates[1] == pytest.approx(0.01, rel=0.15)


@pytest.mark.parametrize("seen", [0.0, 3.0, 60.0])
def test_the_doubt_of_an_effect_is_that_of_its_gamma(seen):
    """With all else known a gamma of shape a that saw y faults has the relative variance
    1 / (a + y): Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6 (from memory)."""
    codes = cells(40)
    n, y = np.full((1, 40), 2000.0), np.full((1, 40), 20.0)
    y[0, 0] = seen
    usual = usual_rates(y, n, codes)
    rate = usual.effects.main(codes)
    no_pairings = 1e9
    said = rate_doubt(y, rate, n, no_pairings, codes, usual.effects).of_mix(np.eye(40)[:1])[0]
    assert said == pytest.approx(1.0 / (usual.effects.shape[0][0] + seen) + 1.0 / y.sum(), rel=0.1)


def test_what_is_said_of_the_doubt_of_rates_without_a_level_holds():
    """Of 600 rates of work at one press, each from what the others did, as many of the true ones
    are beyond what the doubt said as should be."""
    rng, codes = np.random.default_rng(21), cells(6, 5)
    beyond, n_asked = np.zeros(2), 0
    for _ in range(60):
        pieces = np.tile(rng.uniform(10, 400, len(codes)), (10, 1))
        rate = rng.uniform(0.002, 0.01)
        truth, y = counts_of(rng, codes, 6.0, 10, pieces, rate)
        home = np.where(codes[:, 0] < 2, 0.9, 0.1)  # the press that mostly has two of the fabrics
        own_y = rng.binomial(y.astype(int), home).astype(float)
        usual = usual_rates(y, pieces, codes)
        level = level_rates(usual, own_y[None], (pieces * home)[None], codes)
        mean = pieces * home * level.rate[0].T
        share = mean / mean.sum(axis=1, keepdims=True)
        said = rate_doubt(level.rest_y[0], level.rate[0].T, level.rest_n[0], usual.pairing_shape,
                          codes, level.effects.at(0)).of_mix(share)
        ratio = (truth * pieces * home).sum(axis=1) / mean.sum(axis=1)
        tail = stats.gamma.sf(ratio, 1.0 / said, scale=said)
        beyond += [(tail < 0.1).sum(), (tail < 0.01).sum()]
        n_asked += len(tail)
    assert 0.05 < beyond[0] / n_asked < 0.15
    assert beyond[1] / n_asked < 0.025


def test_a_level_never_fitted_has_no_effect_and_the_widest_doubt():
    codes = cells(3)
    usual = usual_rates(np.array([[10.0, 20.0, 30.0]]), np.full((1, 3), 1000.0), codes)
    new = np.array([[9, 0, 0, 0]])
    assert usual.effects.main(new)[0, 0] == pytest.approx(
        usual.effects.base[0] * usual.effects.of[1][0, 1] * usual.effects.of[2][0, 1]
        * usual.effects.of[3][0, 1])
    assert usual.effects.pull(new)[0, 10] == usual.effects.shape[0][0]
    assert usual.effects.shape[3][0] == EFFECT_SHAPE[3]
