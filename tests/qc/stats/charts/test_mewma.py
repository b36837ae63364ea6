from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.mewma import mewma_breakdown, mewma_chart
from qc.stats.charts.multivariate import t2_breakdown, t2_chart
from qc.stats.runlength.mewma import mewma_decision
from tests.published import case
from tests.reference import mewma as slow

MEAN = [5.0, 10.0, -2.0]
SPREAD = np.array([[4.0, 1.5, 0.3], [1.5, 2.0, -0.2], [0.3, -0.2, 1.0]])
GIVEN = {"mean": MEAN, "covariance": SPREAD}


LOWRY = case("mewma_lowry_1992_bivariate")


def normal(seed: int, n: int) -> np.ndarray:
    return np.random.default_rng(seed).multivariate_normal(MEAN, SPREAD, n)


def test_vectors_and_statistics_as_printed() -> None:
    x, printed = np.array(LOWRY["data"]["x"]), LOWRY["published"]
    chart = mewma_chart(x, mean=[0, 0], covariance=np.cov(x.T), decision=8.66)
    for found, name in [(chart.smoothed, "vectors"), (chart.charts[0].value, "statistic")]:
        np.testing.assert_allclose(found, printed[name]["value"], rtol=0,
                                   atol=printed[name]["tolerance"])
    assert chart.charts[0].signalled().tolist() == [10]


@pytest.mark.parametrize("weight", [0.05, 0.2, 1.0])
def test_single_rows_agree_with_the_explicit_sum(weight: float) -> None:
    x = normal(1, 120)
    chart = mewma_chart(x, weight=weight, decision=10, **GIVEN).charts[0]
    wanted = slow.statistics(x.tolist(), [1] * 120, weight, MEAN, SPREAD.tolist())
    np.testing.assert_allclose(chart.value, wanted, rtol=1e-9)


def test_unequal_subgroups_agree_with_the_explicit_sum() -> None:
    sizes = np.random.default_rng(2).integers(1, 6, 40)
    label = np.repeat(np.arange(40), sizes)
    x = normal(3, len(label))
    chart = mewma_chart(x, subgroup=label, weight=0.15, decision=10, **GIVEN).charts[0]
    means = [x[label == i].mean(axis=0).tolist() for i in range(40)]
    wanted = slow.statistics(means, sizes.tolist(), 0.15, MEAN, SPREAD.tolist())
    np.testing.assert_allclose(chart.value, wanted, rtol=1e-9)


def test_steady_covariance_begins_lower_and_ends_the_same() -> None:
    x = normal(4, 400)
    exact, steady = (mewma_chart(x, limits=kind, decision=10, **GIVEN).charts[0]
                     for kind in ("exact", "steady"))
    settling = 1 - 0.9 ** (2 * np.arange(1, 401))
    np.testing.assert_allclose(steady.value, exact.value * settling, rtol=1e-9)


@pytest.mark.parametrize("limits", ["exact", "steady"])
def test_the_limit_follows_from_the_wanted_run_length(limits: str) -> None:
    chart = mewma_chart(normal(5, 30), in_control_arl=370, limits=limits, **GIVEN)
    wanted = mewma_decision(370.0, n_variables=3, weight=0.1, limits=limits)
    assert chart.decision == wanted
    assert (chart.charts[0].upper == wanted).all()
    assert np.isnan(chart.charts[0].lower).all()
    assert limits in chart.source
    assert mewma_chart(normal(5, 30), decision=9.5, **GIVEN).decision == 9.5


@pytest.mark.parametrize("size", [1, 2])
def test_false_signals_come_as_seldom_as_wanted(size: int) -> None:
    rng, lengths = np.random.default_rng(6), []
    label = np.repeat(np.arange(600), size)
    for _ in range(500):
        x = rng.multivariate_normal(MEAN, SPREAD, len(label))
        chart = mewma_chart(x, subgroup=label, in_control_arl=50, weight=0.2, **GIVEN)
        lengths.append(chart.charts[0].signalled()[0])
    assert np.mean(lengths) == pytest.approx(50, abs=4 * 50 / np.sqrt(500))


def test_one_variable_is_the_square_of_an_ewma() -> None:
    x = np.random.default_rng(7).normal(20, 3, 100)
    one = mewma_chart(x[:, None], weight=0.2, mean=[20], covariance=[[9]], decision=9)
    other = ewma_chart(x, weight=0.2, width=3, centre=20, sigma=3).charts[0]
    reach = (other.upper - 20) / 3
    np.testing.assert_allclose(one.charts[0].value, ((other.value - 20) / reach) ** 2, rtol=1e-9)
    assert one.charts[0].signalled().tolist() == other.signalled().tolist()
    np.testing.assert_allclose(one.smoothed[:, 0], other.value)


def test_weight_one_is_a_chart_of_the_points() -> None:
    x = normal(8, 60)
    one, other = mewma_chart(x, weight=1, decision=9, **GIVEN), t2_chart(x, **GIVEN)
    np.testing.assert_allclose(one.charts[0].value, other.charts[0].value, rtol=1e-12)


