from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from qc.stats.charts.chart import names_of
from qc.stats.charts.rules import RULE_SETS, RuleSet, pattern_signals, rule_set
from qc.stats.runlength import automata, shewhart
from qc.stats.runlength.shewhart import shewhart_run_length, shewhart_width
from tests.qc.stats.runlength.agreeing import agrees_with
from tests.reference.run_lengths import Rules, orders_arl, simulated, simulated_in_use

NELSON = {"two_of_three": True, "four_of_five": True, "one_side": 9, "trend": 6,
          "alternating": 14, "stratification": 15, "mixture": 8}
WESTERN_ELECTRIC = {"two_of_three": True, "four_of_five": True, "one_side": 8}
SHORT = {"trend": 4, "alternating": 5, "stratification": 6, "mixture": 4}
N = 10_000


def _points(shift: float, seed: int):
    rng = np.random.default_rng(seed)
    return lambda n: rng.normal(shift, 1, n)


def _alone(**rule) -> RuleSet:
    return RuleSet(name="own", **rule)


@pytest.mark.parametrize("shift", [0, 0.8, -2, 3])
@pytest.mark.parametrize("rules", [NELSON, WESTERN_ELECTRIC, SHORT])
def test_simulated_from_the_start(shift: float, rules) -> None:
    run = shewhart_run_length(shift, rules=_alone(**rules))
    agrees_with(run, simulated(Rules(N, **rules), N, _points(shift, 11)))


@pytest.mark.parametrize("shift", [0, 1.5, -1])
@pytest.mark.parametrize("rules", [NELSON, WESTERN_ELECTRIC, SHORT])
def test_simulated_after_long_use(shift: float, rules) -> None:
    n, before = (20 * N, 16) if rules is SHORT else (3 * N, 40)
    slow = simulated_in_use(Rules(n, **rules), n, calm=_points(0, 12),
                            changed=_points(shift, 13), before=before)
    agrees_with(shewhart_run_length(shift, rules=_alone(**rules), state="steady"), slow)


@pytest.mark.parametrize(("rule", "limit"), [
    ({"mixture": 5}, 4.0), ({"trend": 5}, 2.5), ({"alternating": 6}, 2.0),
    ({"stratification": 7}, 0.9), ({"two_of_three": True, "trend": 4}, 1.5)])
def test_limits_anywhere_among_the_lines_of_the_rules(rule, limit) -> None:
    slow = simulated(Rules(N, limit=limit, **rule), N, _points(0.6, 14))
    agrees_with(shewhart_run_length(0.6, rules=_alone(**rule), width=limit), slow)


@pytest.mark.parametrize("rule", [{"trend": 6}, {"trend": 3}, {"alternating": 14},
                                  {"alternating": 5}, {"trend": 5, "alternating": 8}])
def test_ups_and_downs_are_counted_orders(rule) -> None:
    # whatever the distribution: orders of n values without the pattern, counted one by one
    for shift in (0, 2):
        run = shewhart_run_length(shift, rules=_alone(**rule), width=np.inf)
        assert run.arl == pytest.approx(orders_arl(**rule), rel=1e-9)


@pytest.mark.parametrize("length", [3, 8, 15])
def test_runs_in_closed_form(length: int) -> None:
    # Feller (1968), An Introduction to Probability Theory I, XIII.7: wait for r successes in a row
    def wait(p: float) -> float:
        return (1 - p**length) / ((1 - p) * p**length)

    near = shewhart_run_length(0, rules=_alone(stratification=length), width=np.inf)
    assert near.arl == pytest.approx(wait(1 - 2 * ndtr(-1)), rel=1e-10)
    side = shewhart_run_length(0, rules=_alone(one_side=length), width=np.inf)
    assert side.arl == pytest.approx(2**length - 1, rel=1e-10)
    # of runs of either of two kinds the reciprocals add up
    shifted = shewhart_run_length(0.4, rules=_alone(one_side=length), width=np.inf)
    assert shifted.arl == pytest.approx(
        1 / (1 / wait(ndtr(0.4)) + 1 / wait(ndtr(-0.4))), rel=1e-10)


