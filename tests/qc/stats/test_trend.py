from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.trend import TrendCaution, mann_kendall, theil_sen
from tests.published import case

SEN = case("trend_sen_1968")
TIES = case("trend_mann_kendall_ties_constructed")


def test_sen_1968_example() -> None:
    found = theil_sen(SEN["data"]["x"], SEN["data"]["y"], SEN["parameters"]["confidence"])
    for name in ("slope", "low", "high"):
        wanted = SEN["published"][name]
        assert getattr(found, name) == pytest.approx(
            wanted["value"], abs=wanted["tolerance"] or 1e-12
        )
    assert (found.low, found.high) == (pytest.approx(26 / 7), pytest.approx(35 / 8))
    assert found.intercept == pytest.approx(SEN["recomputed"]["intercept_medians"])
    assert (found.n, found.cautions) == (7, ())


def test_mann_kendall_with_ties_where_worked_out() -> None:
    wanted, y = TIES["recomputed"], TIES["data"]["x"]
    found = mann_kendall(y)
    assert found.s == wanted["S"]
    assert found.variance == pytest.approx(wanted["var_S"])
    assert found.z == pytest.approx(wanted["Z"])
    assert found.p_value == pytest.approx(wanted["p_two_sided_normal"])
    assert theil_sen(range(len(y)), y).slope == pytest.approx(wanted["sen_slope"])


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
@pytest.mark.parametrize("decimals", [None, 0])
def test_theil_sen_agrees_with_scipy(confidence: float, decimals: int | None) -> None:
    rng = np.random.default_rng(1)
    for n in (6, 11, 30):
        x, y = rng.uniform(0, 60, n), rng.normal(0, 4, n)
        if decimals is not None:
            x, y = np.round(x, decimals), np.round(y, decimals)
        wanted = stats.theilslopes(y, x, alpha=confidence)
        found = theil_sen(x, y, confidence)
        np.testing.assert_allclose(
            [found.slope, found.intercept, found.low, found.high],
            [wanted.slope, wanted.intercept, wanted.low_slope, wanted.high_slope], rtol=1e-12,
        )


def test_interval_holds_the_true_slope_as_often_as_it_says() -> None:
    rng = np.random.default_rng(2)
    x = np.arange(9.0)
    held = 0
    for _ in range(2000):
        found = theil_sen(x, 0.3 * x + rng.standard_t(3, len(x)))
        held += found.low <= 0.3 <= found.high
    assert held / 2000 > 0.935


def test_a_wild_survey_hardly_moves_the_slope() -> None:
    x = np.arange(12.0)
    y = 0.5 * x
    y[4] = 60.0
    assert theil_sen(x, y).slope == pytest.approx(0.5)


def test_invariants() -> None:
    rng = np.random.default_rng(3)
    x, y = rng.uniform(0, 9, 15), rng.normal(0, 1, 15)
    order = rng.permutation(15)
    plain, mixed = theil_sen(x, y), theil_sen(x[order], y[order])
    assert (mixed.slope, mixed.low, mixed.high) == (plain.slope, plain.low, plain.high)
    scaled = theil_sen(x, 2 * y + 3 * x + 7)
    assert scaled.slope == pytest.approx(2 * plain.slope + 3)
    turned = theil_sen(x, -y)
    assert (turned.low, turned.high) == (pytest.approx(-plain.high), pytest.approx(-plain.low))
    up, down = mann_kendall(y), mann_kendall(-y)
    assert (up.s, up.p_value) == (-down.s, down.p_value)


def test_few_points_say_so() -> None:
    found = theil_sen([0, 1, 2], [0.0, 2.0, 1.0])
    assert TrendCaution.TOO_FEW_FOR_CONFIDENCE in found.cautions
    assert (found.low, found.high) == (-1.0, 2.0)


def test_equal_values_show_no_trend() -> None:
    found = mann_kendall([5.0] * 6)
    assert (found.s, found.z, found.p_value) == (0, 0.0, 1.0)
    assert TrendCaution.NO_VARIATION in found.cautions
    assert theil_sen(range(6), [5.0] * 6).slope == 0


@pytest.mark.parametrize(("call", "words"), [
    (lambda: theil_sen([1, 1], [0, 1]), "needs x to vary"),
    (lambda: theil_sen([1], [0]), "x has 1 values"),
    (lambda: theil_sen([1, 2, 3], [0, 1]), "as many"),
    (lambda: theil_sen([1, 2], [0, np.nan]), "y is nan at position 2"),
    (lambda: theil_sen([1, 2], [0, 1], 1.0), "confidence is 1"),
    (lambda: mann_kendall([1, 2]), "y has 2 values"),
])
def test_wrong_input_is_named(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
