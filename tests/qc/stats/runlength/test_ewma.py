from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr

from qc.stats.runlength import ewma
from qc.stats.runlength.ewma import ewma_run_length, ewma_width
from qc.stats.runlength.result import SHARES, Caution
from qc.stats.runlength.shewhart import shewhart_run_length
from tests.qc.stats.runlength.agreeing import agrees_with
from tests.reference.run_lengths import Ewma, ewma_chain_arl, simulated, simulated_in_use

N = 20_000


def _points(shift: float, seed: int):
    rng = np.random.default_rng(seed)
    return lambda n: rng.normal(shift, 1, n)


@pytest.mark.parametrize(("shift", "exact"), [(0, False), (1, False), (0, True), (1, True),
                                              (-0.5, True)])
def test_simulated_from_the_start(shift: float, exact: bool) -> None:
    chart = Ewma(N, weight=0.1, width=2.4, exact=exact)
    run = ewma_run_length(shift, weight=0.1, width=2.4, limits="exact" if exact else "steady")
    agrees_with(run, simulated(chart, N, _points(shift, 1)))


@pytest.mark.parametrize("shift", [0, 1, -2])
def test_simulated_after_long_use(shift: float) -> None:
    slow = simulated_in_use(Ewma(2 * N, weight=0.15, width=2.3), 2 * N, calm=_points(0, 2),
                            changed=_points(shift, 3), before=60)
    agrees_with(ewma_run_length(shift, weight=0.15, width=2.3, state="steady"), slow)


@pytest.mark.parametrize(("shift", "weight", "width"), [
    (0, 0.1, 2.7), (0.5, 0.25, 3), (1, 0.5, 2.5), (2, 0.05, 2.5), (0, 0.9, 2)])
def test_a_plain_chain_in_the_limit_of_many_states(shift, weight, width) -> None:
    # its error falls with the square of the step: two chains give the limit (Richardson)
    coarse, fine = (ewma_chain_arl(shift, weight=weight, width=width, n_states=n)
                    for n in (301, 603))
    ratio = (603 / 301) ** 2
    limit = (ratio * fine - coarse) / (ratio - 1)
    assert ewma_run_length(shift, weight=weight, width=width).arl == pytest.approx(limit, rel=2e-6)


@pytest.mark.parametrize("width", [0.5, 2, 3, 4, 5, 5.5])
@pytest.mark.parametrize("limits", ["exact", "steady"])
def test_with_weight_1_it_is_a_chart_of_the_points(width: float, limits: str) -> None:
    run = ewma_run_length(0.3, weight=1, width=width, limits=limits)
    alone = shewhart_run_length(0.3, width=width)
    assert run.arl == pytest.approx(alone.arl, rel=1e-8)
    assert run.sdrl == pytest.approx(alone.sdrl, rel=1e-8)
    assert [one.points for one in run.percentiles] == pytest.approx(
        [one.points for one in alone.percentiles], rel=1e-6)


@pytest.mark.parametrize(("weight", "width", "shift"), [
    (0.01, 4.5, 0), (0.01, 0.05, 0), (0.05, 4.2, 0.1), (0.2, 4.9, 0), (0.5, 5, 0), (0.9, 3, 8)])
@pytest.mark.parametrize("limits", ["exact", "steady"])
def test_more_nodes_change_nothing(monkeypatch, weight, width, shift, limits) -> None:
    # averages up to two million, the smallest weights, limits near the centre line
    usual = ewma_run_length(shift, weight=weight, width=width, limits=limits)
    nodes = ewma.nodes_for
    monkeypatch.setattr(ewma, "nodes_for", lambda length: int(1.4 * nodes(length)) + 5)
    finer = ewma_run_length(shift, weight=weight, width=width, limits=limits)
    assert usual.arl == pytest.approx(finer.arl, rel=1e-9)
    assert usual.sdrl == pytest.approx(finer.sdrl, rel=1e-8, abs=1e-7)


def test_exact_limits_signal_sooner_and_come_to_the_same() -> None:
    for shift in (0, 0.5, 2):
        exact, steady = (ewma_run_length(shift, weight=0.1, limits=limits)
                         for limits in ("exact", "steady"))
        assert exact.arl < steady.arl
    in_use = [ewma_run_length(1, weight=0.1, limits=limits, state="steady").arl
              for limits in ("exact", "steady")]
    assert in_use[0] == in_use[1]


