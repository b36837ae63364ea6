from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.special
from statsmodels.datasets import nile

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.phase_one import freeze, judge_baseline, step_inside
from qc.stats.charts.shewhart_counts import p_chart, u_chart


def calm(n: int, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(10.0, 0.5, n)


def test_a_calm_baseline_is_fit() -> None:
    judged = judge_baseline(individuals_chart(calm(40, 1)))
    assert judged.fit
    assert (judged.n, judged.step_after) == (40, None)


@pytest.mark.parametrize("n", [25, 100, 400])
def test_calm_baselines_are_called_unfit_about_as_rarely_as_stated(n: int) -> None:
    called = [judge_baseline(individuals_chart(calm(n, seed))) for seed in range(1000)]
    # two charts asked twice at 1 %, a step at 0.5 %, likeness at 0.1 %; sigma is estimated
    assert sum(not judged.fit for judged in called) / len(called) < 0.06


def test_few_points_are_a_first_guess() -> None:
    assert judge_baseline(individuals_chart(calm(12, 2))).cautions == (Caution.TOO_FEW_POINTS,)


def test_a_signal_inside_makes_it_unfit_until_it_is_left_out_for_a_reason() -> None:
    x = calm(40, 1)
    x[20] = 14.0
    judged = judge_baseline(individuals_chart(x))
    assert Caution.UNSTABLE in judged.cautions
    assert 21 in judged.signals
    left_out = Baseline(first=1, last=40, excluded=(Excluded(at=21, reason="heater off"),))
    again = judge_baseline(individuals_chart(x, baseline=left_out))
    # the two moving ranges beside the point are drawn and signal; the point itself is forgiven
    assert 21 not in again.signals
    assert again.n == 39


def test_points_after_the_baseline_do_not_count_against_it() -> None:
    x = np.concatenate([calm(40, 1), [20.0, 21.0]])
    assert judge_baseline(individuals_chart(x, baseline=(1, 39))).fit


def test_the_fall_of_the_nile_in_1898_is_found() -> None:
    # open data: annual flow of the Nile at Aswan 1871-1970; Cobb (1978), Biometrika 65, 243-251,
    # places the change after 1898, the 28th year
    flow = nile.load_pandas().data["volume"].to_numpy()
    at, p_value = step_inside(flow)
    assert at == 28
    assert p_value < 1e-4
    judged = judge_baseline(individuals_chart(flow))
    assert judged.step_after == 28
    assert Caution.LEVEL_MOVED in judged.cautions
    later = judge_baseline(individuals_chart(flow, baseline=(29, 100)))
    assert later.step_after is None


@pytest.mark.parametrize("n", [20, 50, 200])
def test_a_level_that_holds_is_rarely_called_moved(n: int) -> None:
    rng = np.random.default_rng(n)
    called = sum(step_inside(rng.normal(size=n))[1] < 0.05 for _ in range(2000))
    assert called / 2000 < 0.05 + 4 * math.sqrt(0.05 * 0.95 / 2000)


@pytest.mark.parametrize("at", [15, 30, 45])
def test_a_step_of_two_sigma_is_found_within_two_points(at: int) -> None:
    x = np.random.default_rng(at).normal(size=60)
    x[at:] += 2
    found, p_value = step_inside(x)
    assert abs(found - at) <= 2
    assert p_value < 0.005


def test_positions_count_points_left_out() -> None:
    x = np.random.default_rng(8).normal(size=60)
    x[30:] += 3
    left_out = Baseline(first=1, last=60, excluded=(Excluded(at=5, reason="trial piece"),))
    after = judge_baseline(individuals_chart(x, baseline=left_out)).step_after
    assert after is not None and abs(after - 30) <= 1


def test_alike_neighbours_are_said() -> None:
    rng = np.random.default_rng(9)
    x = np.zeros(300)
    for i in range(1, 300):
        x[i] = 0.6 * x[i - 1] + rng.normal()
    judged = judge_baseline(individuals_chart(x))
    assert judged.likeness.r > 0.4
    assert Caution.NEIGHBOURS_ALIKE in judged.cautions
    swing = np.where(np.arange(300) % 2, 1.0, -1.0) + rng.normal(0, 0.3, 300)
    assert Caution.NEIGHBOURS_OPPOSED in judge_baseline(individuals_chart(swing)).cautions


def test_counts_that_vary_too_much_stay_said() -> None:
    rng = np.random.default_rng(10)
    n = np.full(40, 200)
    share = np.clip(rng.normal(0.1, 0.05, 40), 0.01, 0.3)
    judged = judge_baseline(p_chart(rng.binomial(n, share), n))
    assert Caution.MORE_VARIATION in judged.cautions
    assert not judged.fit


def test_frozen_limits_judge_new_points_as_the_baseline_did() -> None:
    x = calm(40, 1)
    frozen = freeze(individuals_chart(x))
    assert frozen.judgement.fit
    later = individuals_chart([10.1, 13.5, 9.9], **frozen.known)
    first = individuals_chart(x)
    assert later.charts[0].upper[0] == pytest.approx(first.charts[0].upper[0], rel=1e-12)
    assert later.baseline is None
    assert later.charts[0].signalled().tolist() == [2]


def test_frozen_counts_keep_their_centre_alone() -> None:
    d, n = [4, 6, 5, 3, 7] * 5, [100] * 25
    frozen = freeze(p_chart(d, n))
    assert frozen.known == {"centre": 0.05}
    assert freeze(u_chart(d, n)).sigma is None


def test_limits_given_from_outside_have_no_baseline_to_judge() -> None:
    with pytest.raises(ValueError, match="chart has given centre and sigma"):
        judge_baseline(individuals_chart([1.0, 2.0, 3.0], centre=2.0, sigma=1.0))


def test_an_ewma_of_a_calm_series_can_be_frozen_by_its_centre() -> None:
    frozen = freeze(ewma_chart(calm(40, 1)))
    assert frozen.known["sigma"] == pytest.approx(individuals_chart(calm(40, 1)).sigma)


def test_no_variation_is_no_step_and_not_fit() -> None:
    judged = judge_baseline(individuals_chart([7.0] * 25))
    assert judged.step_p_value == 1.0
    assert judged.cautions == (Caution.NO_VARIATION,)


@pytest.mark.parametrize("n", [20, 200])
def test_a_known_sigma_calls_a_level_that_holds_as_rarely(n: int) -> None:
    rng = np.random.default_rng(n)
    called = sum(step_inside(3 * rng.normal(size=n), sigma=3)[1] < 0.05 for _ in range(2000))
    assert called / 2000 < 0.05 + 4 * math.sqrt(0.05 * 0.95 / 2000)


def test_a_known_sigma_scales_the_distance_from_the_line() -> None:
    x = [0.0, 0.0, 0.0, 1.0, 1.0, 1.0]
    # largest distance 1.5 after three points, over sigma sqrt(6); Kolmogorov's tail of 0.6124
    assert step_inside(x, sigma=1.0) == (3, pytest.approx(scipy.special.kolmogorov(0.612372436)))
    with pytest.raises(ValueError, match="sigma is 0; it must be a number above 0"):
        step_inside(x, sigma=0)
