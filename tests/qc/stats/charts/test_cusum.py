from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from qc.stats.change.changepoint import normal_step
from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.constants import c4, d2
from qc.stats.charts.cusum import cusum_changes, cusum_chart, periods
from tests.published import case
from tests.reference import cusum as slow

CONCENTRATION = case("cusum_concentration")
THIRTY = case("cusum_montgomery_30")
GIVEN = {
    "cusum_concentration": {"centre": 99, "sigma": 2, "reference": 0.5, "decision": 5},
    "cusum_montgomery_30": {"centre": 10, "sigma": 1},
}
BOTH = [CONCENTRATION, THIRTY]


def charted(published, **more):
    return cusum_chart(published["data"]["x"], **GIVEN[published["id"]], **more)


@pytest.mark.parametrize("published", BOTH, ids=lambda each: each["id"])
@pytest.mark.parametrize(("side", "name"), [(0, "S_hi"), (1, "S_lo")])
def test_sums_as_printed_and_recomputed(published, side: int, name: str) -> None:
    value = charted(published).charts[side].value
    printed = published["published"][name]
    np.testing.assert_allclose(value, printed["value"], rtol=0, atol=printed["tolerance"])
    np.testing.assert_allclose(value, published["recomputed"][name], rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("published", BOTH, ids=lambda each: each["id"])
def test_plain_sums_as_printed_and_recomputed(published) -> None:
    summed = charted(published).summed()
    np.testing.assert_allclose(summed, published["recomputed"]["cusum"], rtol=1e-9, atol=1e-12)
    if "cusum" in published["published"]:
        printed = published["published"]["cusum"]
        np.testing.assert_allclose(summed, printed["value"], rtol=0, atol=printed["tolerance"])


@pytest.mark.parametrize("published", BOTH, ids=lambda each: each["id"])
@pytest.mark.parametrize(("side", "name"), [(0, "N_hi"), (1, "N_lo")])
def test_period_counters(published, side: int, name: str) -> None:
    # the printed upper counter of observation 20 of the concentration is 0 although its sum is
    # 1.0: a misprint, the counter is 1 as the definition asks
    counted = periods(charted(published).charts[side])
    assert counted.tolist() == published["recomputed"][name]
    if name in published["published"]:
        assert counted.tolist() == published["published"][name]["value"]


@pytest.mark.parametrize(("side", "name"), [(0, "S_hi_FIR_2.5"), (1, "S_lo_FIR_2.5")])
def test_head_start_as_recomputed(side: int, name: str) -> None:
    value = charted(THIRTY, head_start=2.5).charts[side].value
    np.testing.assert_allclose(value, THIRTY["recomputed"][name], rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("published", BOTH, ids=lambda each: each["id"])
def test_signals_as_published(published) -> None:
    upper, lower = charted(published).charts
    assert upper.signalled().tolist() == published["signals"]["S_hi_above_H"]
    assert lower.signalled().tolist() == published["signals"]["S_lo_above_H"]


def test_a_handbook_case_of_subgroup_means() -> None:
    published = case("cusum_nist_20")
    design, printed = published["parameters"], published["published"]["S_hi"]
    chart = cusum_chart(published["data"]["x"], centre=design["target"], sigma=1,
                        reference=design["K"], decision=design["H"])
    np.testing.assert_allclose(chart.charts[0].value, printed["value"], rtol=0,
                               atol=printed["tolerance"])
    assert chart.charts[0].signalled().tolist() == published["signals"]["S_hi_above_H"]
    assert cusum_changes(chart)[0].last_before == 12


def test_the_shift_is_dated_and_sized_as_in_the_book() -> None:
    signals = THIRTY["signals"]
    (change,) = cusum_changes(charted(THIRTY))
    assert change.side == "upper"
    assert change.signalled_at == signals["first_signal"]
    assert change.last_before == signals["counter_estimate_of_last_in_control_point"]
    assert change.n_points == 7
    # Montgomery, same example: 10 + 0.5 + 5.28 / 7 = 11.25; the printed mean is from memory
    assert change.mean_after == pytest.approx(11.25, abs=0.005)
    assert change.mean_after == pytest.approx(10 + 0.5 + 5.28 / 7, rel=1e-12)


def test_the_likeliest_step_stands_beside_the_counter() -> None:
    # both miss the true last point before the shift, 20, by the same two points here
    wanted = THIRTY["recomputed"]
    step = normal_step(THIRTY["data"]["x"][:29], centre=10, sigma=1)
    assert step.last_before == wanted["changepoint_tau_hat_T29"]
    np.testing.assert_allclose(2 * step.support, wanted["changepoint_objective_T29"], rtol=1e-9)


def test_the_chart_is_drawn_as_promised() -> None:
    chart = charted(CONCENTRATION)
    assert [part.name for part in chart.charts] == ["upper CUSUM", "lower CUSUM"]
    assert (chart.reference, chart.decision, chart.target) == (1, 10, 99)
    for part in chart.charts:
        assert part.centre == 0
        assert np.isnan(part.lower).all()
        assert (part.upper == CONCENTRATION["parameters"]["H"]).all()
        assert (part.value >= 0).all()
        assert part.first_at == 1


@pytest.mark.parametrize("n", [1, 2, 255, 256, 257, 511, 65_535, 65_536, 65_537, 1_000_000])
@pytest.mark.parametrize("head_start", [0, 2.5])
def test_long_series_agree_with_the_plain_loop(n: int, head_start: float) -> None:
    x = np.random.default_rng(n).normal(20, 2, n)
    chart = cusum_chart(x, centre=20, sigma=2, reference=0.25, head_start=head_start)
    for part, upper in zip(chart.charts, (True, False), strict=True):
        wanted = slow.one_sided(x.tolist(), 20, 0.5, 2 * head_start, upper=upper)
        np.testing.assert_allclose(part.value, wanted, rtol=1e-9, atol=1e-9)
        assert periods(part).tolist() == slow.periods(part.value.tolist())


@pytest.mark.parametrize("shift", [-3.0, 3.0, 1e6])
def test_a_lasting_shift_keeps_its_digits(shift: float) -> None:
    x = np.random.default_rng(1).normal(shift, 1, 100_000)
    upper, lower = cusum_chart(x, centre=0, sigma=1).charts
    for part, wanted in [(upper, slow.one_sided(x.tolist(), 0, 0.5, 0, upper=True)),
                         (lower, slow.one_sided(x.tolist(), 0, 0.5, 0, upper=False))]:
        np.testing.assert_allclose(part.value, wanted, rtol=1e-10, atol=1e-9)


@pytest.mark.parametrize(("centre", "step"), [("0", "0.1"), ("160", "0.01"), ("100000", "0.001")])
def test_decimal_ties_lie_on_their_line(centre: str, step: str) -> None:
    # decimals have no exact binary form; the exact sums say which points are 0 and which at H
    sigma, middle = 10 * Fraction(step), Fraction(centre)
    steps = np.random.default_rng(3).integers(-20, 21, 20_000).tolist()
    points = [middle + k * Fraction(step) for k in steps]
    chart = cusum_chart([float(point) for point in points], centre=float(middle),
                        sigma=float(sigma))
    for part, upper in zip(chart.charts, (True, False), strict=True):
        line = middle + sigma / 2 if upper else middle - sigma / 2
        exact = slow.exact_one_sided(points, line, upper=upper)
        assert np.array_equal(part.value == 0, [value == 0 for value in exact])
        at_limit = [value == 5 * sigma for value in exact]
        assert any(at_limit)
        assert np.array_equal(part.value == part.upper, at_limit)
        assert part.signalled().tolist() == [
            i for i, value in enumerate(exact, 1) if value > 5 * sigma]


def test_unequal_subgroups_weigh_as_in_their_own_sigma() -> None:
    rng = np.random.default_rng(4)
    sizes = rng.integers(1, 9, 60)
    label = np.repeat(np.arange(60), sizes)
    x = rng.normal(20.5, 2, len(label))
    chart = cusum_chart(x, subgroup=label, centre=20, sigma=2)
    means = [float(x[label == i].mean()) for i in range(60)]
    unit = 2 / np.sqrt(sizes.mean())
    assert chart.decision == pytest.approx(5 * unit)
    for part, upper in zip(chart.charts, (True, False), strict=True):
        wanted = slow.standardised(means, sizes.tolist(), 20, 2, 0.5, upper=upper)
        np.testing.assert_allclose(part.value / unit, wanted, rtol=1e-9, atol=1e-9)
        assert part.signalled().tolist() == [i for i, s in enumerate(wanted, 1) if s > 5]
    for change in cusum_changes(chart):
        since = (label >= change.last_before) & (label < change.signalled_at)
        assert change.mean_after == pytest.approx(x[since].mean())


def test_unequal_subgroups_are_shown_in_the_size_of_the_baseline() -> None:
    rng = np.random.default_rng(14)
    label = np.repeat(np.arange(40), [4] * 20 + [9, 2] * 10)
    x = rng.normal(20, 2, len(label))
    early, whole = (cusum_chart(x, subgroup=label, centre=20, sigma=2, baseline=base)
                    for base in ((1, 20), None))
    assert early.decision == pytest.approx(5 * 2 / 2)
    scale = whole.decision / early.decision
    assert scale != pytest.approx(1, abs=0.01)
    for a, b in zip(early.charts, whole.charts, strict=True):
        np.testing.assert_allclose(b.value, a.value * scale, rtol=1e-9, atol=1e-12)


def test_equal_subgroups_are_charted_as_their_means() -> None:
    x = np.random.default_rng(5).normal(0, 1, (40, 4))
    chart = cusum_chart(x.ravel(), subgroup=np.repeat(np.arange(40), 4), centre=0, sigma=1)
    means = cusum_chart(x.mean(axis=1), centre=0, sigma=0.5)
    for ours, theirs in zip(chart.charts, means.charts, strict=True):
        np.testing.assert_allclose(ours.value, theirs.value, rtol=1e-12, atol=1e-14)
        assert ours.upper[0] == pytest.approx(theirs.upper[0])


@pytest.mark.parametrize(("size", "factor"), [(5, d2), (12, c4)])
def test_sigma_comes_from_within_subgroups(size: int, factor) -> None:
    x = np.random.default_rng(6).normal(0, 3, (30, size))
    spread = np.ptp(x, axis=1) if size <= 10 else x.std(axis=1, ddof=1)
    chart = cusum_chart(x.ravel(), subgroup=np.repeat(np.arange(30), size))
    assert chart.sigma == pytest.approx(spread.mean() / factor(size))
    assert chart.target == pytest.approx(x.mean())


def test_sigma_of_single_values_and_a_point_left_out() -> None:
    x = [10.0, 12.0, 11.0, 30.0, 12.0, 10.0]
    left_out = Baseline(first=1, last=6, excluded=(Excluded(at=4, reason="wrong film"),))
    chart = cusum_chart(x, baseline=left_out)
    assert chart.sigma == pytest.approx((2 + 1 + 2) / 3 / d2(2))
    assert chart.target == pytest.approx(11)
    assert chart.baseline == left_out
    assert chart.cautions == (Caution.TOO_FEW_POINTS,)
    assert cusum_chart(x, centre=11, sigma=1).baseline is None


def test_a_head_start_is_not_taken_for_a_shift() -> None:
    x = np.full(12, 1.0)
    (change,) = cusum_changes(cusum_chart(x, centre=0, sigma=1, head_start=2.5))
    assert (change.last_before, change.signalled_at, change.n_points) == (0, 6, 6)
    assert change.mean_after == pytest.approx(1.0)
    (later,) = cusum_changes(cusum_chart(x, centre=0, sigma=1))
    assert later.signalled_at == 11


def test_each_run_is_one_change_in_order() -> None:
    x = np.r_[np.zeros(5), np.full(8, 2.0), np.full(30, -2.0), np.full(9, 3.0)]
    changes = cusum_changes(cusum_chart(x, centre=0, sigma=1))
    assert [(c.side, c.last_before, c.signalled_at) for c in changes] == [
        ("upper", 5, 9), ("lower", 13, 17), ("upper", 43, 46)]
    assert [c.mean_after for c in changes] == pytest.approx([2, -2, 3])


def test_equal_values_do_not_signal_and_another_one_does() -> None:
    chart = cusum_chart([0.1] * 1000)
    assert not any(part.signals.any() or part.value.any() for part in chart.charts)
    assert chart.cautions == (Caution.NO_VARIATION,)
    other = cusum_chart([0.1] * 30 + [0.2], baseline=(1, 30))
    assert other.charts[0].signalled().tolist() == [31]


def test_arrays_are_closed_and_the_input_is_left_alone() -> None:
    x = np.random.default_rng(8).normal(0, 1, 50)
    kept = x.copy()
    chart = cusum_chart(x)
    assert not chart.points.flags.writeable
    assert not chart.charts[0].value.flags.writeable
    assert x.flags.writeable
    np.testing.assert_array_equal(x, kept)


@pytest.mark.parametrize(("arguments", "message"), [
    ({"reference": -0.1}, r"reference is -0\.1; it must be 0 or above"),
    ({"reference": np.nan}, "reference is nan; it must be a finite number"),
    ({"decision": 0}, "decision is 0; it must be a finite number above 0"),
    ({"decision": np.inf}, "decision is inf; it must be a finite number above 0"),
    ({"head_start": -1}, "head_start is -1; it must be 0 or above and below decision 5"),
    ({"head_start": 5}, "head_start is 5; it must be 0 or above and below decision 5"),
    ({"sigma": 0}, "sigma is 0; it must be a finite number above 0"),
    ({"centre": np.inf}, "centre is inf; it must be a finite number"),
    ({"baseline": (2, 2)}, "baseline has 1 point; a moving range needs at least 2"),
    ({"baseline": (0, 3)}, "baseline is 0:3; it must lie inside 1:3"),
    ({"subgroup": ["a", "b"]}, "values has 3 values and subgroup 2; they must be as many"),
    ({"subgroup": ["a", "b", "b"], "baseline": (1, 1)}, "subgroup has one value in each subgroup"),
])
def test_wrong_arguments_are_named(arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        cusum_chart([1.0, 2.0, 4.0], **arguments)


@pytest.mark.parametrize(("values", "message"), [
    ([], "values has 0 values; it needs at least 1"),
    ([1.0, np.nan, 2.0], "values is nan at position 2; it must be a finite number"),
    ([1.0, -np.inf], "values is -inf at position 2"),
    ([[1.0, 2.0]], "values has 2 dimensions; it must be one-dimensional"),
    ([1.0], "baseline has 1 point; a moving range needs at least 2"),
])
def test_wrong_values_are_named(values, message) -> None:
    with pytest.raises(ValueError, match=message):
        cusum_chart(values)


def test_one_point_needs_a_known_sigma() -> None:
    chart = cusum_chart([8.0], centre=2, sigma=1)
    assert chart.charts[0].value.tolist() == [5.5]
    assert chart.charts[0].signalled().tolist() == [1]
