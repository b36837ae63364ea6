from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.counts import rates, shares
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart
from tests.published import case
from tests.reference.charts import p_limits, u_limits

P_CASES = ["p_np_ceramic_substrate", "p_variable_n_ishikawa_motors", "p_variable_n_ishikawa_p78"]
U_CASES = ["u_boards_samples_of_5", "u_ishikawa_wire_cracks"]


def _sizes(published) -> np.ndarray:
    counts = published["data"].get("D", published["data"].get("c"))
    return np.broadcast_to(published["data"]["n"], len(counts))


def _near(value: float, printed: dict) -> bool:
    return abs(value - printed["value"]) <= printed["tolerance"]


@pytest.mark.parametrize("name", P_CASES)
def test_p_limits_of_every_sample(name: str) -> None:
    published = case(name)
    chart = p_chart(published["data"]["D"], _sizes(published)).charts[0]
    wanted = published["recomputed"]
    assert chart.centre == pytest.approx(wanted["pbar"], rel=1e-9)
    for array, column in [(chart.value, "p"), (chart.lower, "LCL"), (chart.upper, "UCL")]:
        np.testing.assert_allclose(array, wanted[column], rtol=1e-8, atol=1e-12)
    assert chart.signalled().tolist() == published["signals"]["p_beyond_limits"]


def test_p_and_np_limits_as_printed() -> None:
    published = case("p_np_ceramic_substrate")
    printed = published["published"]
    d, n = published["data"]["D"], _sizes(published)
    p, number = p_chart(d, n).charts[0], np_chart(d, n).charts[0]
    assert _near(p.centre, printed["pbar"])
    assert _near(p.upper[0], printed["UCL_const"])
    assert _near(p.lower[0], printed["LCL_const"])
    assert number.upper[0] == pytest.approx(published["recomputed"]["np_UCL"], rel=1e-9)
    assert number.lower[0] == pytest.approx(published["recomputed"]["np_LCL"], rel=1e-9)


def test_np_limits_and_the_sample_beyond_them() -> None:
    published = case("np_ishikawa_mirrors")
    chart = np_chart(published["data"]["D"], _sizes(published)).charts[0]
    wanted = published["recomputed"]
    assert chart.centre == pytest.approx(wanted["npbar"], rel=1e-9)
    assert chart.upper[0] == pytest.approx(wanted["np_UCL"], rel=1e-9)
    assert chart.lower[0] == 0
    assert chart.signalled().tolist() == published["signals"]["np_beyond_limits"]


@pytest.mark.parametrize("name", U_CASES)
def test_u_limits_of_every_sample(name: str) -> None:
    published = case(name)
    chart = u_chart(published["data"]["c"], _sizes(published)).charts[0]
    wanted = published["recomputed"]
    assert chart.centre == pytest.approx(wanted["ubar"], rel=1e-9)
    for array, column in [(chart.value, "u"), (chart.lower, "LCL"), (chart.upper, "UCL")]:
        np.testing.assert_allclose(array, wanted[column], rtol=1e-8, atol=1e-12)
    assert chart.signalled().tolist() == published["signals"]["u_beyond_limits"]


def test_u_limits_as_printed() -> None:
    published = case("u_boards_samples_of_5")
    chart = u_chart(published["data"]["c"], _sizes(published)).charts[0]
    printed = published["published"]
    assert _near(chart.centre, printed["ubar"])
    assert _near(chart.upper[0], printed["UCL_const"])
    assert _near(chart.lower[0], printed["LCL_const"])


def test_a_wafer_exactly_on_the_limit_is_not_beyond_it() -> None:
    published = case("c_nist_wafer_defects")
    counts = published["data"]["c"]
    chart = c_chart(counts).charts[0]
    assert (chart.lower[0], chart.centre, chart.upper[0]) == (4, 16, 28)
    assert counts[2] == chart.upper[2]
    assert chart.signalled().tolist() == published["signals"]["c_beyond_limits"] == [24]


def test_c_limits_of_surface_defects() -> None:
    published = case("c_ishikawa_surface_defects")
    chart = c_chart(published["data"]["c"]).charts[0]
    assert chart.upper[0] == pytest.approx(published["recomputed"]["UCL"], rel=1e-9)
    assert chart.signalled().tolist() == published["signals"]["c_beyond_limits"]


def test_limits_of_the_chart_whose_operating_curve_is_printed() -> None:
    published = case("oc_p_chart_n50")["data"]
    only = p_chart([10], [published["n"]], centre=0.2).charts[0]
    assert only.lower[0] == pytest.approx(published["LCL"], abs=5e-5)
    assert only.upper[0] == pytest.approx(published["UCL"], abs=5e-5)
    inside = p_chart(range(51), [50] * 51, centre=0.2).charts[0]
    assert np.setdiff1d(np.arange(51), inside.signalled() - 1).tolist() == list(range(2, 19))


