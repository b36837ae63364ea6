"""The comparison that settles it is one that a shop can make, and its verdict is right."""

import itertools
from dataclasses import replace

import pytest
from scipy.stats import binom

from qc.domain.flags import FACTORS, FactorShare
from qc.monitor.settling import OUTER, comparison, pieces_needed, settle
from tests.qc.monitor.test_chains import finding

LEVELS = {
    "location": ("left_chest", "back"), "zone": ("bottom_left", "top"),
    "time_since_start": ("first hour", "later"), "shop": (None, None),
}
PAIRS = [
    *itertools.permutations(FACTORS, 2),
    *((name, name) for name in FACTORS if name != "shop"),
]


def share(name, which=0, weight=0.5):
    return FactorShare(name=name, level=LEVELS.get(name, ("A1", "B2"))[which], weight=weight)


def between(first, second, **more):
    return replace(
        finding(more.pop("kind", "defect_rate"), more.pop("characteristic", "lifted_edge"), **more),
        factor=first, other_factors=(replace(second, weight=0.4),),
    )


def pair(a, b):
    return share(a), share(b, which=1)


def trial_pieces(trial):
    """What holds of the trial's pieces: the kept level is there, the changed one is not.

    Whoever changes an outer factor changes the inner one with it, and the shop stays the shop.
    """
    there = {(trial.kept.name, trial.kept.level): True,
             (trial.changed.name, trial.changed.level): False, ("shop", None): True}
    inner = [name for name, outer in OUTER.items() if outer == trial.changed.name]
    return there, inner


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_every_pair_has_a_trial_that_can_be_made(a, b):
    trial = comparison(*pair(a, b))
    if trial.side_by_side:
        assert a == b
        return
    _, gone_too = trial_pieces(trial)
    assert trial.kept.name not in gone_too  # a lot cannot stay when its transfer is changed
    assert trial.changed.name != "shop"
    assert {trial.changed.name, trial.kept.name} == {a, b}


@pytest.mark.parametrize(("a", "b"), PAIRS)
@pytest.mark.parametrize("guilty", [0, 1])
def test_the_verdict_names_the_guilty_one(a, b, guilty):
    """Played through: a fault comes wherever the guilty level is at work."""
    suspects = pair(a, b)
    trial = comparison(*suspects)
    if trial.side_by_side:
        return
    cause = suspects[guilty]
    there, _ = trial_pieces(trial)
    fault_comes = there[(cause.name, cause.level)]
    assert (trial.kept if fault_comes else trial.changed) == cause


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_every_pair_has_one_sentence_naming_both(a, b):
    first, second = pair(a, b)
    said = settle(between(first, second))
    assert said.startswith("To tell them apart, ")
    assert said.endswith(".") and said.count(". ") == 0
    assert "None" not in said and "{" not in said
    for one in (first, second):
        assert (one.level or "whole shop").replace("_", " ") in said or (
            {a, b} == {"press", "operator"})
    assert "same press" not in said or "station" in (a, b)


@pytest.mark.parametrize(("a", "b"), PAIRS)
def test_the_order_of_the_suspects_does_not_matter(a, b):
    first, second = pair(a, b)
    one, other = comparison(first, second), comparison(second, first)
    assert {one.kept, one.changed} == {other.kept, other.changed}
    assert one.side_by_side or one == other


def test_a_lot_is_told_from_its_transfer_by_another_lot_of_it():
    lot = FactorShare(name="transfer_lot", level="T-044", weight=0.6)
    said = settle(between(lot, FactorShare(name="transfer", level="CUT", weight=0.4)))
    assert said == (
        "To tell them apart, press at least 400 pieces with another lot of transfer CUT: 8 or more "
        "with the fault point to transfer CUT, else transfer lot T-044."
    )


def test_a_press_is_told_from_its_person_by_swapping_either():
    said = settle(between(FactorShare(name="press", level="P3", weight=0.5),
                          FactorShare(name="operator", level="Ana", weight=0.4)))
    assert "let another person work press P3, or operator Ana another press" in said
    assert "stayed with its cause" in said


def test_a_cold_start_is_told_from_its_press_by_waiting():
    cold = FactorShare(name="time_since_start", level="P3, first 15 min", weight=0.5)
    said = settle(between(cold, FactorShare(name="press", level="P3", weight=0.4)))
    assert "with the press warmed through on press P3: 8 or more" in said
    assert said.endswith("point to press P3, else the first 15 min after a start on press P3.")


def test_a_displayed_setting_is_checked_with_another_instrument():
    said = settle(between(*pair("press", "operator"), kind="setting", characteristic="dwell_s",
                          after=13.0, expected_after=16.0))
    assert "check the dwell shown at press A1 with a stopwatch, then let another person" in said
    assert "settings still off" in said


def test_a_shift_is_measured_not_counted():
    said = settle(between(*pair("operator", "location"), kind="placement", characteristic="dx_mm",
                          after=4.0, expected_after=0.0))
    assert "ten pieces to measure" in said and "with the fault" not in said


def test_a_rival_of_no_weight_needs_no_comparison():
    lone = replace(finding("defect_rate", "scorch"),
                   other_factors=(share("operator", weight=0.09),))
    assert settle(lone) is None
    assert settle(finding("defect_rate", "scorch")) is None


@pytest.mark.parametrize(("after", "usual"), [
    (0.03, 0.011), (0.03, 0.01), (0.5, 0.05), (0.12, 0.04), (0.9, 0.0), (0.006, 0.002),
])
def test_the_number_of_pieces_keeps_both_risks(after, usual):
    """Held against scipy's binomial distribution, which the code does not use."""
    n, least = pieces_needed(after, usual)
    assert binom.cdf(least - 1, n, after) <= 0.1
    assert binom.sf(least - 1, n, usual) <= 0.1


def test_ten_pieces_settle_only_what_is_plain():
    assert pieces_needed(0.5, 0.0)[0] == 10
    assert pieces_needed(0.03, 0.011)[0] > 200
    assert pieces_needed(0.002, 0.001) is None
    assert pieces_needed(0.01, 0.02) is None
    unknown = between(*pair("press", "fabric"), after=None, expected_after=None)
    assert "several jobs" in settle(unknown)
