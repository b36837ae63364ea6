from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import base_points
from qc.stats.charts.chart import Caution
from qc.stats.charts.constants import c4, d2
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.spread import moving_range_sigma, subgroup_sigma, subgroups
from tests.published import case
from tests.reference.charts import ewma

PUBLISHED = case("ewma_montgomery_30")
GIVEN = {"weight": 0.1, "width": 2.7, "centre": 10, "sigma": 1}


def test_values_and_limits_as_printed() -> None:
    chart = ewma_chart(PUBLISHED["data"]["x"], **GIVEN).charts[0]
    steady = ewma_chart(PUBLISHED["data"]["x"], limits="steady", **GIVEN).charts[0]
    printed = PUBLISHED["published"]
    np.testing.assert_allclose(chart.value, printed["EWMA"]["value"],
                               rtol=0, atol=printed["EWMA"]["tolerance"])
    for value, name in [(chart.upper[0], "UCL_1"), (chart.lower[0], "LCL_1"),
                        (chart.upper[1], "UCL_2"), (chart.lower[1], "LCL_2"),
                        (steady.upper[0], "UCL_asymptotic"), (steady.lower[0], "LCL_asymptotic")]:
        assert value == pytest.approx(printed[name]["value"], abs=printed[name]["tolerance"])


def test_exact_limits_to_ten_digits_and_the_first_signal() -> None:
    # some printings say observation 28; the values say 29
    chart = ewma_chart(PUBLISHED["data"]["x"], **GIVEN).charts[0]
    wanted = PUBLISHED["recomputed"]
    np.testing.assert_allclose(chart.value, wanted["EWMA"], rtol=1e-9)
    np.testing.assert_allclose(chart.upper, wanted["UCL_exact"], rtol=1e-9)
    np.testing.assert_allclose(chart.lower, wanted["LCL_exact"], rtol=1e-9)
    assert chart.signalled().tolist() == PUBLISHED["signals"]["beyond_exact_time_varying"]
    assert (chart.upper[0], chart.lower[0]) == pytest.approx((wanted["UCL_1"], wanted["LCL_1"]))
    assert (chart.upper[1], chart.lower[1]) == pytest.approx((wanted["UCL_2"], wanted["LCL_2"]))


def test_steady_limits_to_ten_digits_and_their_first_signal() -> None:
    chart = ewma_chart(PUBLISHED["data"]["x"], limits="steady", **GIVEN).charts[0]
    wanted = PUBLISHED["recomputed"]
    np.testing.assert_allclose(chart.upper, wanted["UCL_asymptotic"], rtol=1e-9)
    np.testing.assert_allclose(chart.lower, wanted["LCL_asymptotic"], rtol=1e-9)
    assert chart.signalled().tolist() == PUBLISHED["signals"]["beyond_asymptotic"]


def test_a_handbook_case() -> None:
    published = case("ewma_nist_20")
    printed = published["published"]
    chart = ewma_chart(published["data"]["x"], limits="steady", **published["parameters"])
    np.testing.assert_allclose(chart.charts[0].value, printed["EWMA"]["value"], rtol=0,
                               atol=printed["EWMA"]["tolerance"])
    for found, name in [(chart.charts[0].upper[0], "UCL"), (chart.charts[0].lower[0], "LCL")]:
        assert found == pytest.approx(printed[name]["value"], abs=printed[name]["tolerance"])
    assert chart.charts[0].signalled().tolist() == published["signals"]["beyond_steady"]


@pytest.mark.parametrize("weight", [0.05, 0.2, 0.7, 1.0])
def test_unequal_subgroups_agree_with_the_explicit_sum(weight: float) -> None:
    rng = np.random.default_rng(4)
    sizes = rng.integers(1, 7, 40)
    label = np.repeat([f"batch {i}" for i in range(40)], sizes)
    x = rng.normal(20, 2, len(label))
    chart = ewma_chart(x, subgroup=label, weight=weight, width=2.8, centre=20, sigma=2).charts[0]
    means = [x[label == f"batch {i}"].mean() for i in range(40)]
    slow = np.array(ewma(means, sizes.tolist(), weight, 2.8, 20, 2))
    np.testing.assert_allclose(np.c_[chart.value, chart.lower, chart.upper], slow, rtol=1e-10)


def test_steady_limits_take_the_size_of_each_subgroup() -> None:
    sizes = [1, 4, 9, 2]
    chart = ewma_chart(np.zeros(16), subgroup=np.repeat(np.arange(4), sizes), limits="steady",
                       width=2, centre=0, sigma=3).charts[0]
    np.testing.assert_allclose(chart.upper, 2 * 3 * np.sqrt(0.2 / 1.8 / np.array(sizes)))


def test_single_values_agree_with_the_explicit_sum() -> None:
    x = np.random.default_rng(6).normal(0, 1, 200)
    chart = ewma_chart(x, centre=0, sigma=1).charts[0]
    slow = np.array(ewma(x.tolist(), [1] * 200, 0.2, 3, 0, 1))
    np.testing.assert_allclose(np.c_[chart.value, chart.lower, chart.upper], slow, atol=1e-12)


def test_exact_limits_open_up_to_the_steady_ones() -> None:
    x = np.random.default_rng(6).normal(0, 1, 300)
    exact, steady = (ewma_chart(x, limits=kind).charts[0] for kind in ("exact", "steady"))
    assert (np.diff(exact.upper) >= 0).all()
    assert exact.upper[-1] == pytest.approx(steady.upper[-1], rel=1e-12)
    assert exact.upper[0] < steady.upper[0]


