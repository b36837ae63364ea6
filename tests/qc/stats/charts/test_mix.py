from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.laney import p_prime_chart, sigma_z, u_prime_chart
from qc.stats.charts.mix import ENOUGH_FOR_SPREAD, mix_chart, mix_limits
from qc.stats.charts.shewhart_counts import p_chart, u_chart
from tests.published import case


def scattered(seed: int, n_samples: int = 30) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    n = rng.integers(80, 200, n_samples)
    return rng.binomial(n, np.clip(rng.normal(0.1, 0.06, n_samples), 0.01, 0.4)), n


def test_limits_agree_with_the_published_chart() -> None:
    published = case("p_variable_n_ishikawa_p78")
    bad, n = published["data"]["D"], published["data"]["n"]
    centre = published["recomputed"]["pbar"]
    found = mix_limits(bad, n, np.full(len(n), centre))
    printed = np.array(published["recomputed"]["UCL"])
    np.testing.assert_allclose((found.upper - centre) / found.spread, printed - centre, rtol=1e-7)
    assert (found.lower >= 0).all()


def test_one_usual_share_gives_the_limits_of_a_prime_chart() -> None:
    bad, n = scattered(7)
    share = bad.sum() / n.sum()
    found, chart = mix_limits(bad, n, np.full(30, share)), p_prime_chart(bad, n)
    assert found.spread == pytest.approx(chart.sigma, rel=1e-12)
    assert found.lower == pytest.approx(chart.charts[0].lower, rel=1e-12)
    assert found.upper == pytest.approx(chart.charts[0].upper, rel=1e-12)


def test_spread_is_the_mean_moving_range_of_the_scores() -> None:
    bad, n = scattered(8)
    usual = np.linspace(0.08, 0.12, 30)
    z = [(b / k - p) / (p * (1 - p) / k) ** 0.5 for b, k, p in zip(bad, n, usual, strict=True)]
    ranges = [abs(z[i] - z[i - 1]) for i in range(1, 30)]
    assert mix_limits(bad, n, usual).spread == pytest.approx(sum(ranges) / 29 / 1.128, rel=1e-12)
    assert sigma_z(np.array(z)) == pytest.approx(sum(ranges) / 29 / 1.128, rel=1e-12)


def test_each_sample_has_the_limits_of_its_own_work() -> None:
    n, usual = np.array([100, 50, 80]), np.array([0.1, 0.02, 0.3])
    found = mix_limits([10, 1, 24], n, usual)
    for k in range(3):
        alone = p_chart([0], [n[k]], centre=usual[k]).charts[0]
        assert (found.lower[k], found.upper[k]) == pytest.approx((alone.lower[0], alone.upper[0]))


def test_band_is_never_narrower_than_chance_and_few_samples_do_not_widen_it() -> None:
    calm = mix_limits(np.full(20, 10), np.full(20, 100), np.full(20, 0.1))
    assert calm.spread == 1.0
    np.testing.assert_allclose(calm.upper, 0.1 + 3 * np.sqrt(0.1 * 0.9 / 100))
    few = ENOUGH_FOR_SPREAD - 1
    wild = np.where(np.arange(few + 1) % 2, 40, 0)
    assert mix_limits(wild[:few], np.full(few, 100), np.full(few, 0.2)).spread == 1.0
    assert mix_limits(wild, np.full(few + 1, 100), np.full(few + 1, 0.2)).spread > 3


def test_a_share_that_must_be_0_or_1_has_no_band() -> None:
    found = mix_limits([0, 5], [10, 5], [0.0, 1.0])
    assert found.lower.tolist() == found.upper.tolist() == [0, 1]


