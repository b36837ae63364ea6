from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multivariate import test_mvmean as mean_test

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.multivariate import t2_breakdown, t2_chart
from tests.published import case
from tests.reference import multivariate as slow

RYAN = case("t2_ryan_20_subgroups_of_4")
GRAVEL = case("t2_gravel_56")
ROWS = np.array(RYAN["data"]["subgroups_x1_x2"]).reshape(-1, 2)
LABEL = np.repeat(np.arange(20), 4)
MIX = np.array([[1.0, 0, 0], [0.8, 0.6, 0], [-0.3, 0.5, 1.2]])


def ryan(**more):
    return t2_chart(ROWS, subgroup=LABEL, alpha=0.0054, **more)


def normal(rng: np.random.Generator, *shape: int) -> np.ndarray:
    return rng.normal(size=(*shape, 3)) @ MIX.T + [5, 10, -2]


def test_published_values() -> None:
    chart, printed = ryan().charts[0], RYAN["published"]
    for value, name in [(chart.value[9], "T2_subgroup_10"),
                        (chart.upper[9], "UCL_phase1_alpha_0p0054")]:
        assert value == pytest.approx(printed[name]["value"], abs=printed[name]["tolerance"])
    assert chart.signalled().tolist() == RYAN["signals"]["beyond_phase1"]


def test_recomputed_values() -> None:
    chart, wanted = ryan(), RYAN["recomputed"]
    np.testing.assert_allclose(chart.charts[0].value, wanted["T2"], rtol=1e-9)
    np.testing.assert_allclose(chart.vectors.mean, wanted["grand_mean"], rtol=1e-9)
    np.testing.assert_allclose(chart.vectors.covariance, wanted["pooled_covariance"], rtol=1e-9)
    np.testing.assert_allclose(chart.charts[0].upper, wanted["UCL_phase1_alpha_0p0054"], rtol=1e-9)
    given = ryan(mean=chart.vectors.mean, covariance=chart.vectors.covariance)
    np.testing.assert_allclose(given.charts[0].upper, wanted["UCL_chi2_alpha_0p0054"], rtol=1e-9)
    np.testing.assert_allclose(given.charts[0].value, wanted["T2"], rtol=1e-9)
    assert given.baseline is None


def test_later_subgroups_get_the_wider_limit() -> None:
    later = np.vstack([ROWS, ROWS[:4] + 30])
    chart = t2_chart(later, subgroup=np.repeat(np.arange(21), 4), alpha=0.0054, baseline=(1, 20))
    upper, wanted = chart.charts[0].upper, RYAN["recomputed"]
    np.testing.assert_allclose(upper[:20], wanted["UCL_phase1_alpha_0p0054"], rtol=1e-9)
    np.testing.assert_allclose(upper[20], wanted["UCL_phase2_alpha_0p0054"], rtol=1e-9)
    assert 21 in chart.charts[0].signalled()


def test_a_printed_limit_of_another_book() -> None:
    # Montgomery, Introduction to Statistical Quality Control, T2 chart of strength and diameter:
    # 20 samples of 10, alpha 0.001, upper limit 13.72 (from memory)
    x = np.random.default_rng(1).normal(size=(200, 2))
    chart = t2_chart(x, subgroup=np.repeat(np.arange(20), 10), alpha=0.001)
    assert chart.charts[0].upper[0] == pytest.approx(13.72, abs=0.005)


def test_single_rows_as_printed() -> None:
    chart, printed = t2_chart(GRAVEL["data"]["x"]), GRAVEL["published"]
    for found, name in [(chart.vectors.mean, "mean"),
                        (chart.vectors.covariance, "sample_covariance"),
                        (chart.charts[0].value[:20], "T2_sample")]:
        np.testing.assert_allclose(found, printed[name]["value"], rtol=0,
                                   atol=printed[name]["tolerance"])


@pytest.mark.parametrize(("m", "p"), [(6, 2), (30, 3), (100, 3)])
@pytest.mark.parametrize("alpha", [0.05, 0.0027])
def test_limits_of_single_rows_as_published(m: int, p: int, alpha: float) -> None:
    # Tracy, Young and Mason (1992): beta for the rows of the baseline, F outside
    x = normal(np.random.default_rng(2), m + 2)[:, :p]
    upper = t2_chart(x, alpha=alpha, baseline=(1, m)).charts[0].upper
    beta = (m - 1) ** 2 / m * stats.beta.isf(alpha, p / 2, (m - p - 1) / 2)
    f = p * (m + 1) * (m - 1) / (m * (m - p)) * stats.f.isf(alpha, p, m - p)
    np.testing.assert_allclose(upper, [beta] * m + [f] * 2, rtol=1e-9)