def test_two_of_three_beyond_one_line_in_closed_form() -> None:
    # chance b above and as much below: states after one above (and nothing below before, ...)
    # solved by hand for a shift so large that nothing lies below: 2 of 3 of one kind
    b = float(ndtr(4.0))
    run = shewhart_run_length(6, rules=_alone(two_of_three=True), width=np.inf)
    a = 1 - b
    # E = 1 + a E + b F,  F = 1 + a G (last but one above),  G = 1 + a E
    e = (1 + b + a * b) / (1 - a - a * a * b)
    assert run.arl == pytest.approx(e, rel=1e-10)


def test_signals_of_the_chart_itself_end_the_runs() -> None:
    # share of long stretches without any signal of the chart, against the chain's own
    rng, rules = np.random.default_rng(15), rule_set("nelson")
    z = rng.normal(0.5, 1, (400, 60))
    patterns = np.array([pattern_signals(row, rules) != 0 for row in z]) | (np.abs(z) > 3)
    lengths = np.where(patterns.any(axis=1), patterns.argmax(axis=1) + 1, 61)
    run = shewhart_run_length(0.5, rules="nelson")
    for one in run.percentiles:
        if one.points < 60:
            error = 4 * np.sqrt(one.share * (1 - one.share) / len(z))
            assert (lengths <= one.points).mean() > one.share - error
            assert (lengths <= one.points - 1).mean() < one.share + error


@pytest.mark.parametrize("n_more", [2, 6])
def test_more_nodes_change_nothing(monkeypatch, n_more: int) -> None:
    wanted = [(s, r, state) for s in (0, 1.3, 4) for state in ("zero", "steady")
              for r in ("nelson", "trend", "alternating,mixture")]
    usual = [shewhart_run_length(s, rules=r, state=state).arl for s, r, state in wanted]
    nodes = shewhart.nodes_for_zones
    monkeypatch.setattr(shewhart, "nodes_for_zones", lambda *given: nodes(*given) + n_more)
    finer = [shewhart_run_length(s, rules=r, state=state).arl for s, r, state in wanted]
    assert usual == pytest.approx(finer, rel=1e-7)


@pytest.mark.parametrize("rules", ["trend=4", "nelson", "alternating=5,mixture=3"])
@pytest.mark.parametrize("state", ["zero", "steady"])
def test_more_zones_change_nothing(monkeypatch, rules: str, state: str) -> None:
    # a value keeps its height when the mean moves on, wherever zones begin and end
    usual = [shewhart_run_length(s, rules=rules, state=state).arl for s in (-1.3, 0, 0.5, 2.5)]
    edges = shewhart.edges
    monkeypatch.setattr(shewhart, "edges",
                        lambda *given: np.union1d(edges(*given), [-1.4, -0.3, 0.6, 2.3]))
    finer = [shewhart_run_length(s, rules=rules, state=state).arl for s in (-1.3, 0, 0.5, 2.5)]
    assert usual == pytest.approx(finer, rel=1e-8)


def test_where_every_point_signals_the_run_is_one_point() -> None:
    run = shewhart_run_length(50)
    assert (run.arl, run.sdrl) == (1, 0)
    assert {one.points for one in run.percentiles} == {1}


@pytest.mark.parametrize(("width", "shift"), [(3, 0), (3, 1.5), (0.5, 0), (6, 0), (7, -0.5)])
def test_limits_alone_are_geometric(width: float, shift: float) -> None:
    run = shewhart_run_length(shift, width=width)
    share = ndtr(-width - shift) + ndtr(shift - width)
    assert run.arl == pytest.approx(1 / share, rel=1e-12)
    assert run.sdrl == pytest.approx(np.sqrt(1 - share) / share, rel=1e-12)
    for one in run.percentiles:
        n = one.points
        assert -np.expm1(n * np.log1p(-share)) >= one.share * (1 - 1e-12)
        assert n == 1 or -np.expm1((n - 1) * np.log1p(-share)) < one.share