def test_weight_one_is_a_chart_of_the_values() -> None:
    x = np.random.default_rng(7).normal(5, 1, 50)
    chart, plain = ewma_chart(x, weight=1).charts[0], individuals_chart(x).charts[0]
    np.testing.assert_allclose(chart.value, plain.value)
    np.testing.assert_allclose(chart.upper, plain.upper)


def test_sigma_of_subgroups_comes_from_their_ranges() -> None:
    x, label = [1, 3, 10, 14, 5, 6], ["a", "a", "b", "b", "c", "c"]
    chart = ewma_chart(x, subgroup=label)
    assert chart.sigma == pytest.approx((2 + 4 + 1) / 3 / d2(2))
    assert chart.charts[0].centre == pytest.approx(6.5)
    assert ewma_chart(x, subgroup=label, baseline=(1, 2)).sigma == pytest.approx(3 / d2(2))


def test_the_centre_of_unequal_subgroups_is_the_mean_of_all_values() -> None:
    chart = ewma_chart([1.0, 2.0, 3.0, 10.0, 14.0], subgroup=["a", "a", "a", "b", "b"])
    assert chart.charts[0].centre == pytest.approx(6.0)


def test_sigma_of_large_subgroups_comes_from_their_deviations() -> None:
    x = np.random.default_rng(11).normal(0, 3, (30, 12))
    groups = subgroups(x.ravel(), np.repeat(np.arange(30), 12))
    assert subgroup_sigma(groups) == pytest.approx(x.std(axis=1, ddof=1).mean() / c4(12))


def test_subgroups_come_in_order_of_first_appearance() -> None:
    groups = subgroups(np.array([1.0, 5.0, 3.0, 7.0]), ["z", "a", "z", "m"])
    assert groups.mean.tolist() == [2, 5, 7]
    assert groups.size.tolist() == [2, 1, 1]
    assert groups.spread_range.tolist() == [2, 0, 0]
    assert np.isnan(groups.deviation[1])


def test_subgroups_of_one_are_single_values() -> None:
    x = [3.0, 5.0, 4.0, 8.0]
    assert ewma_chart(x, subgroup=[1, 2, 3, 4]).sigma == ewma_chart(x).sigma
    with pytest.raises(ValueError, match="baseline has 1 point; a moving range needs at least 2"):
        moving_range_sigma(np.array([1.0]), base_points(None, 1))


def test_equal_values_do_not_signal() -> None:
    chart = ewma_chart([0.1] * 40)
    assert not chart.charts[0].signals.any()
    assert chart.cautions == (Caution.NO_VARIATION,)


def test_a_shift_of_the_scale_shifts_the_chart() -> None:
    x = np.random.default_rng(12).normal(0, 1, 60)
    celsius, fahrenheit = ewma_chart(x).charts[0], ewma_chart(x * 1.8 + 32).charts[0]
    np.testing.assert_allclose(fahrenheit.upper, celsius.upper * 1.8 + 32, rtol=1e-12)
    np.testing.assert_array_equal(fahrenheit.signals, celsius.signals)


@pytest.mark.parametrize(("arguments", "message"), [
    ({"weight": 0}, r"weight is 0; it must be inside \(0, 1\]"),
    ({"weight": 1.1}, r"weight is 1\.1; it must be inside"),
    ({"width": 0}, "width is 0; it must be a finite number above 0"),
    ({"limits": "wide"}, "limits is 'wide'; allowed: exact, steady"),
    ({"sigma": -1}, "sigma is -1; it must be a finite number above 0"),
    ({"baseline": (1, 1)}, "baseline has 1 point; a moving range needs at least 2"),
    ({"baseline": (1, 9)}, "baseline is 1:9; it must lie inside 1:3"),
    ({"subgroup": ["a", "b"]}, "values has 3 values and subgroup 2; they must be as many"),
    ({"subgroup": ["a", "b", "b"], "baseline": (1, 1)}, "subgroup has one value in each subgroup"),
])
def test_wrong_input_is_named(arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        ewma_chart([1.0, 2.0, 4.0], **arguments)


@pytest.mark.parametrize(("values", "message"), [
    ([], "values has 0 values; it needs at least 1"),
    ([1.0, np.nan, 2.0], "values is nan at position 2; it must be a finite number"),
    ([1.0, np.inf], "values is inf at position 2"),
    ([[1.0], [2.0]], "values has 2 dimensions; it must be one-dimensional"),
    ([1.0], "baseline has 1 point; a moving range needs at least 2"),
])
def test_wrong_values_are_named(values, message) -> None:
    with pytest.raises(ValueError, match=message):
        ewma_chart(values)


def test_one_point_needs_a_known_sigma() -> None:
    chart = ewma_chart([12.0], centre=10, sigma=1).charts[0]
    assert (chart.value[0], chart.upper[0]) == pytest.approx((10.4, 10.6))


@pytest.mark.parametrize("weight", [1e-6, 0.05, 0.2, 0.9])
def test_a_million_points_agree_with_the_plain_loop(weight: float) -> None:
    x = np.random.default_rng(13).normal(100, 5, 1_000_000)
    chart = ewma_chart(x, weight=weight, centre=100, sigma=5).charts[0]
    smooth, variance = 100.0, 0.0
    for i, value in enumerate(x.tolist()):
        smooth = weight * value + (1 - weight) * smooth
        variance = weight**2 + (1 - weight) ** 2 * variance
        if i in (0, 5, 1000, 999_999):
            assert chart.value[i] == pytest.approx(smooth, rel=1e-11)
            assert chart.upper[i] == pytest.approx(100 + 15 * variance**0.5, rel=1e-9)
