from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.runlength.mewma import mewma_run_length
from qc.stats.runlength.shewhart import shewhart_run_length
from qc.stats.runlength.t2 import t2_alpha, t2_run_length


@pytest.mark.parametrize("p", [1, 2, 5, 40])
@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0, 3.0])
def test_every_point_signals_with_the_chance_of_the_noncentral_law(p: int, shift: float) -> None:
    limit = stats.chi2.isf(0.005, p)
    share = stats.ncx2.sf(limit, p, shift**2) if shift else 0.005
    found = t2_run_length(shift, n_variables=p, alpha=0.005)
    assert found.arl == pytest.approx(1 / share, rel=1e-9)
    assert found.sdrl == pytest.approx(np.sqrt(1 - share) / share, rel=1e-9)


@pytest.mark.parametrize("shift", [0.5, 1.0, 2.0])
def test_one_variable_is_a_chart_of_individuals(shift: float) -> None:
    alpha = 2 * stats.norm.sf(3)
    one = t2_run_length(shift, n_variables=1, alpha=alpha)
    assert one.arl == pytest.approx(shewhart_run_length(shift).arl, rel=1e-9)


def test_a_multivariate_ewma_of_weight_one_is_the_same_chart() -> None:
    one = t2_run_length(1.5, n_variables=3, alpha=0.01)
    other = mewma_run_length(1.5, n_variables=3, weight=1, decision=float(stats.chi2.isf(0.01, 3)))
    assert other.arl == pytest.approx(one.arl, rel=1e-6)


def test_simulated_points_agree() -> None:
    rng = np.random.default_rng(1)
    x = rng.normal(size=(400_000, 4)) + [1, -1, 0.5, 0]
    beyond = ((x**2).sum(axis=1) > stats.chi2.isf(0.0027, 4)).mean()
    found = t2_run_length(1.5, n_variables=4)
    assert 1 / found.arl == pytest.approx(beyond, abs=4 * np.sqrt(beyond / 400_000))


def test_the_chance_for_a_wanted_run_length() -> None:
    alpha = t2_alpha(370.0, n_variables=2)
    assert t2_run_length(0, n_variables=2, alpha=alpha).arl == pytest.approx(370)


@pytest.mark.parametrize(("arguments", "message"), [
    ({"alpha": 0}, r"alpha is 0; it must be inside \(0, 1\)"),
    ({"n_variables": 0}, "variables is 0; it must be a whole number, 1 and up"),
    ({"n_variables": np.inf}, "variables is inf; it must be a whole number"),
    ({"shift": -0.5}, r"shift is -0\.5; it must be a distance, 0 or above"),
    ({"state": "new"}, "state is 'new'; allowed: zero, steady"),
])
def test_wrong_input_is_named(arguments, message) -> None:
    given = {"shift": 1.0, "n_variables": 2} | arguments
    with pytest.raises(ValueError, match=message):
        t2_run_length(given.pop("shift"), **given)