def test_known_sets_in_control() -> None:
    # Champ & Woodall (1987): the four tests of Western Electric together 91.75; each rule that is
    # added shortens the run
    assert shewhart_run_length(0, rules="western-electric").arl == pytest.approx(91.75, abs=0.005)
    names, last = [], shewhart_run_length(0).arl
    for name in RULE_SETS["nelson"].patterns:
        names.append(name)
        run = shewhart_run_length(0, rules=",".join(names)).arl
        assert run < last
        last = run
    assert last == pytest.approx(shewhart_run_length(0, rules="nelson").arl, rel=1e-12)


@pytest.mark.parametrize(("arl", "rules", "state"), [
    (370, "limits", "zero"), (1e9, "limits", "zero"), (91, "western-electric", "zero"),
    (100, "trend", "zero"), (100, "trend", "steady"), (60, "nelson", "zero")])
def test_the_width_found_gives_the_run_length_wanted(arl, rules, state) -> None:
    width = shewhart_width(arl, rules=rules, state=state)
    assert shewhart_run_length(0, rules=rules, width=width, state=state).arl == pytest.approx(
        arl, rel=1e-7)
    if rules == "limits":
        assert width == pytest.approx(-ndtri(0.5 / arl), rel=1e-12)


@pytest.mark.parametrize(("given", "message"), [
    ({"shift": np.inf}, "shift is inf; it must be a finite number"),
    ({"width": 0}, "width is 0; it must be above 0"),
    ({"width": np.nan}, "width is nan; it must be above 0"),
    ({"width": np.inf}, "width is inf; without limits there must be a rule"),
    ({"rules": "all"}, "rules is 'all'; allowed: limits, western-electric, nelson"),
    ({"state": "hot"}, "state is 'hot'; allowed: zero, steady"),
])
def test_wrong_arguments_are_named(given, message) -> None:
    with pytest.raises(ValueError, match=message):
        shewhart_run_length(**{"shift": 0.0, **given})


def test_without_long_use_there_is_no_steady_state() -> None:
    # inside limits of half a sigma every point is within 1 sigma: the sixth in a row signals
    rules = _alone(stratification=6)
    run = shewhart_run_length(0, rules=rules, width=0.5)
    p = 1 - 2 * ndtr(-0.5)
    assert run.arl == pytest.approx((1 - p**6) / (1 - p), rel=1e-12)
    with pytest.raises(ValueError, match="state is 'steady'; but with these limits and rules no"):
        shewhart_run_length(0, rules=rules, width=0.5, state="steady")


@pytest.mark.parametrize("state", ["zero", "steady"])
def test_shares_that_swing_to_and_fro(state: str) -> None:
    # with three in a row up or down as a signal, runs go on only up and down in turn
    rules = _alone(trend=3, stratification=3)
    points = _points(1.5, 16)
    if state == "zero":
        slow = simulated(Rules(20 * N, trend=3, stratification=3, limit=2.2), 20 * N, points)
    else:
        slow = simulated_in_use(Rules(100 * N, trend=3, stratification=3, limit=2.2), 100 * N,
                                calm=_points(0, 17), changed=points, before=9)
    agrees_with(shewhart_run_length(1.5, rules=rules, width=2.2, state=state), slow)


def test_rules_that_remember_too_much_are_refused(monkeypatch) -> None:
    monkeypatch.setattr(automata, "MOST_STATES", 1000)
    with pytest.raises(ValueError, match="rules remember too much for their run length"):
        shewhart_run_length(0, rules="nelson,one_side=9", width=2.999)


@pytest.mark.parametrize(("arl", "given", "message"), [
    (1, {}, "arl is 1; it must be a number above 1"),
    (500, {"rules": "trend"}, "arl is 500; with these rules it is below 421.599, however wide"),
    (3e9, {}, r"arl is 3e\+09; it must be a number above 1 and up to"),
])
def test_a_wish_that_cannot_be_met_is_named(arl, given, message) -> None:
    with pytest.raises(ValueError, match=message):
        shewhart_width(arl, **given)


def test_every_rule_is_known_to_the_run_lengths() -> None:
    # a rule added to the charts must not silently be left out here
    for name in RULE_SETS["nelson"].patterns:
        alone = shewhart_run_length(0, rules=name)
        assert alone.arl < shewhart_run_length(0).arl
    assert names_of(255)[1:] == RULE_SETS["nelson"].patterns
