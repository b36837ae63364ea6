"""What must hold of comparisons, agreement, gauge studies and trends for any input."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from qc.stats.change.pair_order import count_descents, list_descents
from qc.stats.change.trend import mann_kendall, theil_sen
from qc.stats.comparing.comparisons import compare_rates, compare_shares
from qc.stats.comparing.levels import compare_many_rates, compare_many_shares
from qc.stats.measurement.agreement import cohen_kappa, fleiss_kappa
from qc.stats.measurement.anova import crossed, one_way
from qc.stats.measurement.gauge import gauge_study
from qc.stats.measurement.nested_gauge import nested_gauge

pairs = st.tuples(st.integers(0, 400), st.integers(0, 400)).map(
    lambda pair: (min(pair), max(*pair, 1)))
rates = st.tuples(st.integers(0, 300), st.floats(0.01, 1000))
confidences = st.sampled_from([0.5, 0.9, 0.95, 0.999])
eighths = st.integers(-800, 800).map(lambda k: k / 8)
tables = arrays(np.int64, st.integers(2, 5).map(lambda k: (k, k)),
                elements=st.integers(0, 40)).filter(lambda t: t.sum() > 0)
cubes = arrays(np.float64, st.tuples(st.integers(2, 5), st.integers(2, 4), st.integers(1, 3)),
               elements=eighths)


def holds(contrast) -> bool:
    unknown = np.isnan(contrast.value)
    return bool(contrast.low <= contrast.high
                and (unknown or contrast.low <= contrast.value <= contrast.high))


@given(pairs, pairs, confidences)
def test_shares_compared_the_other_way_round(one, other, confidence) -> None:
    there = compare_shares(*one, *other, confidence=confidence)
    back = compare_shares(*other, *one, confidence=confidence)
    assert holds(there.difference)
    assert holds(there.ratio)
    assert -1 <= there.difference.low <= there.difference.high <= 1
    assert there.ratio.low >= 0
    assert back.difference.low == pytest.approx(-there.difference.high, abs=1e-12)
    assert back.p_value == pytest.approx(there.p_value, rel=1e-9)
    assert 0 <= there.mid_p <= there.p_value <= 1
    if there.ratio.high > 0 and np.isfinite(there.ratio.high):
        assert back.ratio.low == pytest.approx(1 / there.ratio.high, rel=1e-9)


@given(pairs, pairs)
def test_good_pieces_differ_as_bad_ones_do(one, other) -> None:
    (d, n), (d0, n0) = one, other
    bad, good = compare_shares(d, n, d0, n0), compare_shares(n - d, n, n0 - d0, n0)
    assert good.difference.low == pytest.approx(-bad.difference.high, abs=1e-12)
    assert good.p_value == pytest.approx(bad.p_value, rel=1e-9)


@given(rates, rates, confidences, st.sampled_from([0.1, 60.0]))
def test_rates_in_another_unit_and_the_other_way_round(one, other, confidence, unit) -> None:
    there = compare_rates(*one, *other, confidence=confidence)
    back = compare_rates(*other, *one, confidence=confidence)
    scaled = compare_rates(one[0], one[1] * unit, other[0], other[1] * unit, confidence=confidence)
    assert holds(there.difference)
    assert holds(there.ratio)
    # tails far beyond any use lose digits in the library underneath
    assert back.p_value == pytest.approx(there.p_value, rel=1e-7, abs=1e-30)
    assert scaled.ratio.low == pytest.approx(there.ratio.low, rel=1e-9)
    assert scaled.difference.high == pytest.approx(there.difference.high / unit, rel=1e-9)
    if there.ratio.high > 0 and np.isfinite(there.ratio.high):
        assert back.ratio.low == pytest.approx(1 / there.ratio.high, rel=1e-7)


@given(st.lists(pairs, min_size=2, max_size=12), st.randoms())
def test_levels_follow_their_counts(levels, random) -> None:
    order = list(range(len(levels)))
    random.shuffle(order)
    d, n = np.array(levels).T
    for compare in (compare_many_shares, compare_many_rates):
        straight, mixed = compare(d, n), compare(d[order], n[order])
        assert mixed.chi_square == pytest.approx(straight.chi_square, rel=1e-9, abs=1e-9,
                                                 nan_ok=True)
        np.testing.assert_allclose(straight.discoveries.adjusted[order],
                                   mixed.discoveries.adjusted, rtol=1e-7)
        assert np.isnan(straight.p_value) or 0 <= straight.p_value <= 1


@given(tables, st.sampled_from(["equal", "linear", "quadratic"]), st.integers(2, 9))
def test_kappa_stays_in_its_range_and_more_of_the_same_only_narrows_it(table, how, times) -> None:
    found = cohen_kappa(table, disagreement=how)
    more = cohen_kappa(table * times, disagreement=how)
    if np.isnan(found.kappa):
        assert np.isnan(more.kappa)
        return
    assert -1 - 1e-12 <= found.low <= found.kappa + 1e-12
    assert found.kappa - 1e-12 <= found.high <= 1
    assert more.kappa == pytest.approx(found.kappa, abs=1e-9)
    assert more.standard_error * times**0.5 == pytest.approx(found.standard_error, abs=1e-6)


@given(arrays(np.int64, st.tuples(st.integers(2, 20), st.integers(2, 4)),
              elements=st.integers(0, 6)).filter(
                  lambda t: (t.sum(axis=1) > 0).all() and t.sum(axis=1).max() > 1))
def test_two_categories_agree_alike(counts) -> None:
    found = fleiss_kappa(counts)
    for one in (found.overall, *found.by_category):
        assert np.isnan(one.kappa) or -1 <= one.low <= one.high <= 1
    if counts.shape[1] == 2:  # each category against the other is the whole
        assert [one.kappa for one in found.by_category] == pytest.approx(
            [found.overall.kappa] * 2, abs=1e-9, nan_ok=True)


@given(st.lists(st.lists(eighths, min_size=1, max_size=8), min_size=2, max_size=6).filter(
    lambda groups: max(map(len, groups)) > 1))
def test_parts_of_variation_add_up(groups) -> None:
    found = one_way(groups)
    every = np.concatenate(groups)
    assert found.total == pytest.approx(((every - every.mean()) ** 2).sum(), rel=1e-9, abs=1e-9)
    assert found.total_df == len(every) - 1
    assert all(line.sum_of_squares >= 0 for line in found.lines)


@given(cubes, st.sampled_from([0.5, 4.0]), st.sampled_from([-64.0, 32.0]))
def test_a_gauge_study_in_another_unit(cube, unit, zero) -> None:
    total = crossed(cube, ("parts", "people")).total
    assert total == pytest.approx(((cube - cube.mean()) ** 2).sum(), rel=1e-9, abs=1e-9)
    there, other = gauge_study(cube), gauge_study(cube * unit + zero)
    for name in ("parts", "people", "repeatability", "reproducibility", "gauge", "total"):
        one, two = getattr(there, name), getattr(other, name)
        assert 0 <= one.low <= one.high
        assert one.low <= one.variance + 1e-9
        assert one.variance <= one.high + 1e-9
        assert two.variance == pytest.approx(unit**2 * one.variance, rel=1e-7, abs=1e-7)
    assert there.gauge.variance + there.parts.variance == there.total.variance
    assert there.n_classes is None or there.n_classes >= 1


@given(arrays(np.float64, st.tuples(st.integers(2, 4), st.integers(2, 4), st.integers(2, 4)),
              elements=eighths))
def test_levels_of_time_add_up_to_one_measurement(cube) -> None:
    found = nested_gauge(cube)
    whole = found.repeats.variance + found.days.variance + found.runs.variance
    assert found.one_measurement**2 == pytest.approx(whole, rel=1e-9, abs=1e-12)
    assert found.one_measurement_low <= found.one_measurement + 1e-9
    assert found.one_measurement <= found.one_measurement_high


@given(st.lists(st.tuples(st.integers(0, 30), eighths), min_size=3, max_size=40).filter(
    lambda points: len({x for x, _ in points}) > 1), st.randoms())
def test_a_slope_does_not_depend_on_the_order_and_turns_with_the_data(points, random) -> None:
    mixed = random.sample(points, len(points))
    one, other = theil_sen(*zip(*points, strict=True)), theil_sen(*zip(*mixed, strict=True))
    assert (one.slope, one.low, one.high) == (other.slope, other.low, other.high)
    assert one.low <= one.slope <= one.high
    x, y = np.array(points).T
    steeper = theil_sen(x, y + 2 * x)
    assert steeper.slope == pytest.approx(one.slope + 2, abs=1e-9)


@given(st.lists(eighths, min_size=3, max_size=60))
def test_a_trend_read_backwards_is_the_opposite(values) -> None:
    there, back = mann_kendall(values), mann_kendall(values[::-1])
    assert back.s == -there.s
    assert back.p_value == there.p_value
    assert 0 <= there.p_value <= 1
    assert np.isnan(there.tau) or -1 <= there.tau <= 1


@settings(max_examples=60)
@given(st.lists(st.integers(0, 9).map(float), max_size=150))
def test_falling_pairs_are_all_found(values) -> None:
    x = np.array(values)
    i, j = list_descents(x)
    assert len(i) == count_descents(x)
    assert (i < j).all()
    assert (x[i] > x[j]).all()
    n_equal = sum(int(k) * (int(k) - 1) // 2 for k in np.unique(x, return_counts=True)[1])
    rising = count_descents(-x)
    assert len(i) + rising + n_equal == len(x) * (len(x) - 1) // 2
