from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest
from scipy import stats

from qc.stats.change.trend import TrendCaution, mann_kendall, theil_sen
from tests.published import case

SEN = case("trend_sen_1968")
RAIN = case("theil_hollander_wolfe")
TIES = case("trend_mann_kendall_ties_constructed")


def test_sen_1968_example() -> None:
    found = theil_sen(SEN["data"]["x"], SEN["data"]["y"], SEN["parameters"]["confidence"])
    for name in ("slope", "low", "high"):
        wanted = SEN["published"][name]
        assert getattr(found, name) == pytest.approx(
            wanted["value"], abs=wanted["tolerance"] or 1e-12
        )
    assert (found.low, found.high) == (pytest.approx(26 / 7), pytest.approx(35 / 8))
    wanted = SEN["recomputed"]
    assert (found.slope, found.low, found.high, found.intercept) == pytest.approx(
        (wanted["slope"], wanted["low"], wanted["high"], wanted["intercept_medians"]), rel=1e-9)
    assert mann_kendall(SEN["data"]["y"]).tau == wanted["tau"]
    assert (found.n, found.cautions) == (7, ())


def test_mann_kendall_with_ties_where_worked_out() -> None:
    wanted, y = TIES["recomputed"], TIES["data"]["x"]
    found = mann_kendall(y)
    values = {
        "S": found.s, "var_S": found.variance, "Z": found.z, "p_two_sided_normal": found.p_value,
        "tau_b": found.tau, "sen_slope": theil_sen(range(len(y)), y).slope,
        # without continuity correction, as a test of tau has it
        "p_kendalltau": 2 * stats.norm.sf(found.s / math.sqrt(found.variance)),
    }
    assert set(values) == set(wanted)
    for name, value in values.items():
        assert value == pytest.approx(wanted[name], rel=1e-9), name
    assert found.method == "normal, continuity corrected"


def test_rain_and_seeding_as_printed() -> None:
    x, y = RAIN["data"]["x"], RAIN["data"]["y"]
    slope, trend = theil_sen(x, y), mann_kendall(y)
    assert slope.slope == pytest.approx(RAIN["slope"]["value"], abs=RAIN["slope"]["tolerance"])
    assert trend.s == RAIN["s"]
    assert trend.p_value / 2 == pytest.approx(RAIN["p_one_sided"]["value"],
                                              abs=RAIN["p_one_sided"]["tolerance"])


@pytest.mark.parametrize("n", [3, 4, 9, 20, 50])
def test_exact_p_values_agree_with_a_library(n: int) -> None:
    rng = np.random.default_rng(4)
    for _ in range(5):
        y = rng.normal(size=n) + rng.uniform(0, 0.3) * np.arange(n)
        found, wanted = mann_kendall(y), stats.kendalltau(range(n), y, method="exact")
        assert (found.tau, found.p_value) == pytest.approx(tuple(wanted), rel=1e-9)
        assert found.method == "exact"


def test_tau_and_s_agree_with_a_library_for_ties_and_many_points() -> None:
    rng = np.random.default_rng(5)
    for n, kinds in ((12, 4), (200, 30), (3000, 5), (5000, 10**6)):
        y = rng.integers(0, kinds, n) + 0.001 * np.arange(n)
        y = np.round(y, 2)
        found, wanted = mann_kendall(y), stats.kendalltau(range(n), y, method="asymptotic")
        assert found.tau == pytest.approx(wanted.statistic, rel=1e-9)
        p_value = 2 * stats.norm.sf(abs(found.s) / math.sqrt(found.variance))
        assert p_value == pytest.approx(wanted.pvalue, rel=1e-9)


def test_a_trend_is_claimed_by_chance_no_more_often_than_stated() -> None:
    rng = np.random.default_rng(6)
    p_values = np.array([mann_kendall(rng.normal(size=7)).p_value for _ in range(2000)])
    for alpha in (0.05, 0.2):
        assert (p_values <= alpha).mean() <= alpha + 2.5 * math.sqrt(alpha / 2000)


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
@pytest.mark.parametrize("decimals", [None, 0])
def test_theil_sen_agrees_with_scipy(confidence: float, decimals: int | None) -> None:
    rng = np.random.default_rng(1)
    for n in (6, 11, 30, 1001, 2500):  # the last two by selection, not by writing all slopes down
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
    assert np.isnan(found.tau)
    assert theil_sen(range(6), [5.0] * 6).slope == 0
    assert theil_sen(range(2000), [5.0] * 2000).slope == 0


def test_few_points_with_ties_are_rough() -> None:
    assert TrendCaution.ROUGH in mann_kendall([1, 2, 2, 3]).cautions
    assert mann_kendall([1, 2, 4, 3]).cautions == ()


def test_a_long_series_is_judged_in_little_memory() -> None:
    rng = np.random.default_rng(7)
    n = 100_000  # all slopes together would be 40 gigabytes
    x = np.arange(n) / 1000
    y = 0.25 * x + rng.normal(0, 1, n)
    tracemalloc.start()
    found, trend = theil_sen(x, y), mann_kendall(y)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 300e6
    assert found.low < 0.25 < found.high
    # normal errors: standard error of the slope is sqrt(pi / 3) times that of least squares
    error = math.sqrt(math.pi / 3 * 12 / n) / 100
    assert (found.high - found.low) / 2 == pytest.approx(1.96 * error, rel=0.03)
    assert trend.z > 100


@pytest.mark.parametrize(("call", "words"), [
    (lambda: theil_sen([1, 1], [0, 1]), "needs x to vary"),
    (lambda: theil_sen([1], [0]), "x has 1 values"),
    (lambda: theil_sen([1, 2, 3], [0, 1]), "as many"),
    (lambda: theil_sen([1, 2], [0, np.nan]), "y is nan at position 2"),
    (lambda: theil_sen([1, 2], [0, 1], 1.0), "confidence is 1"),
    (lambda: theil_sen([], []), "x has 0 values"),
    (lambda: theil_sen([1, np.inf], [0, 1]), "x is inf at position 2"),
    (lambda: mann_kendall([1, 2]), "y has 2 values"),
    (lambda: mann_kendall([1, np.nan, 3]), "y is nan at position 2"),
    (lambda: mann_kendall(np.zeros(10_000_001)), "y has 10000001 values; at most 10000000"),
    (lambda: theil_sen(*np.zeros((2, 10_000_001))), "x has 10000001 values; at most 10000000"),
])
def test_wrong_input_is_named(call, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()
