from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.measurement.variance_components import ratio_interval, variance_interval
from tests.reference.variance import modified_large_sample

GAUGE_DF = np.array([9.0, 2.0, 18.0, 60.0])
PARTS = np.array([1.0, 0.0, -1.0, 0.0]) / 9
PEOPLE = np.array([0.0, 1.0, -1.0, 0.0]) / 30
BOTH = np.array([0.0, 0.0, 1.0, -1.0]) / 3
REPEATS = np.array([0.0, 0.0, 0.0, 1.0])


@pytest.mark.parametrize("df", [1, 5, 60, 2000])
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_one_mean_square_alone_has_the_chi_square_interval(df, confidence) -> None:
    found = variance_interval([2.5], [df], [3.0], confidence=confidence)
    tail = (1 - confidence) / 2
    assert (found.low, found.high) == pytest.approx(
        (7.5 * df / stats.chi2.isf(tail, df), 7.5 * df / stats.chi2.ppf(tail, df)), rel=1e-9)


@pytest.mark.parametrize(("df", "other"), [(9, 18), (2, 18), (3, 4), (1, 30)])
def test_a_difference_begins_at_0_exactly_where_the_f_test_does(df, other) -> None:
    rejects = stats.f.isf(0.025, df, other)
    found = variance_interval([rejects, 1.0], [df, other], [1, -1])
    assert found.low == pytest.approx(0, abs=1e-7 * rejects)
    assert variance_interval([1.01 * rejects, 1.0], [df, other], [1, -1]).low > 0
    ends = variance_interval([1.0, stats.f.isf(0.025, other, df)], [df, other], [1, -1])
    assert ends.high == pytest.approx(0, abs=1e-7 * rejects)


def test_a_sum_follows_graybill_and_wang() -> None:
    square, df, factor = np.array([4.0, 0.5, 2.0]), np.array([3, 12, 7]), np.array([0.5, 2.0, 1.0])
    found = variance_interval(square, df, factor)
    down, up = 1 - df / stats.chi2.isf(0.025, df), df / stats.chi2.ppf(0.025, df) - 1
    value = (square * factor).sum()
    assert found.value == value
    assert found.low == pytest.approx(value - np.sqrt(((down * square * factor) ** 2).sum()))
    assert found.high == pytest.approx(value + np.sqrt(((up * square * factor) ** 2).sum()))


@pytest.mark.parametrize("factor", [
    PARTS, PEOPLE, BOTH, PEOPLE + BOTH, PARTS + PEOPLE + BOTH + REPEATS,
    PARTS - 8 * (PEOPLE + BOTH),
    np.array([0.5, 2.0, 0.7, -3.0]), np.array([-0.5, -2.0, -0.7, 3.0])])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_agrees_with_the_formulas_as_printed(factor, confidence) -> None:
    squares = [437.3, 19.6, 2.7, 0.5]
    found = variance_interval(squares, GAUGE_DF, factor, confidence=confidence)
    wanted = modified_large_sample(squares, [9, 2, 18, 60], factor.tolist(), (1 - confidence) / 2)
    assert (found.low, found.high) == pytest.approx(wanted, rel=1e-9)


def test_a_mean_square_of_0_takes_part() -> None:
    found = variance_interval([4.0, 0.0], [5, 9], [1.0, -1.0])
    alone = variance_interval([4.0], [5], [1.0])
    assert (found.low, found.high) == pytest.approx((alone.low, alone.high), rel=1e-12)


@pytest.mark.parametrize("factor", [PARTS, PEOPLE, BOTH, PEOPLE + BOTH, PEOPLE + BOTH + REPEATS])
@pytest.mark.parametrize("truth", [(50, 4, 2, 1), (3, 1.2, 1.1, 1), (400, 60, 1, 1)])
def test_holds_the_truth_as_often_as_it_says(factor, truth) -> None:
    rng = np.random.default_rng(80)
    squares = rng.chisquare(GAUGE_DF, (1500, 4)) / GAUGE_DF * truth
    wanted = float(factor @ np.array(truth))
    found = [variance_interval(row, GAUGE_DF, factor) for row in squares]
    held = np.mean([one.low <= wanted <= one.high for one in found])
    assert 0.93 <= held <= 0.985  # 95 % stated; standard error 0.006


@pytest.mark.parametrize("truth", [(50, 4, 2, 1), (400, 60, 1, 1)])
def test_a_ratio_holds_the_truth_as_often_as_it_says(truth) -> None:
    rng = np.random.default_rng(81)
    gauge = PEOPLE + BOTH + REPEATS
    squares = rng.chisquare(GAUGE_DF, (400, 4)) / GAUGE_DF * truth
    wanted = float(PARTS @ np.array(truth)) / float(gauge @ np.array(truth))
    held = [one.low <= wanted <= one.high for one in (
        ratio_interval(row, GAUGE_DF, PARTS, gauge) for row in squares)]
    assert 0.92 <= np.mean(held) <= 0.99


def test_a_ratio_of_two_mean_squares_has_the_exact_f_interval() -> None:
    found = ratio_interval(np.array([6.0, 2.0]), np.array([9.0, 18.0]), np.array([1.0, 0.0]),
                           np.array([0.0, 1.0]))
    assert found.value == 3
    assert (found.low, found.high) == pytest.approx(
        (3 / stats.f.isf(0.025, 9, 18), 3 * stats.f.isf(0.025, 18, 9)), rel=1e-7)


def test_a_ratio_whose_upper_part_is_below_0_begins_at_0() -> None:
    gauge = PEOPLE + BOTH + REPEATS
    found = ratio_interval(np.array([0.4, 4.0, 2.0, 1.0]), GAUGE_DF, PARTS, gauge)
    assert found.value < 0
    assert found.low == 0
    assert 0 <= found.high < 1


def test_unit_does_not_matter() -> None:
    squares = np.array([437.3, 19.6, 2.7, 0.5])
    there, back = (variance_interval(squares * unit**2, GAUGE_DF, PEOPLE + BOTH)
                   for unit in (1.0, 25.4))
    assert (back.value, back.low, back.high) == pytest.approx(
        tuple(25.4**2 * end for end in (there.value, there.low, there.high)), rel=1e-12)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: variance_interval([1], [1, 2], [1]), "mean_squares has 1 values and df 2"),
    (lambda: variance_interval([1], [1], [1, 1]), "mean_squares has 1 values and factors 2"),
    (lambda: variance_interval([-1], [1], [1]), "mean_squares is -1 at position 1; allowed: numb"),
    (lambda: variance_interval([1], [0], [1]), "df is 0 at position 1; allowed: numbers from 1"),
    (lambda: variance_interval([1], [1], [0]), "factors are all 0; at least one mean square"),
    (lambda: variance_interval([np.inf], [1], [1]), "mean_squares is inf at position 1"),
    (lambda: variance_interval([1], [1], [1], confidence=1), "confidence is 1; it must be inside"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
