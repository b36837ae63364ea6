"""Run length under supplementary rules: the chain of what the rules remember.

Without rules that look at ups and downs it is the finite chain of Champ & Woodall (1987). With
them the last value is part of the state: an integral equation inside each zone for a continuous
statistic, each value on its own for a count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csr_array

from qc.stats.charts.rules import RuleSet
from qc.stats.checks import Floats
from qc.stats.runlength.automata import (
    SIGNAL,
    Automaton,
    Letter,
    States,
    needs_steps,
    rules_automaton,
)
from qc.stats.runlength.following import FollowedChain, Onward, long_used
from qc.stats.runlength.zones import STEPS, Zones

MOST_PLACES = 5_000_000


def rules_chain(rules: RuleSet, zones: Zones) -> FollowedChain:
    """Runs that begin with the chart, before its first point."""
    memory = _remembering(rules, zones)
    return FollowedChain(survived=np.ones(1), mass=memory.arrivals(zones),
                         onward=memory.onward(zones), memory=rules.reach + 1)


def rules_chain_in_use(
    rules: RuleSet, calm: Zones, crossing: Zones, zones: Zones
) -> FollowedChain:
    """Runs that begin after long use without a signal.

    ``calm`` : points up to then; ``zones`` : points from then on; ``crossing`` : the same, moving
    from the nodes of ``calm``.
    """
    memory = _remembering(rules, calm)
    mass = long_used(memory.onward(calm), memory.arrivals(calm))
    return FollowedChain(survived=np.ones(1), mass=memory.onward(crossing)(mass),
                         onward=memory.onward(zones), memory=rules.reach + 1)


def _remembering(rules: RuleSet, zones: Zones) -> _Plain | _Stepping:
    with_steps = needs_steps(rules)
    letters = tuple(
        Letter(z, k, step, out)
        for k, (z, out) in enumerate(zip(zones.z, zones.outside, strict=True))
        for step in (STEPS if with_steps else (0,))
    )
    automaton = rules_automaton(rules, letters)
    return _stepping(automaton, letters, zones) if with_steps else _Plain(automaton=automaton)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Plain:
    """States of rules that do not look at ups and downs; a letter is a zone."""

    automaton: Automaton

    def arrivals(self, zones: Zones) -> Floats:
        """Share of runs in each state after the first point."""
        mass = np.zeros(len(self.automaton.table))
        goes_on = self.automaton.table[0] != SIGNAL
        np.add.at(mass, self.automaton.table[0, goes_on], zones.chance[goes_on])
        return mass

    def onward(self, zones: Zones) -> Onward:
        """What one more point makes of the shares."""
        table = self.automaton.table
        state, letter = np.nonzero(table != SIGNAL)
        step = csr_array(coo_array((zones.chance[letter], (table[state, letter], state)),
                                   shape=(len(table), len(table))))
        return lambda mass: step @ mass


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stepping:
    """States of rules that look at ups and downs, with the nodes of the last point's zone.

    ``states`` : for each zone the states whose last point lies in it; the shares of runs are kept
    zone by zone as (states, nodes). ``number`` : of each state within its zone. ``arrive`` : for
    each zone, (states in it, all states), how many letters lead from another zone there.
    ``stay`` : for each zone, down, level and up, (states in it, states in it).
    """

    table: States
    states: tuple[States, ...]
    number: States
    arrive: tuple[csr_array, ...]
    stay: tuple[tuple[csr_array, ...], ...]

    def arrivals(self, zones: Zones) -> Floats:
        """Share of runs at each place after the first point."""
        mass = [np.zeros((len(states), len(share)))
                for states, share in zip(self.states, zones.share, strict=True)]
        for k, share in enumerate(zones.share):
            state = self.table[0, _letter(k, 0)]
            if state != SIGNAL:
                mass[k][self.number[state]] = zones.chance[k] * share
        return _flat(mass)

    def onward(self, zones: Zones) -> Onward:
        """What one more point makes of the shares."""
        shapes = [(len(states), zones.moves[k].n_from) for k, states in enumerate(self.states)]
        ends = np.cumsum([0, *(rows * columns for rows, columns in shapes)])

        def onward(mass: Floats) -> Floats:
            blocks = [mass[a:b].reshape(shape)
                      for a, b, shape in zip(ends, ends[1:], shapes, strict=False)]
            total = np.zeros(len(self.table))
            for states, block in zip(self.states, blocks, strict=True):
                total[states] = block.sum(axis=1)
            return _flat([self._into(k, zones, total, block) for k, block in enumerate(blocks)])

        return onward

    def _into(self, k: int, zones: Zones, total: Floats, block: Floats) -> Floats:
        """Shares in one zone: from other zones anywhere in it, from itself by ups and downs."""
        found: Floats = np.outer(self.arrive[k] @ total, zones.share[k])
        if len(block):
            for stay, move in zip(self.stay[k], zones.moves[k].each(), strict=True):
                if stay.nnz:
                    found += move(stay @ block)
        return zones.chance[k] * found


def _letter(zone: int, step: int) -> int:
    return 3 * zone + step + 1


def _flat(blocks: list[Floats]) -> Floats:
    return np.concatenate([block.ravel() for block in blocks])


def _stepping(automaton: Automaton, letters: tuple[Letter, ...], zones: Zones) -> _Stepping:
    table, n_zones = automaton.table, len(zones.share)
    zone = np.full(len(table), SIGNAL)
    for k, letter in enumerate(letters):
        reached = table[:, k]
        zone[reached[reached != SIGNAL]] = letter.zone
    states = tuple(np.flatnonzero(zone == k) for k in range(n_zones))
    n_places = sum(len(one) * len(share) for one, share in zip(states, zones.share, strict=True))
    if n_places > MOST_PLACES:
        raise ValueError("rules look at ups and downs among too many different values for their"
                         " run length to be computed; leave out trend and alternating")
    number = np.zeros(len(table), dtype=np.int64)
    for one in states:
        number[one] = np.arange(len(one))
    return _Stepping(
        table=table, states=states, number=number,
        arrive=tuple(_arrive(table, zone, k, states[k], number) for k in range(n_zones)),
        stay=tuple(tuple(_stay(table, _letter(k, step), states[k], number) for step in STEPS)
                   for k in range(n_zones)),
    )


def _arrive(
    table: States, zone: States, to: int, states: States, number: States
) -> csr_array:
    below, above = (np.flatnonzero((zone != SIGNAL) & side) for side in (zone < to, zone > to))
    origin = np.concatenate((below, above))
    target = np.concatenate((table[below, _letter(to, 1)], table[above, _letter(to, -1)]))
    return _links(origin, target, (len(states), len(table)), number)


def _stay(table: States, letter: int, states: States, number: States) -> csr_array:
    return _links(np.arange(len(states)), table[states, letter], (len(states), len(states)),
                  number)


def _links(
    origin: States, target: States, shape: tuple[int, int], number: States
) -> csr_array:
    goes_on: npt.NDArray[np.bool_] = target != SIGNAL
    row, column = number[target[goes_on]], origin[goes_on]
    return csr_array(coo_array((np.ones(len(row)), (row, column)), shape=shape))
