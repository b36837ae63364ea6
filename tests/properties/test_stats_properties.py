"""What must hold for any input: order, scale, containment, vector equals scalar."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.change.changepoint import poisson_step
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.rules import RULE_SETS, pattern_signals
from qc.stats.charts.shewhart_counts import p_chart, u_chart
from qc.stats.comparing.discovery import benjamini_hochberg
from qc.stats.comparing.intervals import exact_interval, rate_interval, wilson_interval
from qc.stats.comparing.ratios import standardised_ratio

counts = st.integers(0, 5000)
shares = st.tuples(counts, counts).map(lambda pair: (min(pair), max(max(pair), 1)))
samples = st.lists(shares, min_size=1, max_size=40)
values = st.lists(st.integers(-1000, 1000).map(lambda k: k / 8), min_size=2, max_size=60)
confidences = st.sampled_from([0.5, 0.9, 0.95, 0.999])


@given(shares, confidences)
def test_an_interval_holds_its_share_and_widens_with_confidence(share, confidence) -> None:
    d, n = share
    for interval in (wilson_interval, exact_interval):
        found, wider = (interval(d, n, confidence=c) for c in (confidence, 0.9995))
        assert 0 <= found.low <= found.share <= found.high <= 1
        assert wider.low <= found.low
        assert wider.high >= found.high


@given(shares)
def test_good_pieces_mirror_bad_ones(share) -> None:
    d, n = share
    bad, good = wilson_interval(d, n), wilson_interval(n - d, n)
    np.testing.assert_allclose([bad.low, bad.high], [1 - good.high, 1 - good.low], atol=1e-12)


@given(counts, st.floats(1e-3, 1e4), confidences)
def test_a_rate_holds_its_estimate_and_a_ratio_is_one(k, exposure, confidence) -> None:
    rate = rate_interval(k, exposure, confidence=confidence)
    ratio = standardised_ratio(k, exposure, confidence=confidence)
    assert 0 <= rate.low <= rate.rate <= rate.high
    assert (ratio.ratio, ratio.low, ratio.high) == (rate.rate, rate.low, rate.high)
    assert 0 <= ratio.p_value <= 1


@given(samples, st.sampled_from(sorted(RULE_SETS)))
def test_p_limits_hold_the_centre_and_signals_are_strict(pairs, rules) -> None:
    d, n = np.array(pairs).T
    chart = p_chart(d, n, rules=rules).charts[0]
    assert (chart.lower >= 0).all()
    assert (chart.upper <= 1).all()
    assert (chart.lower <= chart.centre + 1e-15).all()
    assert (chart.upper >= chart.centre - 1e-15).all()
    on_or_inside = (chart.value <= chart.upper) & (chart.value >= chart.lower)
    assert not on_or_inside[chart.signalled() - 1].any()


@given(samples)
def test_u_limits_do_not_depend_on_the_order(pairs) -> None:
    d, n = np.array(pairs).T
    there, back = u_chart(d, n).charts[0], u_chart(d[::-1], n[::-1]).charts[0]
    np.testing.assert_allclose(there.upper, back.upper[::-1], rtol=1e-12)
    np.testing.assert_array_equal(there.signals, back.signals[::-1])


@given(values, st.sampled_from([0.5, 2.0, 16.0]), st.sampled_from([-64.0, 0.0, 32.0]))
def test_another_unit_shows_the_same_signals(x, scale, zero) -> None:
    one = individuals_chart(x, rules="nelson")
    other = individuals_chart(np.array(x) * scale + zero, rules="nelson")
    for a, b in zip(one.charts, other.charts, strict=True):
        np.testing.assert_array_equal(a.signals, b.signals)


@given(values, st.sampled_from([0.05, 0.2, 0.5, 1.0]))
def test_an_ewma_stays_among_its_values(x, weight) -> None:
    chart = ewma_chart(x, weight=weight).charts[0]
    assert chart.value.min() >= min(x) - 1e-9
    assert chart.value.max() <= max(x) + 1e-9


@given(st.lists(st.integers(-8, 8).map(lambda k: k / 2), min_size=1, max_size=50))
def test_what_comes_later_changes_no_signal(z) -> None:
    whole = pattern_signals(np.array(z), RULE_SETS["nelson"])
    for n in range(1, len(z)):
        early = pattern_signals(np.array(z[:n]), RULE_SETS["nelson"])
        np.testing.assert_array_equal(early, whole[:n])


@given(st.lists(st.floats(0, 1), max_size=40), st.randoms())
def test_discoveries_follow_their_comparison(p, random) -> None:
    order = list(range(len(p)))
    random.shuffle(order)
    straight, mixed = benjamini_hochberg(p), benjamini_hochberg([p[i] for i in order])
    np.testing.assert_allclose(straight.adjusted[order], mixed.adjusted)
    assert (straight.adjusted >= np.array(p) * (1 - 1e-12)).all()


@settings(max_examples=50)
@given(st.lists(st.tuples(st.integers(0, 30), st.floats(0.1, 20)), min_size=1, max_size=40))
def test_a_step_lies_inside_its_interval(points) -> None:
    k, mean = zip(*points, strict=True)
    found = poisson_step(k, mean)
    assert 0 <= found.low <= found.last_before <= found.high < len(points)
    assert found.support.max() == found.support[found.last_before]
