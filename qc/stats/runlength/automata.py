"""What supplementary rules remember of the points so far, as states and transitions.

Each rule is a small automaton that reads letters: in which zone a point lies, and whether it went
up or down from the point before. Rules together are the product of their automata, reduced to
the fewest states that tell futures apart.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.stats.charts.chart import SLACK
from qc.stats.charts.rules import RuleSet

States = npt.NDArray[np.int64]
Move = Callable[[Any, "Letter"], Any]
SIGNAL = -1
MOST_STATES = 400_000


@dataclass(frozen=True, slots=True)
class Letter:
    """One kind of point: a value of its zone in sigma, and its step from the point before.

    ``step`` : -1 down, 0 equal or first point, 1 up. ``outside`` : beyond a limit of the chart.
    """

    z: float
    zone: int
    step: int = 0
    outside: bool = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Automaton:
    """``table`` : (states, letters), the next state or `SIGNAL`; state 0 is the start."""

    table: States


@lru_cache(maxsize=16)
def rules_automaton(rules: RuleSet, letters: tuple[Letter, ...]) -> Automaton:
    """The memory of the limits and of all rules that are on."""
    parts = [_explored(start, move, letters) for start, move in _moves(rules)]
    with_steps = needs_steps(rules)
    if with_steps:  # the last of them: states of different zones are kept apart by it
        parts.append(_explored(None, _last_zone, letters))
    product, code = _together(parts)
    apart = code % len(parts[-1].table) if with_steps else np.zeros_like(code)
    return _fewest(product, apart)


def needs_steps(rules: RuleSet) -> bool:
    """Whether a rule looks at ups and downs, so that the last value itself must be remembered."""
    return bool(rules.trend or rules.alternating)


def _moves(rules: RuleSet) -> list[tuple[Hashable, Move]]:
    moves: list[tuple[Hashable, Move]] = [
        ((), lambda state, letter: None if letter.outside else state)]
    if rules.two_of_three:
        moves.append(((), _r_of_m(2, needed=2, window=3)))
    if rules.four_of_five:
        moves.append(((), _r_of_m(1, needed=4, window=5)))
    if rules.one_side:
        moves.append(((0, 0), _one_side(rules.one_side)))
    if rules.trend:
        moves.append(((0, 0), _trend(rules.trend - 1)))
    if rules.alternating:
        moves.append(((0, 0), _alternating(rules.alternating - 2)))
    if rules.stratification:
        moves.append((0, _stratification(rules.stratification)))
    if rules.mixture:
        moves.append(((0, 0, 0), _mixture(rules.mixture)))
    return moves


def _side(z: float, line: float) -> int:
    return int(z > line + SLACK) - int(z < -line - SLACK)


def _r_of_m(line: float, *, needed: int, window: int) -> Move:
    def move(sides: tuple[int, ...], letter: Letter) -> tuple[int, ...] | None:
        newest = _side(letter.z, line)
        seen = (*sides, newest)
        if newest and seen.count(newest) >= needed:
            return None
        return seen[-(window - 1):]
    return move


def _one_side(length: int) -> Move:
    def move(run: tuple[int, int], letter: Letter) -> tuple[int, int] | None:
        return _longer(run, _side(letter.z, 0), length)
    return move


def _trend(length: int) -> Move:
    def move(run: tuple[int, int], letter: Letter) -> tuple[int, int] | None:
        return _longer(run, letter.step, length)
    return move


def _longer(run: tuple[int, int], side: int, length: int) -> tuple[int, int] | None:
    """A run of one kind, one longer or begun anew; None when it is complete."""
    if side == 0:
        return 0, 0
    count = run[1] + 1 if side == run[0] else 1
    return None if count >= length else (side, count)


def _alternating(length: int) -> Move:
    def move(run: tuple[int, int], letter: Letter) -> tuple[int, int] | None:
        if letter.step == 0 or letter.step != -run[0]:
            return letter.step, 0
        return None if run[1] + 1 >= length else (letter.step, run[1] + 1)
    return move


def _stratification(length: int) -> Move:
    def move(count: int, letter: Letter) -> int | None:
        if abs(letter.z) >= 1 - SLACK:
            return 0
        return None if count + 1 >= length else count + 1
    return move


def _mixture(length: int) -> Move:
    def move(run: tuple[int, int, int], letter: Letter) -> tuple[int, int, int] | None:
        # (points away from the centre in a row, of them the newest on one side, which side)
        side = _side(letter.z, 1)
        if side == 0:
            return 0, 0, 0
        away, same = run[0] + 1, run[1] + 1 if side == run[2] else 1
        if away >= length > same:
            return None
        return min(away, length), min(same, length), side
    return move


def _last_zone(zone: int | None, letter: Letter) -> int | None:
    # up into a lower zone cannot be; a letter that cannot be is as good as a signal
    if zone is not None and (letter.zone - zone) * letter.step < 0:
        return None
    return letter.zone


def _explored(start: Hashable, move: Move, letters: Sequence[Letter]) -> Automaton:
    """All states that a move reaches from the start."""
    number, waiting, table = {start: 0}, [start], []
    for state in waiting:
        row = []
        for letter in letters:
            following = move(state, letter)
            if following is None:
                row.append(SIGNAL)
                continue
            if following not in number:
                number[following] = len(waiting)
                waiting.append(following)
            row.append(number[following])
        table.append(row)
    return Automaton(table=np.array(table, dtype=np.int64))


def _together(parts: Sequence[Automaton]) -> tuple[Automaton, States]:
    """Automata reading the same letters side by side; a signal of one is a signal of all.

    With the code of each state: the states of the parts as digits, the last part's the lowest.
    """
    sizes = np.array([len(part.table) for part in parts])
    place = np.concatenate((np.cumprod(sizes[::-1])[::-1][1:], [1]))
    known = frontier = np.zeros(1, dtype=np.int64)
    rows, order = [], [frontier]
    while len(frontier):
        following = np.zeros((len(frontier), parts[0].table.shape[1]), dtype=np.int64)
        signal = np.zeros(following.shape, dtype=bool)
        for part, size, unit in zip(parts, sizes, place, strict=True):
            at = part.table[frontier // unit % size]
            signal |= at == SIGNAL
            following += at * unit
        following[signal] = SIGNAL
        rows.append(following)
        frontier = np.setdiff1d(following[~signal], known)
        known = np.union1d(known, frontier)
        order.append(frontier)
        if len(known) > MOST_STATES:
            raise ValueError("rules remember too much for their run length to be computed; ask for"
                             " fewer of them, or for shorter patterns")
    code, following = np.concatenate(order), np.concatenate(rows)
    return Automaton(table=np.where(following == SIGNAL, SIGNAL, _row(code, following))), code


def _row(code: States, wanted: States) -> States:
    by_code = np.argsort(code)
    at: States = by_code[np.searchsorted(code[by_code], wanted).clip(max=len(code) - 1)]
    return at


def _fewest(automaton: Automaton, apart: States) -> Automaton:
    """States with the same future made one (Moore 1956), the start first.

    ``apart`` : states where it differs are kept apart.
    """
    table = automaton.table
    kinds = np.unique(apart, return_inverse=True)[1]
    n_labels = int(kinds.max()) + 2
    label = np.concatenate((kinds, [n_labels - 1]))  # the last entry stands for the signal
    while True:
        split = _split(label, table)
        n_now = int(split.max()) + 1
        if n_now == n_labels:
            break
        label, n_labels = split, n_now
    return _merged(table, label)


def _split(label: States, table: States) -> States:
    """Finer labels: states differ where their letters lead to different labels."""
    finer = label[:-1]
    for letter in range(table.shape[1]):
        pair = finer * len(label) + label[table[:, letter]]
        finer = np.unique(pair, return_inverse=True)[1]
    return np.concatenate((finer, [int(finer.max()) + 1]))


def _merged(table: States, label: States) -> Automaton:
    of_state = label[:-1]
    names, first = np.unique(of_state, return_index=True)
    number = np.full(int(label.max()) + 1, SIGNAL)
    number[names[np.argsort(first)]] = np.arange(len(names))  # in order of first appearance
    number[label[SIGNAL]] = SIGNAL
    return Automaton(table=number[label[table[np.sort(first)]]])
