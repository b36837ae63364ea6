from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.rare_events import g_chart, t_chart
from tests.published import case
from tests.reference.counts import run_limits, time_limits

G, T = case("rare_events_g_chart_constructed"), case("rare_events_t_constructed")


def test_g_limits_as_recomputed() -> None:
    found = g_chart(G["data"]["x"])
    only, wanted = found.charts[0], G["recomputed"]["zero_based"]
    assert only.centre == pytest.approx(wanted["mean"], rel=1e-9)
    assert only.upper[0] == pytest.approx(wanted["UCL"], rel=1e-9)
    assert (only.lower == wanted["LCL"]).all()
    assert only.signalled().tolist() == G["signals"]["zero_based_3sigma"]
    assert found.sigma is None


def test_g_probability_limits_are_the_whole_numbers_beside_the_published_ones() -> None:
    # the published formula gives 379.297: a run of 380 lies beyond it with chance 0.00136, more
    # than alpha / 2; the definition asks for at most alpha / 2 and so allows 380
    found = g_chart(G["data"]["x"], limits="probability", alpha=G["parameters"]["alpha"])
    only, wanted = found.charts[0], G["recomputed"]["zero_based"]
    assert only.centre == pytest.approx(wanted["prob_CL_median"], rel=1e-9)
    assert only.upper[0] == np.ceil(wanted["prob_UCL"]) == 380
    assert only.lower[0] == max(0, np.ceil(wanted["prob_LCL"])) == 0
    assert "a chance of at most 0.00135 beyond each" in found.source


@pytest.mark.parametrize("mean", [0.2, 1, 57.05, 900, 1e5])
@pytest.mark.parametrize("alpha", [0.0027, 0.05, 0.5])
def test_g_probability_limits_agree_with_the_library(mean: float, alpha: float) -> None:
    only = g_chart([1], centre=mean, limits="probability", alpha=alpha).charts[0]
    run = stats.geom(1 / (mean + 1), loc=-1)
    assert only.upper[0] == run.ppf(1 - alpha / 2)
    assert only.lower[0] == run.ppf(alpha / 2)
    assert run.sf(only.upper[0]) <= alpha / 2 < run.sf(only.upper[0] - 1)
    assert run.cdf(only.lower[0] - 1) <= alpha / 2 < run.cdf(only.lower[0])


def test_three_sigma_cries_wolf_over_skewed_runs_and_probability_limits_do_not() -> None:
    x = np.random.default_rng(4).geometric(0.01, 20_000) - 1
    plain, exact = g_chart(x), g_chart(x, limits="probability")
    assert len(plain.charts[0].signalled()) == pytest.approx(0.0183 * 20_000, rel=0.15)
    assert len(exact.charts[0].signalled()) <= 0.00135 * 20_000 + 3 * np.sqrt(27)
    assert Caution.SKEWED in plain.cautions
    assert Caution.SKEWED not in exact.cautions


def test_a_lower_limit_that_cannot_be_crossed_is_said() -> None:
    assert Caution.BLIND_BELOW in g_chart([40, 50, 60]).cautions
    blind = g_chart([40], centre=600, limits="probability")
    seeing = g_chart([1], centre=2000, limits="probability")
    assert Caution.BLIND_BELOW in blind.cautions
    assert Caution.BLIND_BELOW not in seeing.cautions
    assert seeing.charts[0].lower[0] == 2
    assert seeing.charts[0].signalled().tolist() == [1]


@pytest.mark.parametrize(("rules", "limits", "said"), [
    ("one_side", "sigma", True), ("nelson", "sigma", True), ("trend", "sigma", False),
    ("limits", "sigma", False), ("one_side,trend", "probability", False),
    ("two_of_three", "probability", True),
])
def test_rules_that_do_not_suit_numbers_between_events_are_said(
    rules: str, limits: str, said: bool
) -> None:
    # 63 of 100 geometric numbers lie below their mean, so runs there are no evidence
    found = g_chart(range(1, 30), rules=rules, limits=limits)
    assert (Caution.RULES_FOR_OTHERS in found.cautions) is said


def test_only_events_give_limits_on_the_line() -> None:
    for limits in ("sigma", "probability"):
        found = g_chart([0] * 25 + [3], baseline=(1, 25), limits=limits, rules="nelson")
        only = found.charts[0]
        assert only.lower[0] == only.centre == only.upper[0] == 0
        assert only.signalled().tolist() == [26]
        assert found.cautions == (Caution.NO_VARIATION, Caution.RULES_FOR_OTHERS)


