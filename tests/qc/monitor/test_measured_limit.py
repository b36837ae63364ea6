"""The limit of measured streams: from the budget of false flags, by theory and by simulation."""

import numpy as np
import pytest
from scipy.stats import chi2, f

from qc.monitor.measured_limit import crossings_per_reading, limits_of, overshoot_factor


def first_crossings(rng, limit, n_directions, *, runs=1500, length=250, longest=60):
    """Share of readings that bring the first false crossing, by brute force over all starts."""
    walk = np.concatenate(
        [np.zeros((runs, 1, n_directions)),
         rng.normal(size=(runs, length, n_directions)).cumsum(axis=1)], axis=1)
    beyond = np.zeros((runs, length), dtype=bool)
    for k in range(1, longest + 1):
        gap = walk[:, k:] - walk[:, :-k]
        beyond[:, k - 1 :] |= (gap**2).sum(axis=2) / k > limit**2
    crossed = beyond.any(axis=1)
    waited = np.where(crossed, beyond.argmax(axis=1) + 1, length)
    return crossed.sum() / waited.sum()


@pytest.mark.parametrize(
    ("n_directions", "limit", "low", "high"), [(1, 3.2, 0.9, 1.15), (3, 3.9, 1.0, 1.4)])
def test_crossings_agree_with_brute_force(n_directions, limit, low, high):
    """Tolerances: three standard errors of about 600 crossings, and the bias stated there."""
    counted = first_crossings(np.random.default_rng(1), limit, n_directions)
    said = crossings_per_reading(
        limit, n_directions=n_directions, least_shift=0.0, longest=60)
    assert low <= said / counted <= high


def test_the_overshoot_factor_is_that_of_the_corrected_diffusion():
    """Nearly exp(-0.583 x): Siegmund (1985), Sequential Analysis, chapter 10 (from memory)."""
    x = np.array([0.05, 0.2, 0.5, 1.0])
    assert overshoot_factor(x) == pytest.approx(np.exp(-0.583 * x), abs=0.015)


def test_the_limit_has_the_crossings_asked_for():
    chance = np.array([1e-3, 1e-4, 1e-5])
    limit = limits_of(chance, n_directions=1, least_shift=0.0, longest=120, degrees=1e9)
    back = crossings_per_reading(
        np.sqrt(limit), n_directions=1, least_shift=0.0, longest=120)
    assert back == pytest.approx(chance, rel=0.02)


def test_few_degrees_of_freedom_widen_it_as_an_f_does():
    wide, sharp = (
        limits_of(np.array([1e-4]), n_directions=3, least_shift=0.5, longest=120, degrees=v)[0]
        for v in (20, 1e9)
    )
    assert f.sf(wide / 3, 3, 20) == pytest.approx(chi2.sf(sharp, 3), rel=1e-3)


@pytest.mark.parametrize("worth", [{"least_shift": 2.0}, {"longest": 5}])
def test_fewer_windows_need_a_lower_limit(worth):
    usual = {"n_directions": 1, "least_shift": 0.0, "longest": 120, "degrees": 100.0}
    few = limits_of(np.array([1e-4]), **(usual | worth))
    assert few[0] < limits_of(np.array([1e-4]), **usual)[0]


def test_a_smaller_budget_a_higher_limit():
    limit = limits_of(
        np.array([1e-3, 1e-4, 1e-6]), n_directions=2, least_shift=1.0, longest=120, degrees=50)
    assert (np.diff(limit) > 0).all()
