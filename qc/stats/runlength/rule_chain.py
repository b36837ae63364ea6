"""Run length under supplementary rules: the chain of what the rules remember.

Without rules that look at ups and downs it is the finite chain of Champ & Woodall (1987). With
them the last value is part of the state: an integral equation inside each zone for a continuous
statistic, each value on its own for a count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from qc.stats.checks import Floats
from qc.stats.rules import RuleSet
from qc.stats.runlength.automata import SIGNAL, Automaton, Letter, needs_steps, rules_automaton
from qc.stats.runlength.following import FollowedChain, long_used
from qc.stats.runlength.zones import Zones

STEPS = (-1, 0, 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Memory:
    """The automaton with a place for each node of each state's zone.

    ``zone`` : of each state's last point; `SIGNAL` where none is remembered. ``first`` : place of
    each state's first node; the last entry is the number of places.
    """

    automaton: Automaton
    zone: np.ndarray
    first: np.ndarray
    with_steps: bool

    def letter(self, zone: int, step: int) -> int:
        return 3 * zone + step + 1 if self.with_steps else zone


def rules_chain(rules: RuleSet, zones: Zones) -> FollowedChain:
    """Runs that begin with the chart, before its first point."""
    memory = _memory(rules, zones)
    target, value = _arrivals(memory, zones)
    mass = np.zeros(memory.first[-1])
    np.add.at(mass, target, value)
    return FollowedChain(survived=np.ones(1), mass=mass, step=_step(memory, zones),
                         memory=_longest(rules))


def rules_chain_in_use(
    rules: RuleSet, calm: Zones, crossing: Zones, zones: Zones
) -> FollowedChain:
    """Runs that begin after long use without a signal.

    ``calm`` : points up to then; ``zones`` : points from then on; ``crossing`` : the same, moving
    from the nodes of ``calm``.
    """
    memory = _memory(rules, calm)
    start = rules_chain(rules, calm)
    mass = long_used(start.step, start.mass)
    return FollowedChain(survived=np.ones(1), mass=_step(memory, crossing).T @ mass,
                         step=_step(memory, zones), memory=_longest(rules))


def _longest(rules: RuleSet) -> int:
    counts = (rules.one_side, rules.trend, rules.alternating, rules.stratification, rules.mixture)
    return max(5, *(count or 0 for count in counts))


def _memory(rules: RuleSet, zones: Zones) -> _Memory:
    with_steps = needs_steps(rules)
    letters = tuple(
        Letter(z, k, step, out)
        for k, (z, out) in enumerate(zip(zones.z, zones.outside, strict=True))
        for step in (STEPS if with_steps else (0,))
    )
    automaton = rules_automaton(rules, letters)
    zone = np.full(len(automaton.table), SIGNAL)
    sizes = np.ones(len(zone), dtype=np.int64)
    if with_steps:
        for k, letter in enumerate(letters):
            reached = automaton.table[:, k]
            zone[reached[reached != SIGNAL]] = letter.zone
        sizes = np.array([len(zones.share[k]) if k != SIGNAL else 1 for k in zone])
    first = np.concatenate(([0], np.cumsum(sizes)))
    return _Memory(automaton=automaton, zone=zone, first=first, with_steps=with_steps)


def _arrivals(memory: _Memory, zones: Zones) -> tuple[np.ndarray, Floats]:
    """Places reached by the first point, and the share of runs in each."""
    targets, values = [], []
    for k, chance in enumerate(zones.chance):
        state = memory.automaton.table[0, memory.letter(k, 0)]
        if state != SIGNAL:
            share = zones.share[k] if memory.with_steps else np.ones(1)
            targets.append(memory.first[state] + np.arange(len(share)))
            values.append(chance * share)
    if not targets:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    return np.concatenate(targets), np.concatenate(values)


def _step(memory: _Memory, zones: Zones) -> csr_array:
    """Chance from each place (row) to each place."""
    parts = [part for k in np.unique(memory.zone)
             for to in range(len(zones.chance)) for part in _block(memory, zones, k, to)]
    row, column, value = (np.concatenate(one) for one in zip(*parts, strict=True))
    size = int(memory.first[-1])
    return csr_array(coo_array((value, (row, column)), shape=(size, size)))


def _block(memory: _Memory, zones: Zones, at: int, to: int) -> list[tuple[np.ndarray, ...]]:
    """Moves of all states whose last point is in one zone to points in another or the same."""
    states = np.flatnonzero(memory.zone == at)
    if not memory.with_steps:
        return [_spread(memory, states, memory.letter(to, 0), np.full((1, 1), zones.chance[to]))]
    if at == SIGNAL:  # the start, which no point leads back to
        return []
    if at == to:
        return [_spread(memory, states, memory.letter(to, step), zones.chance[to] * move)
                for step, move in zip(STEPS, zones.moves[to], strict=True) if move.any()]
    n_rows = zones.moves[at].shape[1]
    move = np.tile(zones.chance[to] * zones.share[to], (n_rows, 1))
    return [_spread(memory, states, memory.letter(to, 1 if to > at else -1), move)]


def _spread(
    memory: _Memory, states: np.ndarray, letter: int, move: Floats
) -> tuple[np.ndarray, ...]:
    """The same small matrix of moves for each of the states that the letter does not end."""
    target = memory.automaton.table[states, letter]
    goes_on = target != SIGNAL
    n_rows, n_columns = move.shape
    shape = (int(goes_on.sum()), n_rows, n_columns)
    row = memory.first[states[goes_on]][:, None, None] + np.arange(n_rows)[:, None]
    column = memory.first[target[goes_on]][:, None, None] + np.arange(n_columns)
    return tuple(np.broadcast_to(one, shape).ravel() for one in (row, column, move))