def test_values_agree_with_exact_fractions() -> None:
    x = normal(np.random.default_rng(3), 15)
    chart = t2_chart(x)
    rows = slow.exact_rows(x.tolist())
    centre = slow.mean_of(rows)
    covariance = slow.scaled(slow.products_about(rows, centre), Fraction(1, 14))
    wanted = [float(slow.t2(row, centre, covariance)) for row in rows]
    np.testing.assert_allclose(chart.charts[0].value, wanted, rtol=1e-11)
    # together they share out p (m - 1), however the points lie
    assert chart.charts[0].value.sum() == pytest.approx(3 * 14, rel=1e-12)


def test_unequal_subgroups_agree_with_exact_fractions() -> None:
    rng = np.random.default_rng(4)
    sizes = rng.integers(1, 6, 12)
    label = np.repeat(np.arange(12), sizes)
    x = normal(rng, len(label))
    chart = t2_chart(x, subgroup=label, alpha=0.01, baseline=(1, 9))
    groups = [slow.exact_rows(x[label == i].tolist()) for i in range(12)]
    base = [row for group in groups[:9] for row in group]
    centre, degrees = slow.mean_of(base), len(base) - 9
    pooled = slow.scaled(slow.exact_rows(np.zeros((3, 3)).tolist()), Fraction(1))
    for group in groups[:9]:
        pooled = slow.added(pooled, slow.products_about(group, slow.mean_of(group)))
    pooled = slow.scaled(pooled, Fraction(1, degrees))
    wanted = [float(len(g) * slow.t2(slow.mean_of(g), centre, pooled)) for g in groups]
    np.testing.assert_allclose(chart.charts[0].value, wanted, rtol=1e-11)
    share = sizes / len(base) * np.r_[[-1] * 9, [1] * 3]
    f = 3 * degrees / (degrees - 2) * stats.f.isf(0.01, 3, degrees - 2)
    np.testing.assert_allclose(chart.charts[0].upper, (1 + share) * f, rtol=1e-9)


@pytest.mark.parametrize("given", [{}, {"mean": [5, 10, -2]}, {"covariance": MIX @ MIX.T},
                                   {"mean": [5, 10, -2], "covariance": MIX @ MIX.T}])
@pytest.mark.parametrize("size", [None, 2])
def test_alpha_is_kept_inside_and_outside_the_baseline(given, size) -> None:
    rng, inside, outside, runs = np.random.default_rng(5), 0, 0, 1500
    label = None if size is None else np.repeat(np.arange(10), size)
    for _ in range(runs):
        x = normal(rng, 10 if size is None else 20)
        at = t2_chart(x, subgroup=label, alpha=0.05, baseline=(1, 8), **given).charts[0].signalled()
        inside, outside = inside + (at <= 8).sum(), outside + (at > 8).sum()
    # 8 (2) points share a baseline, so the error is somewhat above the binomial one
    assert inside / (8 * runs) == pytest.approx(0.05, abs=0.008)
    assert outside / (2 * runs) == pytest.approx(0.05, abs=0.02)


def test_a_known_mean_is_the_one_sample_test() -> None:
    # statsmodels: Hotelling's one-sample test of a mean, its p-value from F
    x = normal(np.random.default_rng(6), 24)
    wanted = mean_test(x, [5, 10, -2])
    chart = t2_chart(x, subgroup=["a"] * 24, mean=[5, 10, -2], alpha=float(wanted.pvalue))
    assert chart.charts[0].value[0] == pytest.approx(wanted.t2, rel=1e-9)
    assert chart.charts[0].upper[0] == pytest.approx(wanted.t2, rel=1e-9)


def test_one_variable_is_the_square_of_student() -> None:
    x = np.random.default_rng(7).normal(3, 2, (26, 1))
    chart = t2_chart(x, baseline=(1, 25), alpha=0.01).charts[0]
    base = x[:25, 0]
    assert chart.value[25] == pytest.approx(((x[25, 0] - base.mean()) / base.std(ddof=1)) ** 2)
    assert chart.upper[25] == pytest.approx(stats.t.isf(0.005, 24) ** 2 * (1 + 1 / 25), rel=1e-9)


def test_another_unit_and_order_show_the_same() -> None:
    x = normal(np.random.default_rng(8), 40)
    turned = (x * [1.8, 1000, 0.01] + [32, -5, 7])[:, [2, 0, 1]]
    one, other = t2_chart(x).charts[0], t2_chart(turned).charts[0]
    np.testing.assert_allclose(other.value, one.value, rtol=1e-9)
    np.testing.assert_allclose(other.upper, one.upper, rtol=1e-12)