@pytest.mark.parametrize("limits", ["exact", "steady"])
def test_terms_agree_with_leaving_variables_out(limits: str) -> None:
    x = normal(15, 60)
    chart = mewma_chart(x, decision=9, limits=limits, **GIVEN)
    for at in (1, 7, 60):
        parts = mewma_breakdown(chart, at)
        assert parts.t2 == pytest.approx(chart.charts[0].value[at - 1])
        np.testing.assert_allclose(parts.off, chart.smoothed[at - 1] - MEAN)
        for j in range(3):
            keep = [i for i in range(3) if i != j]
            rest = mewma_chart(x[:, keep], decision=9, limits=limits, mean=np.array(MEAN)[keep],
                               covariance=SPREAD[np.ix_(keep, keep)])
            alone = mewma_chart(x[:, [j]], decision=9, limits=limits, mean=[MEAN[j]],
                                covariance=SPREAD[j:j + 1, j:j + 1])
            left = parts.t2 - rest.charts[0].value[at - 1]
            assert parts.given_others[j] == pytest.approx(left, abs=1e-9)
            assert parts.alone[j] == pytest.approx(alone.charts[0].value[at - 1], rel=1e-9)


def test_weight_one_is_broken_down_as_its_points() -> None:
    x = normal(16, 40)
    one = mewma_breakdown(mewma_chart(x, weight=1, decision=9, **GIVEN), 9)
    other = t2_breakdown(t2_chart(x, **GIVEN), 9)
    np.testing.assert_allclose(one.p_alone, other.p_alone)
    np.testing.assert_allclose(one.p_given_others, other.p_given_others)


def test_the_shifted_variable_is_named() -> None:
    x = normal(17, 80)
    x[40:, 1] += 2.5
    chart = mewma_chart(x, **GIVEN)
    parts = mewma_breakdown(chart, int(chart.charts[0].signalled()[-1]))
    assert parts.p_alone.argmin() == 1
    assert parts.p_alone[1] < chart.alpha < 0.05
    assert parts.off[1] == pytest.approx(2.5, abs=1)


@pytest.mark.parametrize("at", [0, 61])
def test_a_point_that_is_not_there(at: int) -> None:
    with pytest.raises(ValueError, match=rf"at is {at}; it must be inside 1\.\.60"):
        mewma_breakdown(mewma_chart(normal(18, 60), decision=9, **GIVEN), at)


def test_steps_between_neighbours_do_not_see_a_shift_of_the_baseline() -> None:
    x = normal(9, 400)
    x[200:] += [4, 0, 0]
    chart = mewma_chart(x, decision=12)
    steps = np.diff(x, axis=0)
    np.testing.assert_allclose(chart.vectors.covariance, steps.T @ steps / (2 * 399), rtol=1e-12)
    assert chart.vectors.covariance[0, 0] < 0.7 * np.cov(x.T)[0, 0]
    assert len(chart.charts[0].signalled()) > 200


def test_no_step_reaches_over_a_point_left_out() -> None:
    x = normal(10, 40)
    x[19] += 1000
    left_out = Baseline(first=1, last=40, excluded=(Excluded(at=20, reason="probe fell off"),))
    chart = mewma_chart(x, baseline=left_out, decision=12)
    steps = np.vstack([np.diff(x[:19], axis=0), np.diff(x[20:], axis=0)])
    np.testing.assert_allclose(chart.vectors.covariance, steps.T @ steps / (2 * 37), rtol=1e-9)
    assert 20 in chart.charts[0].signalled()


def test_a_small_lasting_shift_is_seen_before_single_points_show_it() -> None:
    x = normal(11, 120)
    x[60:] += 0.9 * np.sqrt(np.diag(SPREAD)) * [1, -1, 1]
    chart = mewma_chart(x, **GIVEN).charts[0]
    assert (chart.signalled() > 60).all()
    assert chart.signalled()[0] < 75


def test_another_unit_shows_the_same() -> None:
    x = normal(12, 80)
    one, other = (mewma_chart(v, decision=11).charts[0]
                  for v in (x, x * [1.8, 25.4, 0.01] + [32, 0, 5]))
    np.testing.assert_allclose(one.value, other.value, rtol=1e-8)


@pytest.mark.parametrize(("arguments", "message"), [
    ({"weight": 0}, r"weight is 0; it must be inside \(0, 1\]"),
    ({"limits": "wide"}, "limits is 'wide'; allowed: exact, steady"),
    ({"decision": 0}, "decision is 0; it must be a finite number above 0"),
    ({"in_control_arl": 1}, "arl is 1; it must be a number above 1"),
    ({"baseline": (1, 1)}, "baseline has 1 points, no two of them neighbours"),
    ({"baseline": (1, 3)}, "variables .* follow from each other"),
    ({"mean": [1.0]}, r"mean is \[1\.0\]; it must be 3 finite numbers"),
])
def test_wrong_input_is_named(arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        mewma_chart(normal(13, 20), **arguments)


def test_few_points_are_said_and_known_ones_need_none() -> None:
    assert mewma_chart(normal(14, 12), decision=9).cautions == (Caution.TOO_FEW_POINTS,)
    alone = mewma_chart([[7.0, 10.0, -2.0]], decision=9, mean=MEAN, covariance=np.diag([4, 1, 1]))
    assert alone.charts[0].value == pytest.approx([1.0])
    assert alone.baseline is None