def test_in_control_after_long_use_the_run_length_is_geometric() -> None:
    run = ewma_run_length(0, weight=0.1, width=2.5, state="steady")
    assert run.sdrl == pytest.approx(np.sqrt(run.arl * (run.arl - 1)), rel=1e-10)
    for one in run.percentiles:
        assert one.points == np.ceil(np.log(1 - one.share) / np.log(1 - 1 / run.arl))


def test_the_first_point_decides_a_large_shift() -> None:
    # with weight 0.2 and width 3 the first point signals beyond 5 sigma: limit 1, 0.2 x > 1
    run = ewma_run_length(8)
    assert run.arl == pytest.approx(1 + ndtr(5 - 8), abs=2e-4)
    assert run.percentiles[0].points == 1
    assert [one.share for one in run.percentiles] == list(SHARES)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("limits", ["exact", "steady"])
def test_a_shift_beyond_all_bounds_ends_the_run_at_once(limits: str) -> None:
    for shift in (60, 1e6):
        run = ewma_run_length(shift, limits=limits)
        assert (run.arl, run.sdrl) == (1, 0)
        assert {one.points for one in run.percentiles} == {1}


@pytest.mark.parametrize(("arl", "weight", "limits", "state"), [
    (1.5, 0.2, "steady", "zero"), (200, 0.1, "exact", "zero"), (1e6, 0.05, "steady", "zero"),
    (500, 0.3, "steady", "steady"), (370, 0.01, "steady", "zero"), (2e8, 0.5, "steady", "zero")])
def test_the_width_found_gives_the_run_length_wanted(arl, weight, limits, state) -> None:
    width = ewma_width(arl, weight=weight, limits=limits, state=state)
    run = ewma_run_length(0, weight=weight, width=width, limits=limits, state=state)
    assert run.arl == pytest.approx(arl, rel=1e-7)


def test_run_lengths_too_long_to_be_told() -> None:
    assert ewma_run_length(0, weight=0.5, width=6.5).cautions == (Caution.FEW_DIGITS,)
    run = ewma_run_length(0, weight=0.5, width=9)
    assert np.isnan(run.arl)
    assert run.cautions == (Caution.TOO_LONG,)


@pytest.mark.parametrize(("given", "message"), [
    ({"shift": np.nan}, "shift is nan; it must be a finite number"),
    ({"shift": np.inf}, "shift is inf; it must be a finite number"),
    ({"weight": 0}, r"weight is 0; it must be inside \(0, 1\]"),
    ({"weight": 1.1}, r"weight is 1.1; it must be inside \(0, 1\]"),
    ({"weight": np.nan}, r"weight is nan; it must be inside \(0, 1\]"),
    ({"weight": 1e-6}, "weight is 1e-06 with width 3; too small a weight"),
    ({"weight": 0.002, "limits": "exact"}, "weight is 0.002; with exact limits it must be from"),
    ({"width": 0}, "width is 0; it must be a finite number above 0"),
    ({"width": np.inf}, "width is inf; it must be a finite number above 0"),
    ({"limits": "narrow"}, "limits is 'narrow'; allowed: exact, steady"),
    ({"state": "cold"}, "state is 'cold'; allowed: zero, steady"),
])
def test_wrong_arguments_are_named(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        ewma_run_length(**{"shift": 0.0, **given})


@pytest.mark.parametrize(("arl", "given", "message"), [
    (1, {}, "arl is 1; it must be a number above 1 and up to"),
    (np.nan, {}, "arl is nan; it must be a number above 1"),
    (1e10, {}, r"arl is 1e\+10; it must be a number above 1"),
    (500, {"weight": 2}, "weight is 2; it must be inside"),
    (500, {"limits": "x"}, "limits is 'x'; allowed: exact, steady"),
])
def test_a_wish_that_cannot_be_met_is_named(arl, given, message) -> None:
    with pytest.raises(ValueError, match=message):
        ewma_width(arl, **given)
