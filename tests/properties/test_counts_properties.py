"""What must hold of charts of counts and rare events, whatever is counted."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.charts.laney import p_prime_chart, u_prime_chart
from qc.stats.charts.probability_limits import binomial_limits, poisson_limits
from qc.stats.charts.rare_events import g_chart, t_chart
from qc.stats.charts.shewhart_counts import p_chart, u_chart

pairs = st.tuples(st.integers(0, 800), st.integers(1, 800)).map(lambda p: (min(p), max(p)))
samples = st.lists(pairs, min_size=2, max_size=40)
centres = st.integers(0, 64).map(lambda k: k / 64)
alphas = st.sampled_from([1e-5, 0.0027, 0.05, 0.4])
both = st.sampled_from(["sigma", "probability"])
relaxed = settings(deadline=None)  # a busy machine is no fault of a chart
runs = st.lists(st.integers(0, 4000), min_size=2, max_size=40)


@relaxed
@given(samples, centres, alphas)
def test_a_sample_alone_has_the_limits_it_has_among_others(pairs, centre, alpha) -> None:
    d, n = np.array(pairs).T
    for chart in (p_chart, u_chart):
        options = {"centre": centre, "limits": "probability", "alpha": alpha}
        whole = chart(d, n, **options).charts[0]
        for at in range(len(d)):
            alone = chart(d[at:at + 1], n[at:at + 1], **options).charts[0]
            assert (alone.lower[0], alone.upper[0]) == (whole.lower[at], whole.upper[at])
            assert alone.signals[0] == whole.signals[at]


@relaxed
@given(samples, centres, alphas)
def test_good_pieces_mirror_bad_ones(pairs, centre, alpha) -> None:
    d, n = np.array(pairs).T
    options = {"limits": "probability", "alpha": alpha}
    bad = p_chart(d, n, centre=centre, **options).charts[0]
    good = p_chart(n - d, n, centre=1 - centre, **options).charts[0]
    np.testing.assert_allclose(bad.lower, 1 - good.upper, atol=1e-12)
    np.testing.assert_array_equal(bad.signals, good.signals)


@relaxed
@given(st.integers(1, 100_000), st.floats(0, 1), st.floats(5e-6, 0.2), st.floats(1.01, 2.4))
def test_limits_widen_as_the_chance_beyond_them_falls(n, share, tail, more) -> None:
    for limits in (lambda t: binomial_limits(n, share, tail=t),
                   lambda t: poisson_limits(n * share, tail=t)):
        wide, narrow = limits(tail), limits(tail * more)
        assert wide.lower[0] <= narrow.lower[0] <= narrow.upper[0] <= wide.upper[0]
        assert wide.lower[0] == int(wide.lower[0])


@relaxed
@given(st.floats(0, 1), alphas)
def test_limits_of_a_count_never_fall_as_samples_grow(share, alpha) -> None:
    n = np.arange(1, 600)
    for band in (binomial_limits(n, share, tail=alpha / 2),
                 poisson_limits(n * share, tail=alpha / 2)):
        assert (np.diff(band.lower) >= 0).all()
        assert (np.diff(band.upper) >= 0).all()


@relaxed
@given(samples)
def test_time_reversed_gives_the_same_widened_limits(pairs) -> None:
    d, n = np.array(pairs).T
    for chart in (p_prime_chart, u_prime_chart):
        there, back = chart(d, n), chart(d[::-1], n[::-1])
        assert (there.sigma is None) == (back.sigma is None)
        assert (there.sigma or 0) == pytest.approx(back.sigma or 0, rel=1e-9, abs=1e-12)
        np.testing.assert_allclose(there.charts[0].upper, back.charts[0].upper[::-1], rtol=1e-9)


@relaxed
@given(samples, st.sampled_from([0.25, 8.0]))
def test_another_unit_of_size_shows_the_same_signals(pairs, unit) -> None:
    c, n = np.array(pairs).T
    for chart, options in ((u_chart, {}), (u_chart, {"limits": "probability"}),
                           (u_prime_chart, {})):
        one, other = chart(c, n, **options), chart(c, n * unit, **options)
        np.testing.assert_allclose(one.charts[0].upper, other.charts[0].upper * unit, rtol=1e-9)
        np.testing.assert_array_equal(one.charts[0].signals, other.charts[0].signals)


@relaxed
@given(runs, both, st.sampled_from([0.5, 64.0]))
def test_another_unit_of_time_shows_the_same_signals(x, limits, unit) -> None:
    one, other = (t_chart(np.array(x) * by, limits=limits) for by in (1.0, unit))
    assert other.charts[0].centre == pytest.approx(one.charts[0].centre * unit, rel=1e-9)
    np.testing.assert_allclose(other.charts[0].upper, one.charts[0].upper * unit, rtol=1e-9)
    np.testing.assert_array_equal(one.charts[0].signals, other.charts[0].signals)


@relaxed
@given(runs, both, st.sampled_from([g_chart, t_chart]))
def test_lines_stand_in_order_and_signals_are_strict(x, limits, chart) -> None:
    only = chart(x, limits=limits, rules="nelson").charts[0]
    assert 0 <= only.lower[0] <= only.centre * (1 + 1e-12)
    assert only.centre <= only.upper[0] * (1 + 1e-12)
    inside = (only.value <= only.upper) & (only.value >= only.lower)
    assert not inside[only.signalled() - 1].any()
