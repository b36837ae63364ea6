"""What must hold of any run length: symmetry, order, and one chart as the limit of another."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.stats.charts.rules import PATTERNS, RuleSet
from qc.stats.runlength.counts import count_run_length
from qc.stats.runlength.cusum import cusum_decision, cusum_run_length
from qc.stats.runlength.ewma import ewma_run_length, ewma_width
from qc.stats.runlength.result import SHARES, RunLength
from qc.stats.runlength.shewhart import shewhart_run_length

shifts = st.floats(0, 4)
weights = st.floats(0.03, 1)
widths = st.floats(0.2, 4)
references = st.floats(0, 2)
decisions = st.floats(0.1, 6)
states = st.sampled_from(["zero", "steady"])
limits = st.sampled_from(["exact", "steady"])
few = settings(max_examples=40, deadline=None)


def _sound(run: RunLength) -> None:
    assert run.arl >= 1
    assert run.sdrl >= 0
    points = [one.points for one in run.percentiles]
    assert [one.share for one in run.percentiles] == list(SHARES)
    assert points == sorted(points)
    assert points[0] >= 1
    # Cantelli: a share q lies no further above the mean than sd sqrt(q / (1 - q))
    for one in run.percentiles:
        reach = run.arl + run.sdrl * np.sqrt(one.share / (1 - one.share))
        assert one.points <= reach * (1 + 1e-9) + 1


@few
@given(shifts, weights, widths, limits, states)
def test_an_ewma_is_as_good_upwards_as_downwards(shift, weight, width, limits, state) -> None:
    plan = {"weight": weight, "width": width, "limits": limits, "state": state}
    up, down = (ewma_run_length(way * shift, **plan) for way in (1, -1))
    _sound(up)
    assert up.arl == pytest.approx(down.arl, rel=1e-9)
    assert up.sdrl == pytest.approx(down.sdrl, rel=1e-6, abs=1e-6)
    wider = ewma_run_length(shift, **plan | {"width": width * 1.1})
    assert wider.arl >= up.arl * (1 - 1e-9)


@few
@given(shifts, references, decisions, st.floats(0, 0.99), states)
def test_a_cusum_is_as_good_upwards_as_downwards(shift, reference, decision, start, state) -> None:
    plan = {"reference": reference, "decision": decision, "head_start": start * decision,
            "state": state}
    up, down = (cusum_run_length(way * shift, **plan) for way in (1, -1))
    _sound(up)
    assert up.arl == pytest.approx(down.arl, rel=1e-8)
    assert up.sdrl == pytest.approx(down.sdrl, rel=1e-6, abs=1e-6)
    one = cusum_run_length(shift, sides="one", **plan)
    assert one.arl >= up.arl * (1 - 1e-8)
    if state == "zero":
        cold = cusum_run_length(shift, **plan | {"head_start": 0.0})
        assert up.arl <= cold.arl * (1 + 1e-8)


@few
@given(st.floats(2, 1e5), weights)
def test_a_width_gives_the_run_length_it_was_found_for(arl, weight) -> None:
    width = ewma_width(arl, weight=weight)
    assert ewma_run_length(0, weight=weight, width=width).arl == pytest.approx(arl, rel=1e-8)


@few
@given(st.floats(20, 1e5), st.floats(0.05, 2))
def test_a_decision_gives_the_run_length_it_was_found_for(arl, reference) -> None:
    try:
        decision = cusum_decision(arl, reference=reference)
    except ValueError as refused:  # a reference that far out signals more seldom without a sum
        assert "it is at least" in str(refused)
        return
    run = cusum_run_length(0, reference=reference, decision=decision)
    assert run.arl == pytest.approx(arl, rel=1e-8)


counts = {"one_side": 7, "trend": 5, "alternating": 6, "stratification": 6, "mixture": 5}
rule_sets = st.sets(st.sampled_from(PATTERNS), min_size=1, max_size=3).map(
    lambda names: RuleSet(name="some", **{name: counts.get(name, True) for name in names}))


@few
@given(shifts, rule_sets, st.floats(0.5, 4), states)
def test_rules_only_add_signals(shift, rules, width, state) -> None:
    plan = {"rules": rules, "width": width, "state": state}
    try:
        run = shewhart_run_length(shift, **plan)
    except ValueError as refused:  # all points inside narrow limits hug the centre line
        assert "no chart goes on for long" in str(refused)
        return
    _sound(run)
    assert run.arl <= shewhart_run_length(shift, width=width).arl * (1 + 1e-9)
    assert run.arl == pytest.approx(shewhart_run_length(-shift, **plan).arl, rel=1e-7)


@few
@given(st.floats(-1, 1), st.floats(0.1, 0.9), st.integers(5, 80),
       st.sampled_from(["limits", "western-electric", "trend", "mixture,alternating=6"]),
       st.sampled_from(["sigma", "probability"]))
def test_good_pieces_mirror_bad_ones(shift, share, size, rules, limits) -> None:
    plan = {"kind": "p", "size": size, "rules": rules, "limits": limits}
    try:
        bad = count_run_length(shift, centre=share, **plan)
    except ValueError as refused:
        assert "it would make the share" in str(refused)
        return
    good = count_run_length(-shift, centre=1 - share, **plan)
    if np.isfinite(bad.arl):
        _sound(bad)
    assert bad.arl == pytest.approx(good.arl, rel=1e-7)


@few
@given(st.floats(0.5, 40), st.floats(0.5, 20), shifts)
def test_units_do_not_matter_only_what_is_expected(mean, size, shift) -> None:
    one = count_run_length(shift, kind="c", centre=mean)
    many = count_run_length(shift, kind="u", centre=mean / size, size=size)
    assert one.arl == pytest.approx(many.arl, rel=1e-8)
