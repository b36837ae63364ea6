"""What must hold of charts with a memory, and of those of several variables, for any input."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.charts.cusum import cusum_changes, cusum_chart, periods
from qc.stats.charts.mewma import mewma_chart
from qc.stats.charts.multivariate import t2_breakdown, t2_chart
from tests.reference.cusum import one_sided

eighths = st.integers(-400, 400).map(lambda k: k / 8)
series = st.lists(eighths, min_size=1, max_size=700)
designs = st.tuples(st.sampled_from([0.0, 0.25, 0.5, 1.5]), st.sampled_from([1.0, 4.0, 5.0]),
                    st.sampled_from([0.0, 0.5, 0.9]))
seeds = st.integers(0, 2**32 - 1)


def cusum(x, design, **more):
    reference, decision, share = design
    return cusum_chart(x, reference=reference, decision=decision, head_start=share * decision,
                       **{"centre": 0, "sigma": 8} | more)


@given(series, designs)
def test_sums_are_those_of_the_plain_loop(x, design) -> None:
    # eighths add up without rounding, so a signal may not depend on how they are added
    chart = cusum(x, design)
    for part, upper in zip(chart.charts, (True, False), strict=True):
        start = design[2] * design[1] * 8
        wanted = one_sided(x, 0.0, design[0] * 8, start, upper=upper)
        np.testing.assert_allclose(part.value, wanted, rtol=0, atol=1e-12)
        assert part.signalled().tolist() == [
            i for i, s in enumerate(wanted, 1) if s > design[1] * 8 * (1 + 1e-9)]


@given(series, designs)
def test_turned_upside_down_the_sides_change_places(x, design) -> None:
    there, back = cusum(x, design), cusum([-v for v in x], design)
    for one, other in zip(there.charts, reversed(back.charts), strict=True):
        np.testing.assert_array_equal(one.value, other.value)
        np.testing.assert_array_equal(one.signals, other.signals)


@given(series, designs, st.sampled_from([0.5, 4.0]), st.sampled_from([-64.0, 32.0]))
def test_another_unit_shows_the_same_shifts(x, design, scale, zero) -> None:
    one = cusum(x, design)
    other = cusum(np.array(x) * scale + zero, design, centre=zero, sigma=8 * scale)
    for a, b in zip(one.charts, other.charts, strict=True):
        np.testing.assert_allclose(b.value, a.value * scale, rtol=1e-12, atol=1e-12)
        np.testing.assert_array_equal(a.signals, b.signals)
    assert [c.last_before for c in cusum_changes(one)] == [
        c.last_before for c in cusum_changes(other)]


@given(st.lists(eighths, min_size=2, max_size=60), designs)
def test_what_comes_later_changes_no_point(x, design) -> None:
    whole = cusum(x, design).charts
    early = cusum(x[:len(x) // 2], design).charts if len(x) > 1 else whole
    for a, b in zip(early, whole, strict=True):
        np.testing.assert_array_equal(a.value, b.value[:len(a.value)])


@given(series, designs)
def test_a_shift_explains_its_own_signal(x, design) -> None:
    chart = cusum(x, design)
    counters = dict(zip(("upper", "lower"), map(periods, chart.charts), strict=True))
    for change in cusum_changes(chart):
        part = chart.charts[change.side == "lower"]
        assert change.n_points == counters[change.side][change.signalled_at - 1]
        assert change.last_before + change.n_points == change.signalled_at
        assert (part.value[change.last_before:change.signalled_at] > 0).all()
        distance = change.mean_after if change.side == "upper" else -change.mean_after
        reached = part.value[change.signalled_at - 1]
        start = design[2] * design[1] * 8 if change.last_before == 0 else 0.0
        # a head start may carry a sum over without any shift at all
        assert np.isclose(distance, chart.reference + (reached - start) / change.n_points)


@settings(max_examples=60)
@given(seeds, st.integers(2, 5), st.integers(12, 60))
def test_no_mix_of_the_variables_changes_what_is_seen(seed, p, n) -> None:
    rng = np.random.default_rng(seed)
    x = rng.normal(size=(n, p))
    mix = rng.normal(size=(p, p)) + 3 * np.eye(p)
    turned = x @ mix + rng.normal(0, 10, p)
    if np.linalg.cond(mix) > 1e3:
        return
    for chart, given_more in ((t2_chart, {}), (mewma_chart, {"decision": 8.0})):
        one, other = chart(x, **given_more), chart(turned, **given_more)
        np.testing.assert_allclose(other.charts[0].value, one.charts[0].value, rtol=1e-6,
                                   atol=1e-9)


@settings(max_examples=60)
@given(seeds, st.integers(1, 5), st.integers(8, 60))
def test_terms_stay_within_their_whole(seed, p, n) -> None:
    chart = t2_chart(np.random.default_rng(seed).normal(size=(n, p)))
    at = 1 + seed % n
    parts = t2_breakdown(chart, at)
    assert np.isclose(parts.t2, chart.charts[0].value[at - 1])
    for terms, shares in ((parts.alone, parts.p_alone),
                          (parts.given_others, parts.p_given_others)):
        assert (terms >= 0).all()
        assert (terms <= parts.t2 * (1 + 1e-9)).all()
        assert ((shares >= 0) & (shares <= 1)).all()
    by_size = parts.p_alone[np.argsort(parts.alone)]
    assert (np.diff(by_size) <= 1e-12).all()  # a larger term is never the likelier one


@settings(max_examples=40)
@given(seeds, st.lists(st.integers(1, 4), min_size=8, max_size=30))
def test_the_order_within_subgroups_does_not_matter(seed, sizes) -> None:
    rng = np.random.default_rng(seed)
    label = np.repeat(np.arange(len(sizes)), sizes)
    x = rng.normal(size=(len(label), 2))
    if sum(sizes) - len(sizes) < 3:
        return
    order = np.lexsort((rng.random(len(label)), label))
    one, other = t2_chart(x, subgroup=label).charts[0], t2_chart(
        x[order], subgroup=label[order]).charts[0]
    np.testing.assert_allclose(one.value, other.value, rtol=1e-8, atol=1e-9)
    np.testing.assert_allclose(one.upper, other.upper, rtol=1e-12)