@pytest.mark.parametrize(("counted", "name"), [(shares, name) for name in P_CASES] + [
    (rates, name) for name in U_CASES])
def test_scores_of_every_sample(counted, name: str) -> None:
    published = case(name)
    counts = published["data"].get("D", published["data"].get("c"))
    z = counted(counts, _sizes(published), centre=None, baseline=None).scores()
    np.testing.assert_allclose(z, published["recomputed"]["z"], rtol=1e-9, atol=1e-14)
    beyond = np.flatnonzero(np.abs(z) > 3) + 1
    assert beyond.tolist() == published["signals"]["standardized_beyond_3"]


def test_limits_agree_with_plain_loops() -> None:
    rng = np.random.default_rng(5)
    n = rng.integers(1, 400, 300)
    d = rng.binomial(n, 0.04)
    p = p_chart(d, n, baseline=(11, 200)).charts[0]
    np.testing.assert_allclose(np.c_[p.lower, p.upper], p_limits(d.tolist(), n.tolist(), 11, 200))
    u = u_chart(d, n / 7).charts[0]
    np.testing.assert_allclose(np.c_[u.lower, u.upper], u_limits(d.tolist(), (n / 7).tolist()))


def test_limits_are_cut_at_what_can_be() -> None:
    low = p_chart([0, 1, 0], [10, 10, 10]).charts[0]
    high = p_chart([10, 9, 10], [10, 10, 10]).charts[0]
    assert low.lower.tolist() == [0, 0, 0]
    assert high.upper.tolist() == [1, 1, 1]
    assert np_chart([10, 9], [10, 10]).charts[0].upper[0] == 10


@pytest.mark.parametrize(("chart", "caution"), [
    (p_chart([0] * 25, [50] * 25), Caution.NOTHING_COUNTED),
    (p_chart([50] * 25, [50] * 25), Caution.NO_VARIATION),
    (u_chart([0] * 25, [50] * 25), Caution.NOTHING_COUNTED),
    (c_chart([0] * 25), Caution.NOTHING_COUNTED),
])
def test_none_and_all_give_limits_on_the_line_and_a_caution(chart, caution) -> None:
    only = chart.charts[0]
    assert only.lower[0] == only.centre == only.upper[0]
    assert not only.signals.any()
    assert chart.cautions == (caution,)


def test_more_variation_than_chance_is_said() -> None:
    rng = np.random.default_rng(8)
    n = np.full(200, 500)
    honest = p_chart(rng.binomial(n, 0.1), n)
    uneven = p_chart(rng.binomial(n, rng.beta(20, 180, 200)), n)
    assert honest.cautions == ()
    assert uneven.cautions == (Caution.MORE_VARIATION,)
    assert honest.sigma is None


def test_the_warning_has_one_degree_of_freedom_less_for_an_estimated_centre() -> None:
    # dispersion 27.4 lies between the 0.999 quantiles of chi-square of 8 (26.1) and of 9 (27.9)
    counts = np.r_[[100] * 7, 100 + 36.8, 100 - 36.8].round()
    assert Caution.MORE_VARIATION in c_chart(counts).cautions
    assert Caution.MORE_VARIATION not in c_chart(counts, centre=100).cautions


def test_few_samples_are_said_to_be_few() -> None:
    d = [3, 5, 7, 4, 9, 2, 6] * 3
    assert p_chart(d[:19], [50] * 19).cautions == (Caution.TOO_FEW_POINTS,)
    assert p_chart(d[:20], [50] * 20).cautions == ()
    assert p_chart(d[:3], [50] * 3, centre=0.1).cautions == ()


def test_the_warning_of_more_variation_is_rarely_false() -> None:
    rng = np.random.default_rng(9)
    false = sum(
        Caution.MORE_VARIATION in u_chart(rng.poisson(6, 60), np.ones(60)).cautions
        for _ in range(2000)
    )
    assert false <= 12  # 1 in 1000 is meant; 2000 trials


def test_a_known_centre_stands() -> None:
    chart = p_chart([3, 30], [100, 100], centre=0.02)
    assert chart.charts[0].centre == 0.02
    assert chart.charts[0].signalled().tolist() == [2]
    assert chart.baseline is None


