"""What must hold of subgroups, rules and short runs for any input: order, scale, parts."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from qc.stats.charts.constants import c4, d2, d3, factors
from qc.stats.charts.q_charts import q_chart, q_rate_chart, q_share_chart
from qc.stats.charts.rules import PATTERNS, pattern_signals, rule_set
from qc.stats.charts.short_run import deviation_chart, standardised_chart
from qc.stats.charts.spread import subgroups
from qc.stats.charts.subgroup_means import xbar_r_chart, xbar_s_chart

eighths = st.integers(-400, 400).map(lambda k: k / 8)
groups = st.lists(st.lists(eighths, min_size=2, max_size=7), min_size=1, max_size=15)
makers = st.sampled_from([xbar_r_chart, xbar_s_chart])
steps = st.lists(st.integers(-8, 8).map(lambda k: k / 2), min_size=1, max_size=60)
scales = st.sampled_from([0.25, 2.0, 16.0])


def _flat(parts: list[list[float]]) -> tuple[np.ndarray, np.ndarray]:
    sizes = [len(part) for part in parts]
    return np.array(sum(parts, [])), np.repeat(np.arange(len(parts)), sizes)


@given(groups, makers, scales, st.sampled_from([-64.0, 0.0, 32.0]))
def test_another_unit_moves_means_and_stretches_spreads(parts, make, scale, zero) -> None:
    x, label = _flat(parts)
    one, other = make(x, label, rules="nelson"), make(x * scale + zero, label, rules="nelson")
    for field in ("value", "lower", "upper"):
        main, beside = (getattr(chart, field) for chart in one.charts)
        np.testing.assert_allclose(getattr(other.charts[0], field), main * scale + zero, atol=1e-9)
        np.testing.assert_allclose(getattr(other.charts[1], field), beside * scale, atol=1e-9)
    for a, b in zip(one.charts, other.charts, strict=True):
        np.testing.assert_array_equal(a.signals, b.signals)


@given(groups, makers)
def test_limits_hold_their_centre_and_narrow_with_the_size(parts, make) -> None:
    x, label = _flat(parts)
    main, beside = make(x, label).charts
    size = np.bincount(label)
    order = np.argsort(size, kind="stable")
    assert (np.diff((main.upper - main.lower)[order]) <= 1e-12).all()
    assert (main.lower <= main.centre + 1e-12).all()
    assert (beside.lower >= 0).all()
    middle = beside.centre if beside.centres is None else beside.centres
    assert ((beside.lower <= middle) & (middle <= beside.upper)).all()


@given(groups, st.randoms())
def test_subgroups_do_not_depend_on_how_their_rows_are_mixed(parts, random) -> None:
    x, label = _flat(parts)
    order = list(range(len(x)))
    random.shuffle(order)
    mixed = subgroups(x[order], [f"lot {label[k]}" for k in order])
    first_seen = list(dict.fromkeys(label[order].tolist()))
    straight = subgroups(x, label)
    for field in ("size", "mean", "spread_range", "deviation"):
        np.testing.assert_allclose(getattr(mixed, field), getattr(straight, field)[first_seen],
                                   atol=1e-9)


@given(st.integers(2, 300))
def test_factors_hang_together(n: int) -> None:
    f = factors(n)
    assert abs(f.A - f.A2 * f.d2) < 1e-12
    assert abs(f.A - f.A3 * f.c4) < 1e-12
    assert abs(f.E2 * f.d2 - 3) < 1e-12
    for low, high, middle in [(f.D1, f.D2, f.d2), (f.B5, f.B6, f.c4), (f.D3, f.D4, 1),
                              (f.B3, f.B4, 1)]:
        assert low == 0 or abs((low + high) / 2 - middle) < 1e-12
    assert d2(n) < d2(n + 1)
    assert n == 2 or d3(n) > d3(n + 1)
    assert c4(n) < c4(n + 1) < 1


@given(steps, st.sets(st.sampled_from(PATTERNS), min_size=1))
def test_rules_together_mark_what_each_marks_alone(z, names) -> None:
    together = pattern_signals(np.array(z), rule_set(",".join(sorted(names))))
    apart = [pattern_signals(np.array(z), rule_set(name)) for name in names]
    np.testing.assert_array_equal(together, np.bitwise_or.reduce(apart))


@given(steps, st.sampled_from(["one_side", "trend", "alternating", "stratification"]),
       st.integers(3, 12))
def test_a_longer_run_is_asked_of_fewer_points(z, name, n) -> None:
    short, long = (pattern_signals(np.array(z), rule_set(f"{name}={k}")) for k in (n, n + 1))
    assert not (long & ~short).any()


@given(st.lists(eighths, min_size=4, max_size=40), scales, st.sampled_from([-64.0, 0.0, 32.0]))
def test_a_q_statistic_knows_no_unit_and_no_later_value(x, scale, zero) -> None:
    assume(len(set(x[:2])) > 1)
    straight, other = q_chart(x).charts[0], q_chart(np.array(x) * scale + zero).charts[0]
    np.testing.assert_allclose(other.value, straight.value, rtol=1e-6, atol=1e-9)
    over = q_chart(-np.array(x)).charts[0]
    np.testing.assert_allclose(over.value, -straight.value, rtol=1e-9, atol=1e-12)
    np.testing.assert_array_equal(q_chart(x[:-1]).charts[0].value, straight.value[:-1])


@given(st.lists(st.tuples(st.integers(0, 9), st.integers(9, 40)), min_size=2, max_size=20),
       st.sampled_from([q_share_chart, q_rate_chart]))
def test_one_more_defect_never_lowers_a_score(samples, make) -> None:
    d, n = (np.array(column) for column in zip(*samples, strict=True))
    assume(d[-1] < n[-1])
    fewer, more = make(d, n).charts[0], make(d + (np.arange(len(d)) == len(d) - 1), n).charts[0]
    assert more.value[-1] >= fewer.value[-1] - 1e-9
    assert np.isfinite(more.value).all()


@given(groups, st.floats(-1000, 1000).map(lambda v: round(v, 2)))
def test_a_part_may_be_anywhere_if_its_nominal_is_too(parts, far) -> None:
    x, label = _flat(parts)
    off = np.where(label % 2 == 1, far, 0.0)
    here, there = deviation_chart(x, 0, subgroup=label), deviation_chart(x + off, off,
                                                                         subgroup=label)
    for a, b in zip(here.charts, there.charts, strict=True):
        np.testing.assert_allclose(a.value, b.value, atol=1e-9)
        np.testing.assert_allclose(a.upper, b.upper, atol=1e-9)
    one, same = (standardised_chart(v, nominal, 2.0, subgroup=label)
                 for v, nominal in ((x, 0), (x + off, off)))
    np.testing.assert_allclose(one.charts[0].value, same.charts[0].value, atol=1e-9)
