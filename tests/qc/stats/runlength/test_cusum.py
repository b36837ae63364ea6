from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from qc.stats.runlength import cusum
from qc.stats.runlength.cusum import cusum_decision, cusum_run_length, siegmund_arl
from qc.stats.runlength.result import Caution
from tests.qc.stats.runlength.agreeing import agrees_with
from tests.reference.run_lengths import (
    Cusum,
    cusum_chain_arl,
    simulated,
    simulated_in_use,
    two_sided_chain,
)

N = 20_000


def _points(shift: float, seed: int):
    rng = np.random.default_rng(seed)
    return lambda n: rng.normal(shift, 1, n)


@pytest.mark.parametrize("shift", [0, 0.7, -0.7])
@pytest.mark.parametrize(("reference", "decision", "start"), [
    (0.5, 4, 0), (0.5, 4, 2), (0.5, 4, 2.5), (0.5, 4, 3), (0.5, 4, 3.9), (0.1, 4, 3),
    (0.02, 4, 3.9), (0, 4, 0), (0, 4, 2), (0, 4, 3.5), (1.5, 0.3, 0.2)])
def test_two_sided_from_any_head_start(shift, reference, decision, start) -> None:
    # above decision / 2 + reference the two sums meet: from there no formula of one side holds
    plan = {"reference": reference, "decision": decision, "head_start": start}
    agrees_with(cusum_run_length(shift, **plan),
                simulated(Cusum(N, **plan), N, _points(shift, 5)))


@pytest.mark.parametrize("two_sided", [True, False])
@pytest.mark.parametrize("shift", [0, 1, -1])
def test_simulated_after_long_use(shift: float, two_sided: bool) -> None:
    if shift < 0 and not two_sided:
        shift = -0.2
    chart = Cusum(2 * N, reference=0.25, decision=4, two_sided=two_sided)
    slow = simulated_in_use(chart, 2 * N, calm=_points(0, 6), changed=_points(shift, 7), before=60)
    run = cusum_run_length(shift, reference=0.25, decision=4, state="steady",
                           sides="two" if two_sided else "one")
    agrees_with(run, slow)


@pytest.mark.parametrize("sides", ["one", "two"])
@pytest.mark.parametrize(("reference", "decision"), [(0.5, 4), (0, 3), (0.2, 2), (1.5, 0.5)])
def test_in_control_after_long_use_the_run_length_is_geometric(reference, decision, sides) -> None:
    run = cusum_run_length(0, reference=reference, decision=decision, sides=sides, state="steady")
    assert run.sdrl == pytest.approx(np.sqrt(run.arl * (run.arl - 1)), rel=1e-10)
    for one in run.percentiles:
        assert one.points == np.ceil(np.log(1 - one.share) / np.log(1 - 1 / run.arl))


@pytest.mark.parametrize(("shift", "reference", "decision"), [
    (0, 0.5, 4), (1, 0.5, 5), (0.5, 0.25, 8), (0, 1.5, 1)])
def test_one_side_as_a_plain_chain_of_many_states(shift, reference, decision) -> None:
    coarse, fine = (cusum_chain_arl(shift, reference=reference, decision=decision, n_states=n)
                    for n in (300, 600))
    ratio = ((2 * 600 - 1) / (2 * 300 - 1)) ** 2
    limit = (ratio * fine - coarse) / (ratio - 1)
    run = cusum_run_length(shift, reference=reference, decision=decision, sides="one")
    assert run.arl == pytest.approx(limit, rel=2e-5)


def test_both_sums_at_once_on_a_grid_of_pairs() -> None:
    # a coarse grid, without the argument that the other sum is at 0 at a signal
    mean, deviation = two_sided_chain(0.3, reference=0.5, decision=2, n_states=25, at=(0, 0))
    run = cusum_run_length(0.3, reference=0.5, decision=2)
    assert run.arl == pytest.approx(mean, rel=1e-3)
    assert run.sdrl == pytest.approx(deviation, rel=1e-3)


@pytest.mark.parametrize("shift", [0, 0.4, 1])
@pytest.mark.parametrize(("reference", "decision"), [(0.5, 5), (0.25, 8), (1, 2.5)])
def test_sides_combine_by_their_reciprocals(shift, reference, decision) -> None:
    plan = {"reference": reference, "decision": decision}
    up, down = (cusum_run_length(way * shift, sides="one", **plan).arl for way in (1, -1))
    assert cusum_run_length(shift, **plan).arl == pytest.approx(1 / (1 / up + 1 / down), rel=1e-9)


@pytest.mark.parametrize("shift", [0, 0.4, 2])
def test_head_starts_combine_as_published(shift: float) -> None:
    # Lucas & Crosier (1982): both sums from u, with the lengths from u and from 0 of each side
    plan = {"reference": 0.5, "decision": 5, "sides": "one"}
    up, down = (cusum_run_length(way * shift, **plan).arl for way in (1, -1))
    up_u, down_u = (cusum_run_length(way * shift, head_start=2.5, **plan).arl for way in (1, -1))
    both = (up_u * down + up * down_u - up * down) / (up + down)
    assert cusum_run_length(shift, head_start=2.5).arl == pytest.approx(both, rel=1e-9)