def test_a_point_left_out_is_judged_from_outside() -> None:
    x = normal(np.random.default_rng(9), 30)
    x[6] += 20
    left_out = Baseline(first=1, last=30, excluded=(Excluded(at=7, reason="cold start"),))
    chart = t2_chart(x, baseline=left_out)
    np.testing.assert_allclose(chart.vectors.mean, np.delete(x, 6, axis=0).mean(axis=0))
    assert chart.charts[0].upper[6] > chart.charts[0].upper[5]
    assert 7 in chart.charts[0].signalled()
    assert chart.vectors.degrees == 28


def test_subgroups_need_not_stand_together() -> None:
    order = np.random.default_rng(10).permutation(80)
    straight = {int(k): v for k, v in zip(range(20), ryan().charts[0].value, strict=True)}
    mixed = t2_chart(ROWS[order], subgroup=LABEL[order], alpha=0.0054).charts[0]
    appear = list(dict.fromkeys(LABEL[order].tolist()))
    np.testing.assert_allclose(mixed.value, [straight[k] for k in appear], rtol=1e-9)


def test_subgroups_of_one_are_single_rows() -> None:
    x = normal(np.random.default_rng(11), 25)
    one, other = t2_chart(x).charts[0], t2_chart(x, subgroup=range(25)).charts[0]
    np.testing.assert_array_equal(one.value, other.value)
    np.testing.assert_array_equal(one.upper, other.upper)


def test_few_points_are_said() -> None:
    assert t2_chart(normal(np.random.default_rng(12), 19)).cautions == (Caution.TOO_FEW_POINTS,)
    assert t2_chart(normal(np.random.default_rng(12), 20)).cautions == ()


# --- which variable


def test_terms_agree_with_leaving_variables_out() -> None:
    x = normal(np.random.default_rng(13), 21)
    x[20] += [0, 3, 0]
    parts = t2_breakdown(t2_chart(x, baseline=(1, 20)), 21)
    rows = slow.exact_rows(x.tolist())
    centre = slow.mean_of(rows[:20])
    covariance = slow.scaled(slow.products_about(rows[:20], centre), Fraction(1, 19))
    whole = slow.t2(rows[20], centre, covariance)
    assert parts.t2 == pytest.approx(float(whole), rel=1e-11)
    for j in range(3):
        rest = slow.t2(rows[20], centre, covariance, [i for i in range(3) if i != j])
        alone = slow.t2(rows[20], centre, covariance, [j])
        assert parts.given_others[j] == pytest.approx(float(whole - rest), rel=1e-9)
        assert parts.alone[j] == pytest.approx(float(alone), rel=1e-11)


def test_terms_are_squared_residuals_of_the_regression_on_the_others() -> None:
    x = normal(np.random.default_rng(14), 30)
    parts = t2_breakdown(t2_chart(x), 5)
    for j in range(3):
        others = np.c_[np.ones(30), np.delete(x, j, axis=1)]
        residual = x[:, j] - others @ np.linalg.lstsq(others, x[:, j], rcond=None)[0]
        assert parts.off_others[j] == pytest.approx(residual[4], rel=1e-9)
        assert parts.given_others[j] == pytest.approx(
            residual[4] ** 2 / (residual @ residual / 29), rel=1e-9)


def test_a_broken_pair_shows_given_the_others_only() -> None:
    rng = np.random.default_rng(15)
    first = rng.normal(0, 1, 60)
    x = np.c_[first, first + rng.normal(0, 0.1, 60), rng.normal(0, 1, 60)]
    x[50] = [1, -1, 0]
    chart = t2_chart(x, baseline=(1, 40))
    assert 51 in chart.charts[0].signalled()
    parts = t2_breakdown(chart, 51)
    assert (parts.p_alone > 0.05).all()
    assert (parts.p_given_others[:2] < 1e-6).all()
    assert parts.p_given_others[2] > 0.05


@pytest.mark.parametrize("baseline", [(1, 12), (1, 11)])
@pytest.mark.parametrize("given", [{}, {"covariance": MIX @ MIX.T}])
def test_shares_in_control_are_evenly_spread(baseline, given) -> None:
    rng, alone, last = np.random.default_rng(16), [], []
    for _ in range(1500):
        parts = t2_breakdown(t2_chart(normal(rng, 12), baseline=baseline, **given), 12)
        alone.append(parts.p_alone[0])
        last.append(parts.p_given_others[1])
    assert stats.kstest(alone, "uniform").pvalue > 0.001
    assert stats.kstest(last, "uniform").pvalue > 0.001