def test_rules_are_looked_for_in_each_points_own_sigma() -> None:
    n = np.tile([100, 400], 10)
    chart = p_chart(0.15 * n, n, centre=0.1, rules="nelson").charts[0]
    # 0.15 is 1.67 sigma for 100 pieces and 3.33 for 400
    assert chart.signalled().tolist() == list(range(2, 21, 2))
    assert chart.signalled("one_side").tolist() == list(range(9, 21))


def test_sizes_scale_and_order_do_not_matter() -> None:
    rng = np.random.default_rng(2)
    n = rng.integers(20, 90, 50)
    d = rng.binomial(n, 0.2)
    order = rng.permutation(50)
    whole, mixed = p_chart(d, n).charts[0], p_chart(d[order], n[order]).charts[0]
    np.testing.assert_allclose(whole.upper[order], mixed.upper, rtol=1e-12)
    metres, yards = u_chart(d, n).charts[0], u_chart(d, n * 0.5).charts[0]
    np.testing.assert_allclose(yards.upper, metres.upper * 2, rtol=1e-12)


COUNTS = np.arange(61)
LAWS = [
    (p_chart, (COUNTS, np.full(61, 60)), 0.03, stats.binom(60, 0.03)),
    (p_chart, (COUNTS, np.full(61, 60)), 0.97, stats.binom(60, 0.97)),
    (np_chart, (COUNTS, np.full(61, 60)), 12.0, stats.binom(60, 0.2)),
    (u_chart, (COUNTS, np.full(61, 2.5)), 3.2, stats.poisson(8.0)),
    (c_chart, (COUNTS,), 0.7, stats.poisson(0.7)),
    (c_chart, (COUNTS,), 20.0, stats.poisson(20.0)),
]


@pytest.mark.parametrize(("chart", "columns", "centre", "law"), LAWS)
@pytest.mark.parametrize("alpha", [0.0027, 0.05, 0.3])
def test_probability_limits_leave_at_most_half_alpha_on_each_side(
    chart, columns, centre: float, law, alpha: float
) -> None:
    found = chart(*columns, centre=centre, limits="probability", alpha=alpha)
    only = found.charts[0]
    low = COUNTS[only.value < only.lower]
    high = COUNTS[only.value > only.upper]
    assert only.signalled().tolist() == [*(low + 1), *(high + 1)]
    assert law.pmf(low).sum() <= alpha / 2
    assert law.sf(high[0] - 1) <= alpha / 2 if len(high) else law.sf(60) == 0
    # one step further in would be too much on either side
    assert law.cdf(len(low)) > alpha / 2
    assert law.sf(COUNTS[only.value <= only.upper].max() - 1) > alpha / 2
    assert f"a chance of at most {alpha / 2:g} beyond each" in found.source


@pytest.mark.parametrize(("chart", "law"), [
    (p_chart, lambda n, c: stats.binom(n, c)), (u_chart, lambda n, c: stats.poisson(n * c))])
@pytest.mark.parametrize("n_points", [400, 40_000])
def test_probability_limits_of_varying_sizes_agree_with_the_library(
    chart, law, n_points: int
) -> None:
    rng = np.random.default_rng(12)
    n = rng.integers(1, 2000, n_points)
    only = chart(rng.binomial(n, 0.02), n, centre=0.02, limits="probability").charts[0]
    each = law(n, 0.02)
    np.testing.assert_array_equal(only.upper, each.ppf(1 - 0.00135) / n)
    np.testing.assert_array_equal(only.lower, each.ppf(0.00135) / n)


def test_limits_of_small_counts_cry_wolf_and_probability_limits_do_not() -> None:
    c = np.random.default_rng(13).poisson(1.2, 50_000)
    plain, exact = c_chart(c), c_chart(c, limits="probability")
    # P(X > 4.49) = 0.0077, P(X > 5) = 0.0015, P(X > 6) = 0.0003: Poisson table, from memory
    assert len(plain.charts[0].signalled()) == pytest.approx(0.0077 * 50_000, rel=0.2)
    assert exact.charts[0].upper[0] == 6
    assert len(exact.charts[0].signalled()) <= 0.00135 * 50_000
    assert Caution.SMALL_COUNTS in plain.cautions
    assert Caution.SMALL_COUNTS not in exact.cautions


@pytest.mark.parametrize(("chart", "small"), [
    (p_chart([9, 4, 2], [90, 40, 20], centre=0.2), True),
    (p_chart([9, 4, 12], [90, 40, 120], centre=0.2), False),
    (p_chart([88, 37], [90, 40], centre=0.9), True),  # few are good
    (np_chart([3, 4], [90, 90], centre=3), True),
    (np_chart([87, 88], [90, 90], centre=87), True),
    (u_chart([12, 2], [10, 2], centre=2), True),
    (u_chart([12, 6], [10, 3], centre=2), False),
    (c_chart([5, 7], centre=5), False),
    (c_chart([4, 6], centre=4.9), True),
])
def test_samples_too_small_for_three_sigma_are_said(chart, small: bool) -> None:
    assert (Caution.SMALL_COUNTS in chart.cautions) == small