@pytest.mark.parametrize("reference", [0, 0.5, 2, 4])
def test_a_decision_near_0_is_a_chart_of_single_points(reference: float) -> None:
    run = cusum_run_length(0, reference=reference, decision=1e-9)
    beyond = 2 * ndtr(-reference - 1e-9)
    assert run.arl == pytest.approx(1 / beyond, rel=1e-8)
    assert run.sdrl == pytest.approx(np.sqrt(1 - beyond) / beyond, rel=1e-7, abs=1e-7)


@pytest.mark.parametrize(("reference", "decision", "shift"), [
    (0.01, 60, 0), (0, 20, 0), (0.5, 12, 0), (0.25, 20, 0.1), (3, 1, 0), (0.5, 5, 8)])
@pytest.mark.parametrize("sides", ["one", "two"])
def test_more_nodes_change_nothing(monkeypatch, reference, decision, shift, sides) -> None:
    plan = {"reference": reference, "decision": decision, "sides": sides}
    usual = cusum_run_length(shift, **plan)
    nodes = cusum.nodes_for
    monkeypatch.setattr(cusum, "nodes_for", lambda length: int(1.4 * nodes(length)) + 5)
    finer = cusum_run_length(shift, **plan)
    assert usual.arl == pytest.approx(finer.arl, rel=1e-8)
    assert usual.sdrl == pytest.approx(finer.sdrl, rel=1e-8, abs=1e-7)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("state", ["zero", "steady"])
@pytest.mark.parametrize("sides", ["one", "two"])
def test_a_shift_beyond_all_bounds_ends_the_run_at_once(sides: str, state: str) -> None:
    for shift in (60, 1e6):
        run = cusum_run_length(shift, sides=sides, state=state, head_start=4.5)
        assert (run.arl, run.sdrl) == pytest.approx((1, 0), abs=1e-8)
        assert {one.points for one in run.percentiles} == {1}


@pytest.mark.parametrize("sides", ["one", "two"])
def test_siegmund_is_near(sides: str) -> None:
    for reference, decision, shift in [(0.5, 5, 0), (0.5, 5, 0.5), (0.25, 8, 1), (0.5, 4, 0.7)]:
        plan = {"reference": reference, "decision": decision, "sides": sides}
        assert siegmund_arl(shift, **plan) == pytest.approx(
            cusum_run_length(shift, **plan).arl, rel=0.03)


@pytest.mark.parametrize(("arl", "given"), [
    (370, {}), (1e6, {"reference": 0.25}), (200, {"head_start": 2.0}), (5, {"reference": 0.1}),
    (1e8, {"reference": 1.0}), (500, {"sides": "one", "state": "steady"}), (50, {"reference": 0}),
    (370, {"head_start": 4.0, "reference": 0.5}), (2.5, {"reference": 0.0, "sides": "one"})])
def test_the_decision_found_gives_the_run_length_wanted(arl, given) -> None:
    decision = cusum_decision(arl, **given)
    assert cusum_run_length(0, decision=decision, **given).arl == pytest.approx(arl, rel=1e-7)


def test_run_lengths_too_long_to_be_told() -> None:
    run = cusum_run_length(0, decision=40)
    assert np.isnan(run.arl)
    assert all(np.isnan(one.points) for one in run.percentiles)
    assert run.cautions == (Caution.TOO_LONG,)
    assert cusum_run_length(0, decision=22).cautions == (Caution.FEW_DIGITS,)


@pytest.mark.parametrize(("given", "message"), [
    ({"shift": np.nan}, "shift is nan; it must be a finite number"),
    ({"reference": -0.1}, "reference is -0.1; it must be a finite number, 0 and up"),
    ({"reference": np.inf}, "reference is inf; it must be a finite number, 0 and up"),
    ({"decision": 0}, "decision is 0; it must be a finite number above 0"),
    ({"decision": 1000}, "decision is 1000; it must be at most 200"),
    ({"head_start": 5}, "head_start is 5; it must be from 0 to below the decision, 5"),
    ({"head_start": -1}, "head_start is -1; it must be from 0"),
    ({"sides": "upper"}, "sides is 'upper'; allowed: two, one"),
    ({"state": "warm"}, "state is 'warm'; allowed: zero, steady"),
])
def test_wrong_arguments_are_named(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        cusum_run_length(**{"shift": 0.0, **given})


@pytest.mark.parametrize(("arl", "given", "message"), [
    (0.5, {}, "arl is 0.5; it must be a number above 1"),
    (1.2, {"reference": 0.5}, "arl is 1.2; with this reference and head start it is at least 1.62"),
    (3, {"head_start": 5.0}, "arl is 3; with this reference and head start it is at least"),
    (1e9, {"reference": 0.0}, r"arl is 1e\+09; it would need a decision above 200"),
    (370, {"sides": "both"}, "sides is 'both'; allowed: two, one"),
    (370, {"state": "both"}, "state is 'both'; allowed: zero, steady"),
    (370, {"head_start": np.nan}, "head_start is nan; it must be a finite number, 0 and up"),
])
def test_a_wish_that_cannot_be_met_is_named(arl, given, message) -> None:
    with pytest.raises(ValueError, match=message):
        cusum_decision(arl, **given)