@pytest.mark.parametrize(("arguments", "message"), [
    (([1, 2], [5, 5], [0.1]), "usual has 1 values and n_inspected 2"),
    (([1], [5], [1.2]), "usual is 1.2 at position 1; allowed: shares"),
    (([1], [5], [np.nan]), "usual is nan at position 1"),
    (([6], [5], [0.1]), "n_defective is 6 at position 1; allowed: 0 to"),
])
def test_wrong_input_is_named(arguments, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        mix_limits(*arguments)


def test_a_chart_about_one_usual_share_is_the_prime_chart() -> None:
    bad, n = scattered(9)
    found, prime = mix_chart(bad, n, np.full(30, 0.04)), p_prime_chart(bad, n)
    assert found.ratio == pytest.approx(bad.sum() / n.sum() / 0.04, rel=1e-12)
    assert found.spread == pytest.approx(prime.sigma, rel=1e-12)
    for name in ("value", "lower", "upper"):
        np.testing.assert_allclose(getattr(found.charts[0], name), getattr(prime.charts[0], name),
                                   rtol=1e-12)
    rates, u_prime = mix_chart(bad, n, np.full(30, 3.0), per_unit=True), u_prime_chart(bad, n)
    np.testing.assert_allclose(rates.charts[0].upper, u_prime.charts[0].upper, rtol=1e-12)


def test_each_point_has_the_centre_of_its_own_mix_and_the_baselines_level() -> None:
    n, usual = np.full(12, 400), np.tile([0.02, 0.10], 6)
    bad = (1.5 * n * usual).astype(int)
    bad[9] = 120
    chart = mix_chart(bad, n, usual, baseline=(1, 8))
    assert chart.ratio == pytest.approx(1.5)
    np.testing.assert_allclose(chart.charts[0].centres, 1.5 * usual)
    assert chart.charts[0].signalled().tolist() == [10]
    sd = np.sqrt(0.15 * 0.85 / 400)
    assert chart.charts[0].upper[1] == pytest.approx(0.15 + 3 * chart.spread * sd, rel=1e-12)
    frozen = mix_chart(bad, n, usual, ratio=chart.ratio, spread=chart.spread)
    np.testing.assert_array_equal(frozen.charts[0].upper, chart.charts[0].upper)
    assert frozen.baseline is None


def test_a_run_is_counted_about_the_mix() -> None:
    n, usual = np.full(20, 500), np.tile([0.02, 0.10], 10)
    bad = (n * usual).astype(int) + np.r_[np.tile([-1, 1], 5), np.full(10, 3)]
    chart = mix_chart(bad, n, usual, ratio=1.0, spread=1.0, rules="one_side=8")
    # the tenth point lies above its centre too: the eighth in a row is the seventeenth
    assert chart.charts[0].signalled("one_side").tolist() == [17, 18, 19, 20]


@pytest.mark.parametrize(("given", "said"), [
    (([3], [2], [0.1]), "n_defective"), (([1], [2], [1.4]), "usual"),
    (([1, 1], [2, 2], [0.0, 0.0]), "usual expects nothing in the baseline"),
])
def test_a_chart_refuses_what_cannot_be(given, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        mix_chart(*given)


def test_exact_limits_are_those_of_each_points_own_size_and_centre() -> None:
    n, usual = np.array([40, 200, 90, 120]), np.array([0.02, 0.01, 0.2, 0.05])
    chart = mix_chart([1, 2, 10, 4], n, usual, ratio=1.0, spread=1.0, limits="probability")
    wide = mix_chart([1, 2, 10, 4], n, usual, ratio=1.0, spread=1.5, limits="probability")
    for k in range(4):
        alone = p_chart([0], [n[k]], centre=usual[k], limits="probability").charts[0]
        assert chart.charts[0].upper[k] == pytest.approx(alone.upper[0], rel=1e-12)
        assert chart.charts[0].lower[k] == pytest.approx(alone.lower[0], rel=1e-12)
        further = usual[k] + 1.5 * (alone.upper[0] - usual[k])
        assert wide.charts[0].upper[k] == pytest.approx(further, rel=1e-12)
    defects = mix_chart([1, 2, 10, 4], n, usual, ratio=1.0, spread=1.0, limits="probability",
                        per_unit=True)
    alone = u_chart([0], [90], centre=0.2, limits="probability").charts[0]
    assert defects.charts[0].upper[2] == pytest.approx(alone.upper[0], rel=1e-12)
