from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.rules import RULE_SETS, RuleSet, pattern_signals
from qc.stats.runlength.automata import SIGNAL, Letter, rules_automaton

LINES = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)
VALUES = sorted({*LINES, *np.arange(-3.75, 4, 0.5)})
"""Every line of the rules and a value on each side of it."""

SETS = [*RULE_SETS.values(), RuleSet(
    name="short", two_of_three=True, one_side=4, trend=3, alternating=4, stratification=4,
    mixture=3), RuleSet(name="alternating", alternating=5), RuleSet(name="mixture", mixture=6)]


def _letters() -> tuple[Letter, ...]:
    return tuple(Letter(z, zone, step, abs(z) > 3) for zone, z in enumerate(VALUES)
                 for step in (-1, 0, 1))


def _first_signal(table: np.ndarray, z: np.ndarray) -> int | None:
    state = 0
    for at, value in enumerate(z):
        step = int(np.sign(value - z[at - 1])) if at else 0
        state = table[state, 3 * VALUES.index(value) + step + 1]
        if state == SIGNAL:
            return at
    return None


@pytest.mark.parametrize("rules", SETS, ids=lambda rules: rules.name)
def test_the_automaton_signals_where_the_chart_does(rules: RuleSet) -> None:
    # points on lines and ties among them; slow walks make trends, narrow ones hug the centre
    rng, table = np.random.default_rng(41), rules_automaton(rules, _letters()).table
    n_signals = 0
    for k in range(1500):
        spread = (2.0, 0.6, 1.2)[k % 3]
        x = rng.normal(0, spread, 40) + (0.3 * np.arange(40) - 2 if k % 5 == 0 else 0)
        z = np.array(VALUES)[np.abs(x[:, None] - VALUES).argmin(axis=1)]
        signals = (pattern_signals(z, rules) != 0) | (np.abs(z) > 3)
        wanted = int(signals.argmax()) if signals.any() else None
        assert _first_signal(table, z) == wanted
        n_signals += wanted is not None
    assert n_signals > 100


def test_states_are_no_more_than_needed() -> None:
    # runs of 8 on either side: none, or 1..7 above, or 1..7 below; limits need no memory
    plain = tuple(Letter(z, zone, 0, abs(z) > 3) for zone, z in enumerate((-3.5, -1, 1, 3.5)))
    assert len(rules_automaton(RuleSet(name="limits"), plain).table) == 1
    assert len(rules_automaton(RuleSet(name="one side", one_side=8), plain).table) == 15