def test_shares_of_subgroups_are_evenly_spread() -> None:
    rng, last = np.random.default_rng(17), []
    label = np.repeat(np.arange(5), [3, 2, 4, 3, 2])
    for _ in range(1500):
        parts = t2_breakdown(t2_chart(normal(rng, 14), subgroup=label), 3)
        last.append(parts.p_given_others[0])
    assert stats.kstest(last, "uniform").pvalue > 0.001


def test_one_variable_has_no_others() -> None:
    x = np.random.default_rng(18).normal(size=(30, 1))
    parts = t2_breakdown(t2_chart(x), 3)
    assert parts.alone == pytest.approx([parts.t2])
    assert parts.given_others == pytest.approx([parts.t2])
    assert parts.p_alone == pytest.approx(parts.p_given_others)


@pytest.mark.parametrize("at", [0, 21])
def test_a_point_that_is_not_there(at: int) -> None:
    with pytest.raises(ValueError, match=rf"at is {at}; it must be inside 1\.\.20"):
        t2_breakdown(ryan(), at)


# --- wrong input

GOOD = normal(np.random.default_rng(19), 30)


def changed(column: int, values) -> np.ndarray:
    x = GOOD.copy()
    x[:, column] = values
    return x


@pytest.mark.parametrize(("values", "arguments", "message"), [
    (GOOD[:, 0], {}, "values has 1 dimensions; it must have two: points and variables"),
    (np.empty((0, 3)), {}, "values has 0 points of 3 variables; it needs at least one of each"),
    (changed(1, [np.nan] + [1.0] * 29), {}, "values is nan at position 1, variable 2"),
    (changed(2, [np.inf] * 30), {}, "values is inf at position 1, variable 3"),
    (changed(1, 0.1), {}, "values do not vary in variable 2 of the baseline"),
    (changed(1, GOOD[:, 0] - 2 * GOOD[:, 2]), {}, "variables 1, 2, 3 follow from each other"),
    (changed(1, GOOD[:, 0] * 0.1), {}, "variables 1, 2 follow from each other"),
    (GOOD[:1], {}, "baseline has 1 point; a covariance needs at least 2"),
    (GOOD[:3], {}, "follow from each other"),
    (GOOD[:4], {}, "baseline has 4 points; T2 of 3 variables needs at least 5"),
    (GOOD[:3], {"mean": [5, 10, -2]}, "baseline has 3 points; T2 of 3 variables needs at least 4"),
    (GOOD, {"alpha": 0}, r"alpha is 0; it must be inside \(0, 1\)"),
    (GOOD, {"baseline": (1, 31)}, "baseline is 1:31; it must lie inside 1:30"),
    (GOOD, {"subgroup": [1, 2]}, "values has 30 values and subgroup 2; they must be as many"),
    (GOOD, {"subgroup": [0, 0, *range(1, 29)], "baseline": (2, 29)}, "one row in each subgroup"),
    (GOOD, {"subgroup": [0, 0, 0, *range(1, 28)]}, "variables .* follow from each other"),
    (GOOD, {"mean": [1, 2]}, r"mean is \[1, 2\]; it must be 3 finite numbers"),
    (GOOD, {"covariance": np.eye(2)}, r"covariance has shape \(2, 2\); it must be finite numbers"),
    (GOOD, {"covariance": [[1, 2, 0], [0, 1, 0], [0, 0, 1]]}, "covariance is not symmetric"),
    (GOOD, {"covariance": np.ones((3, 3))}, "covariance is not positive definite"),
    (GOOD, {"covariance": np.diag([1, 1, -1])}, "covariance is not positive definite"),
])
def test_wrong_input_is_named(values, arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        t2_chart(values, **arguments)


def test_one_point_is_enough_where_all_is_known() -> None:
    chart = t2_chart([[6.0, 10, -2]], mean=[5, 10, -2], covariance=np.eye(3)).charts[0]
    assert chart.value.tolist() == [1]
    assert chart.upper[0] == pytest.approx(stats.chi2.isf(0.0027, 3), rel=1e-12)
    assert np.isnan(chart.lower).all()
    assert chart.centre == 3


def test_the_input_is_left_alone() -> None:
    kept = GOOD.copy()
    t2_chart(GOOD, subgroup=np.repeat(np.arange(10), 3))
    np.testing.assert_array_equal(GOOD, kept)
    assert GOOD.flags.writeable
