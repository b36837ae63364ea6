from __future__ import annotations

import re
import tracemalloc

import numpy as np
import pytest

from qc.stats import blocks
from qc.stats.charts.chart import SIGNALS, Caution, bit, names_of
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.laney import p_prime_chart
from qc.stats.charts.rules import (
    PATTERNS,
    RECOMMENDED,
    RULE_SETS,
    pattern_signals,
    patterns_on,
    rule_set,
)
from qc.stats.charts.shewhart_counts import p_chart, u_chart
from tests.published import case
from tests.reference.rules import NELSON, WESTERN_ELECTRIC, marked

CODES = {
    "N1": "outside_limits", "N2": "one_side", "N3": "trend", "N4": "alternating",
    "N5": "two_of_three", "N6": "four_of_five", "N7": "stratification", "N8": "mixture",
    "WE1": "outside_limits", "WE2": "two_of_three", "WE3": "four_of_five", "WE4": "one_side=8",
}
SEQUENCES = case("runs_rules")["rule_sequences"]


def _signalled(z, rules: str, name: str) -> list[int]:
    main = individuals_chart(z, centre=0, sigma=1, rules=rules).charts[0]
    return main.signalled(name.partition("=")[0]).tolist()


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda s: s["id"])
def test_rules_together_signal_where_worked_out(sequence) -> None:
    for prefix, rules in (("N", "nelson"), ("WE", "western-electric")):
        codes = {code: name for code, name in CODES.items() if code.strip("12345678") == prefix}
        found = {code: _signalled(sequence["z"], rules, name) for code, name in codes.items()}
        assert found == {code: sequence["all_rules"][code] for code in codes}


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda s: s["id"])
def test_each_rule_alone_signals_where_worked_out(sequence) -> None:
    found = {code: _signalled(sequence["z"], name, name) for code, name in CODES.items()}
    assert found == {code: sequence["all_rules"][code] for code in CODES}


def test_the_hand_worked_signals_agree_with_the_listed_ones() -> None:
    for sequence in SEQUENCES:
        for code, at in sequence["hand_expected"].items():
            assert sequence["all_rules"][code] == at


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda s: s["id"])
def test_mixture_needs_both_sides(sequence) -> None:
    # the reading without both sides differs from ours in at least one sequence
    assert set(_signalled(sequence["z"], "nelson", "mixture")) <= set(
        sequence["all_rules"]["N8_any"])


def _rich_in_patterns(seed: int) -> np.ndarray:
    # steps of a half and a spread of patterns, so that points on lines and ties are common
    rng = np.random.default_rng(seed)
    return np.round(np.concatenate([
        rng.normal(0, 1.4, 300), rng.normal(0, 0.3, 60), np.cumsum(rng.choice([-0.5, 0.5], 80)) / 2,
        rng.choice([-1.5, 1.5], 60), np.tile([0.5, -0.5], 20),
    ]) * 2) / 2


@pytest.mark.parametrize(("rules", "points"), [
    ("nelson", NELSON), ("western-electric", WESTERN_ELECTRIC),
    ("one_side=7, trend=7, alternating=5, stratification=12, mixture=4",
     {"one_side": 7, "trend": 7, "alternating": 5, "stratification": 12, "mixture": 4}),
    ("one_side=3,trend=3,alternating=3,stratification=3,mixture=3",
     {"one_side": 3, "trend": 3, "alternating": 3, "stratification": 3, "mixture": 3}),
    ("western-electric,trend", WESTERN_ELECTRIC | {"trend": 6}),
    ("outside_limits,two_of_three", {"two_of_three": 3}),
])
@pytest.mark.parametrize("seed", range(4))
def test_rules_agree_with_a_look_at_every_point(rules, points, seed) -> None:
    z = _rich_in_patterns(seed)
    chart = individuals_chart(z, centre=0, sigma=1, rules=rules).charts[0]
    wanted = marked(z.tolist(), points)
    assert [set(names_of(byte)) for byte in chart.signals] == wanted
    assert len(set().union(*wanted)) >= min(4, len(points) + 1)


@pytest.mark.parametrize("block", [1, 2, 14, 15, 64, 539, 540, 541])
def test_the_size_of_a_block_shows_nowhere(monkeypatch, block: int) -> None:
    z = _rich_in_patterns(9)
    sigma = np.linspace(0.5, 2, len(z))
    whole = patterns_on(z, 0.25, sigma, RULE_SETS["nelson"])
    monkeypatch.setattr(blocks, "BLOCK", block)
    np.testing.assert_array_equal(patterns_on(z, 0.25, sigma, RULE_SETS["nelson"]), whole)


def test_a_long_series_needs_little_memory_beside_its_signals() -> None:
    value = np.random.default_rng(0).normal(size=1_000_000)
    tracemalloc.start()
    patterns_on(value, 0.0, 1.0, RULE_SETS["nelson"])
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 0.6 * value.nbytes


