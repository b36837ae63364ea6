from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.laney import p_prime_chart, sigma_z
from qc.stats.charts.mix import ENOUGH_FOR_SPREAD, mix_limits
from qc.stats.charts.shewhart_counts import p_chart
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