def test_t_lines_as_recomputed_shown_as_times() -> None:
    found = t_chart(T["data"]["x"])
    main, moving = found.charts
    wanted = T["recomputed"]
    assert found.sigma == pytest.approx(wanted["sigma_hat"], rel=1e-9)
    assert main.centre == pytest.approx(wanted["mean"] ** 3.6, rel=1e-9)
    assert main.upper[0] == pytest.approx(wanted["X_UCL"] ** 3.6, rel=1e-9)
    assert wanted["X_LCL"] < 0 == main.lower[0]
    np.testing.assert_array_equal(main.value, T["data"]["x"])
    np.testing.assert_allclose(moving.value, wanted["MR"], rtol=1e-9)
    assert moving.centre == pytest.approx(wanted["MRbar"], rel=1e-9)
    assert moving.upper[0] == pytest.approx(wanted["MR_UCL"], rel=1e-9)
    assert main.signalled().tolist() == T["signals"]["X_beyond_limits"]
    assert moving.signalled().tolist() == T["signals"]["MR_beyond_limits_index_of_later_point"]


def test_t_probability_limits_as_recomputed() -> None:
    found = t_chart(T["data"]["x"], limits="probability")
    (only,) = found.charts
    lines = [only.lower[0], only.centre, only.upper[0]]
    assert lines == pytest.approx(T["recomputed"]["exp_prob_limits"], rel=1e-9)
    assert "exponential limits: a chance of 0.00135 beyond each" in found.source


@pytest.mark.parametrize("shape", [0.5, 1, 1.7, 3.6])
def test_t_weibull_limits_agree_with_the_library(shape: float) -> None:
    x = stats.weibull_min(shape, scale=40).rvs(200, random_state=6)
    only = t_chart(x, limits="probability", alpha=0.02, shape=shape).charts[0]
    _, _, scale = stats.weibull_min.fit(x, f0=shape, floc=0)
    law = stats.weibull_min(shape, scale=scale)
    lines = [only.lower[0], only.centre, only.upper[0]]
    assert lines == pytest.approx(law.ppf([0.01, 0.5, 0.99]), rel=1e-4)  # a numeric fit
    known = t_chart(x, limits="probability", alpha=0.02, shape=shape, centre=law.mean()).charts[0]
    assert known.upper[0] == pytest.approx(law.ppf(0.99), rel=1e-9)


def test_t_limits_hold_what_they_promise() -> None:
    x = np.random.default_rng(7).exponential(30, 20_000)
    only = t_chart(x, limits="probability", alpha=0.02).charts[0]
    high, low = (x > only.upper[0]).sum(), (x < only.lower[0]).sum()
    assert [high, low] == pytest.approx([200, 200], abs=4 * np.sqrt(200))
    assert len(only.signalled()) == high + low


def test_times_that_no_steady_rate_makes_are_said() -> None:
    rng = np.random.default_rng(16)
    steady, regular = rng.exponential(30, 80), stats.weibull_min(3).rvs(80, random_state=rng)
    bursts = stats.weibull_min(0.5).rvs(80, random_state=rng)
    assert t_chart(steady, limits="probability").cautions == ()
    assert Caution.BURSTS in t_chart(bursts, limits="probability").cautions
    assert Caution.REGULAR in t_chart(regular, limits="probability").cautions
    assert t_chart(regular, limits="probability", shape=3).cautions == ()
    assert t_chart(bursts, limits="probability", shape=0.5).cautions == ()


def test_steady_times_are_rarely_called_otherwise() -> None:
    rng = np.random.default_rng(17)
    false = sum(bool(t_chart(rng.exponential(5, 30), limits="probability").cautions)
                for _ in range(2000))
    assert false <= 14  # 1 in 1000 is meant on either side; 2000 trials


@pytest.mark.parametrize(("chart", "limits"), [(g_chart, run_limits), (t_chart, time_limits)])
def test_three_sigma_lines_agree_with_a_plain_loop(chart, limits) -> None:
    x = np.floor(np.random.default_rng(18).weibull(2.0, 60) * 90)
    only = chart(x).charts[0]
    assert (only.lower[0], only.centre, only.upper[0]) == pytest.approx(limits(x.tolist()))


def test_known_centre_and_spread_of_times() -> None:
    found = t_chart([1.0, 200.0], centre=32, sigma=0.5)
    middle = 32 ** (1 / 3.6)
    only = found.charts[0]
    assert only.centre == pytest.approx(32)
    assert only.lower[0] == pytest.approx((middle - 1.5) ** 3.6)
    assert only.upper[0] == pytest.approx((middle + 1.5) ** 3.6)
    assert only.signalled().tolist() == [1, 2]
    assert found.baseline is None


def test_a_point_on_a_limit_is_not_beyond_it() -> None:
    upper = t_chart([5.0], centre=20, limits="probability").charts[0].upper[0]
    only = t_chart([upper, upper * 1.0001], centre=20, limits="probability").charts[0]
    assert only.signalled().tolist() == [2]
    assert g_chart([380, 381], centre=57.05, limits="probability").charts[0].signalled() == [2]