def test_a_sample_too_small_to_expect_any_signals_with_its_first() -> None:
    found = p_chart([0, 1, 0], [10, 10, 10], centre=1e-5, limits="probability")
    assert found.charts[0].upper[0] == 0
    assert found.charts[0].signalled().tolist() == [2]


def test_less_variation_than_chance_is_said_and_rarely_falsely() -> None:
    assert Caution.LESS_VARIATION in p_chart([10, 11, 9] * 10, [100] * 30).cautions
    rng = np.random.default_rng(15)
    false = sum(
        Caution.LESS_VARIATION in p_chart(rng.binomial(80, 0.1, 40), np.full(40, 80)).cautions
        for _ in range(2000)
    )
    assert false <= 8  # 1 in 1000 is meant; 2000 trials


def test_points_left_out_do_not_move_the_centre() -> None:
    d, n = np.array([5, 6, 60, 4, 7]), np.full(5, 100)
    left_out = Baseline(first=1, last=5, excluded=(Excluded(at=3, reason="wet powder"),))
    found = p_chart(d, n, baseline=left_out)
    assert found.charts[0].centre == pytest.approx(0.055)
    assert found.charts[0].signalled().tolist() == [3]
    assert found.baseline == left_out
    assert Caution.MORE_VARIATION not in found.cautions


@pytest.mark.parametrize("kind", [np.int64, np.uint8, np.float32, object, float])
def test_numbers_of_any_type_give_the_same_chart(kind) -> None:
    d, n = np.array([3, 9, 0, 7]), np.array([40, 200, 35, 90])
    plain = p_chart(d.tolist(), n.tolist(), limits="probability").charts[0]
    typed = p_chart(d.astype(kind), n.astype(kind), limits="probability").charts[0]
    for name in ("value", "lower", "upper", "signals"):
        np.testing.assert_array_equal(getattr(plain, name), getattr(typed, name))


def test_the_callers_arrays_stay_open_and_apart() -> None:
    d, n = np.array([3.0, 9.0, 4.0]), np.array([40.0, 90.0, 50.0])
    charts = [chart(d, n).charts[0] for chart in (p_chart, u_chart)]
    charts.append(c_chart(d).charts[0])
    before = [chart.value.copy() for chart in charts]
    d += 1
    n += 1
    for chart, value in zip(charts, before, strict=True):
        np.testing.assert_array_equal(chart.value, value)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: p_chart([5], [4]), "n_defective is 5 at position 1; allowed: 0 to the number insp"),
    (lambda: p_chart([1, 1], [4, 0]), "n_inspected is 0 at position 2; allowed: whole numbers f"),
    (lambda: p_chart([1.5], [4]), r"n_defective is 1\.5 at position 1; allowed: whole numbers"),
    (lambda: p_chart([-1], [4]), "n_defective is -1 at position 1; allowed: whole numbers from"),
    (lambda: p_chart([1, 2], [4]), "n_defective has 2 values and n_inspected 1"),
    (lambda: p_chart([], []), "n_defective has 0 values; it needs at least 1"),
    (lambda: p_chart([1], [4], centre=1.2), r"centre is 1\.2; it must be a share, 0\.\.1"),
    (lambda: np_chart([1, 1], [4, 5]), "n_inspected is 5 at position 2; allowed: one size"),
    (lambda: np_chart([1, 1], [4, 4], centre=5), "centre is 5; it must be a number of pieces"),
    (lambda: u_chart([1, 1], [4, 0]), "n_units is 0 at position 2; allowed: numbers above 0"),
    (lambda: u_chart([np.nan], [4]), "n_defects is nan at position 1"),
    (lambda: u_chart([1], [1], centre=-1), "centre is -1; it must be a finite number, 0 and up"),
    (lambda: p_chart(["two"], [4]), "n_defective holds what is not a number: .*'two'"),
    (lambda: p_chart([[1]], [4]), "n_defective has 2 dimensions"),
    (lambda: np_chart([1], [4], limits="exact"), "limits is 'exact'; allowed: sigma, probabilit"),
    (lambda: u_chart([1], [4], limits="probability", alpha=1), "alpha is 1; it must be 1e-12 to"),
    (lambda: c_chart([1], baseline=(0, 1)), "baseline is 0:1; it must lie inside 1:1"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