def test_only_limits_marks_no_pattern() -> None:
    z = np.r_[np.full(40, 2.5), 3.5]
    chart = individuals_chart(z, centre=0, sigma=1).charts[0]
    assert chart.signalled().tolist() == [41]
    assert set(np.unique(chart.signals)) == {0, 1}


@pytest.mark.parametrize("n", range(8))
def test_short_series_complete_no_long_pattern(n: int) -> None:
    signals = pattern_signals(np.full(n, 0.5), RULE_SETS["nelson"])
    assert len(signals) == n
    assert not signals.any()


def test_turning_a_chart_over_keeps_its_signals() -> None:
    z = np.random.default_rng(3).normal(0, 1.3, 500)
    both = [pattern_signals(side, RULE_SETS["nelson"]) for side in (z, -z)]
    np.testing.assert_array_equal(*both)


def test_means_equal_but_for_rounding_are_no_step() -> None:
    # the same three values in another order: their mean may differ in its last bit
    there, back = sum([0.1, 0.2, 0.3]) / 3, sum([0.3, 0.2, 0.1]) / 3
    assert there != back
    z = np.array([-3.0, -2.0, -1.0, back, there, 1.0, 2.0])
    assert not pattern_signals(z, rule_set("trend")).any()
    assert not pattern_signals(-z, rule_set("trend")).any()


def test_no_variation_gives_no_step_between_points_off_the_line() -> None:
    value = np.r_[np.zeros(5), np.arange(1.0, 9)]
    found = patterns_on(value, 0.0, 0.0, rule_set("trend,one_side=8"))
    assert (np.flatnonzero(found & bit("one_side")) + 1).tolist() == [13]
    assert not (found & bit("trend")).any()


def test_a_rule_set_says_what_it_looks_for_and_how_far_back() -> None:
    assert RULE_SETS["limits"].in_words() == {"outside_limits": "a point beyond a control limit"}
    own = rule_set("one_side=7,two_of_three")
    assert own.patterns == ("two_of_three", "one_side")
    assert own.in_words()["one_side"] == "7 points in a row on one side of the centre line"
    assert set(RULE_SETS["nelson"].in_words()) == set(SIGNALS)
    assert (own.reach, RULE_SETS["nelson"].reach, RULE_SETS["limits"].reach) == (6, 14, 0)


@pytest.mark.parametrize(("rules", "source"), [
    ("one_side", r"^rules: Nelson \(1984\)[^;]*$"),
    ("one_side=7", r"Nelson.*but one_side=7$"),
    ("western-electric,trend", r"Western Electric.*; rules: Nelson"),
    ("outside_limits", "^$"),
])
def test_single_rules_name_their_source(rules: str, source: str) -> None:
    assert re.search(source, rule_set(rules).source)


def test_the_rules_that_suit_a_chart_are_known_rules() -> None:
    for kind, suiting in RECOMMENDED.items():
        assert "outside_limits" in suiting, kind
        assert suiting <= set(SIGNALS), kind
    # Nelson (1984): tests 1 to 4 on charts of ranges and of counts
    assert RECOMMENDED["p"] == {CODES[f"N{k}"] for k in (1, 2, 3, 4)}


@pytest.mark.parametrize(("rules", "said"), [
    ("nelson", True), ("western-electric", True), ("stratification", True),
    ("limits", False), ("one_side,trend,alternating", False),
])
@pytest.mark.parametrize("make", [p_chart, u_chart, p_prime_chart])
def test_rules_that_do_not_suit_counts_are_applied_and_said(make, rules: str, said: bool) -> None:
    counts = np.random.default_rng(2).binomial(200, 0.1, 30)
    chart = make(counts, np.full(30, 200), rules=rules)
    assert (Caution.RULES_FOR_OTHERS in chart.cautions) is said
    z = (counts / 200 - chart.charts[0].centre) / (chart.charts[0].upper - chart.charts[0].centre)
    np.testing.assert_array_equal(chart.charts[0].signals & ~np.uint8(1),
                                  pattern_signals(3 * z, rule_set(rules)))


@pytest.mark.parametrize(("rules", "message"), [
    ("all", "rules is 'all'; allowed: limits, western-electric, nelson, or any of two_of_three"),
    ("", "rules is ''; allowed: limits"),
    ("trend,,one_side", "joined by commas, not ''"),
    ("limits=3", "not 'limits=3'"),
    ("trend=2", r"rules has trend=2; allowed: a whole number of points, 3\.\.100"),
    ("trend=101", r"allowed: a whole number of points, 3\.\.100"),
    ("trend=", "rules has trend=; allowed"),
    ("trend=²", "rules has trend=²; allowed"),
    ("two_of_three=4", "rules has two_of_three=4; its counts are in its name"),
    ("nelson,western-electric", "it has one_side with 9 and with 8 points: give it once"),
])
def test_a_rule_that_cannot_be_is_named_with_what_can(rules: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        rule_set(rules)


def test_every_pattern_can_be_switched_on_alone() -> None:
    for name in PATTERNS:
        assert rule_set(name).patterns == (name,)
        assert getattr(rule_set(name), name) == getattr(RULE_SETS["nelson"], name)