def test_times_of_zero_are_said_and_signal_where_there_is_a_lower_limit() -> None:
    x = [12.0, 0.0, 30.0, 14.0, 22.0]
    plain, exact = t_chart(x), t_chart(x, limits="probability")
    assert Caution.ZERO_TIMES in plain.cautions
    assert Caution.ZERO_TIMES in exact.cautions
    assert exact.charts[0].signalled().tolist() == [2]
    assert Caution.ZERO_TIMES not in t_chart([1.0, 2.0]).cautions


def test_no_time_at_all_between_events_leaves_no_width() -> None:
    for limits in ("sigma", "probability"):
        found = t_chart([0.0] * 25 + [3.0], baseline=(1, 25), limits=limits, rules="nelson")
        assert found.charts[0].signalled().tolist() == [26]
        assert set(found.cautions) == {Caution.NO_VARIATION, Caution.ZERO_TIMES}


@pytest.mark.parametrize("chart", [g_chart, t_chart])
def test_rules_under_probability_limits_hold_points_against_the_median(chart) -> None:
    rng = np.random.default_rng(5)
    x = np.floor(rng.exponential(400, 40_000))
    found = chart(x, limits="probability", rules="one_side=9").charts[0]
    # half of the points lie on each side, so nine in a row come once in 2^8 points each side
    assert len(found.signalled("one_side")) == pytest.approx(40_000 / 2**8, rel=0.25)
    run = np.r_[np.full(9, found.centre * 1.01), np.full(9, found.centre * 0.99)].round(
        0 if chart is g_chart else 9)
    again = chart(run, limits="probability", rules="one_side=9", centre=x.mean()).charts[0]
    assert again.signalled("one_side").tolist() == [9, 18]


@pytest.mark.parametrize("chart", [g_chart, t_chart])
@pytest.mark.parametrize("limits", ["sigma", "probability"])
def test_a_baseline_holds_the_limits_still(chart, limits: str) -> None:
    x = np.round(np.random.default_rng(11).exponential(50, 30)) + 1
    alone = chart(x, limits=limits)
    more = chart([*x, 5000.0], baseline=(1, 30), limits=limits)
    assert more.charts[0].upper[0] == alone.charts[0].upper[0]
    assert more.charts[0].signalled()[-1] == 31
    assert (more.baseline.first, more.baseline.last) == (1, 30)
    left_out = Baseline(first=1, last=31, excluded=(Excluded(at=31, reason="press off"),))
    kept = chart([*x, 5000.0], baseline=left_out, limits=limits)
    assert kept.charts[0].upper[0] == alone.charts[0].upper[0]


@pytest.mark.parametrize("chart", [g_chart, t_chart])
def test_few_points_are_said_to_be_few(chart) -> None:
    assert Caution.TOO_FEW_POINTS in chart(range(1, 20)).cautions
    assert Caution.TOO_FEW_POINTS not in chart(range(1, 21)).cautions
    known = chart([4, 5], centre=9, limits="probability")
    assert Caution.TOO_FEW_POINTS not in known.cautions
    assert known.baseline is None


@pytest.mark.parametrize(("call", "message"), [
    (lambda: g_chart([]), "n_between has 0 values; it needs at least 1"),
    (lambda: g_chart([1, -2]), "n_between is -2 at position 2; allowed: whole numbers from 0"),
    (lambda: g_chart([1, 2.5]), r"n_between is 2\.5 at position 2; allowed: whole numbers"),
    (lambda: g_chart([1, np.nan]), "n_between is nan at position 2"),
    (lambda: g_chart([1], centre=-1), "centre is -1; it must be a finite number, 0 and up"),
    (lambda: g_chart([1], limits="two"), "limits is 'two'; allowed: sigma, probability"),
    (lambda: g_chart([1], limits="probability", alpha=0), "alpha is 0; it must be 1e-12 to belo"),
    (lambda: g_chart([1], baseline=(1, 2)), "baseline is 1:2; it must lie inside 1:1"),
    (lambda: t_chart(["soon", 3]), "time_between holds what is not a number: .*'soon'"),
    (lambda: t_chart([3.0]), "time_between has 1 values; it needs at least 2"),
    (lambda: t_chart([3.0, -1]), "time_between is -1 at position 2; allowed: numbers from 0"),
    (lambda: t_chart([3.0, np.inf]), "time_between is inf at position 2; it must be a finite"),
    (lambda: t_chart([3.0, 1], sigma=-1), "sigma is -1; it must be a finite number above 0"),
    (lambda: t_chart([3.0, 1], shape=2), "shape is 2; it goes with limits 'probability' only"),
    (lambda: t_chart([3.0], sigma=1, limits="probability"), "sigma is 1; it goes with limits 's"),
    (lambda: t_chart([3.0], shape=50, limits="probability"), r"shape is 50; it must be 0\.1 to"),
    (lambda: t_chart([3.0, 4], baseline=(2, 2)), "baseline has 1 point"),
    (lambda: t_chart([3.0, 4], rules="some"), "rules is 'some'; allowed"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
