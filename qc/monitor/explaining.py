"""The few causes that together explain what is open of a kind.

Causes are taken as known one by one; what each leaves is for the next.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from qc.monitor.attribution import (
    Candidate,
    candidate_of,
    candidates,
    judge,
    levels_at_work,
    likeliest,
    log_prior,
)
from qc.monitor.changes import Change, explains_alarm
from qc.monitor.factors import FACTORS, WHOLE_OF
from qc.monitor.joint import Claim, claim_of, joint_gains, settled
from qc.monitor.sharing import ANOTHER, all_of_it, both_apart
from qc.monitor.streams import Explained, StreamCounts
from qc.monitor.windows import Beside, Spread, Stream, clump_variance

ALSO_TAIL = 1e-4
"""A second cause beside one that explains much must be as unlikely by luck as this."""

GENERAL = ("shop", "location", "size", "time_since_start")
"""Factors that seldom are the cause, and share pieces with every other."""

APART = 2.0
"""Gain in log likelihood by which each of two causes must speak for itself where the other is not,
before both are held to be at work. A proposed value, no source."""

AN_END = 2.5
"""Log odds against a cause that came to an end by itself, where one that goes on explains as much;
a proposed value, no source."""

MOST_FIRSTS = 3
"""Other candidates, the best, that are tried in the first place."""

MOST_PAIRS = 3
"""Pairs of causes that are tried in place of a general one."""


@dataclass(slots=True, kw_only=True, eq=False)
class Pick:
    """One of the causes chosen for a kind, with the candidates it was chosen from."""

    best: Candidate
    found: list[Candidate]
    fitted: float | None = None
    """Its rise where that is better known than from all its pieces."""

    @property
    def kind(self) -> int:
        return self.best.stream.kind

    @property
    def row(self) -> int:
        return self.best.stream.row

    @property
    def zone(self) -> int | None:
        return self.best.stream.zone

    @property
    def start(self) -> int:
        return self.best.start

    @property
    def end(self) -> int | None:
        return None

    @property
    def ratio(self) -> float:
        return max(self.best.ratio if self.fitted is None else self.fitted, 1.0)


def best_causes(
    state: StreamCounts, kind: int, others: Sequence[Explained], spread: Spread, *,
    held: Sequence[Stream], signals: Callable[[Candidate], bool],
) -> list[Pick]:
    """The few causes that together explain a kind best, beside the other changes.

    They are taken one by one, the best first, no more than are ``held`` to be at work now. Where
    that needs several, each other candidate for the first place is tried as well: one cause may do
    the work of two. Beyond that there may be one more that would give a signal of its own: one
    that the others hid, or one that together with a specific cause does the work of a general one.
    """
    question = _Question(state=state, kind=kind, others=others, spread=spread)
    sets = [question.one_by_one([], held)]
    if len(sets[0]) > 1:
        firsts = _rivals_of(sets[0])[:MOST_FIRSTS]
        sets += [question.one_by_one([first], held) for first in firsts]
    picks = max(sets, key=_total)
    if len(picks) == 1 and state.factor(picks[0].row) in GENERAL:
        picks = question.pair(picks[0], signals) or picks
    if 0 < len(picks) <= len(held):
        hidden = [pick for pick in question.hidden_by(picks) if signals(pick.best)]
        if hidden:
            picks = question.held_together([*picks, hidden[0]])
    return picks


def _rivals_of(picks: Sequence[Pick]) -> list[Pick]:
    """Other candidates for the place of the first of them."""
    taken = {p.best.stream for p in picks}
    return [Pick(best=rival, found=picks[0].found) for rival in picks[0].found
            if rival.stream not in taken and rival.tail <= ALSO_TAIL]


def _total(picks: Sequence[Pick]) -> float:
    return sum(p.best.gain + p.best.prior for p in picks)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Question:
    """What explains the records of a kind, beside ``others`` that are known?"""

    state: StreamCounts
    kind: int
    others: Sequence[Explained]
    spread: Spread

    def know(self, more: Sequence[Explained] = ()) -> None:
        """Expect what the others and these explain."""
        self.state.changes = [*self.others, *more]
        self.state.rebuild(np.array([self.kind]))

    def best_beside(self, picks: Sequence[Pick]) -> Pick | None:
        """The best cause when these are taken as known."""
        self.know(picks)
        found = candidates(self.state, self.kind, self.spread)
        found = settled(self.state, found, self.spread)
        return Pick(best=likeliest(found), found=found) if found else None

    def one_by_one(self, picks: list[Pick], held: Sequence[Stream]) -> list[Pick]:
        """These causes and more, up to as many as are held to be at work."""
        rows = {stream.row for stream in held}
        while len(picks) < len(held):
            pick = self.best_beside(picks)
            if picks and (pick is None or pick.best.tail > ALSO_TAIL):
                hidden = self.hidden_by(picks, rows)
                pick = next((p for p in hidden if p.row in rows), None)
            if pick is None or (picks and pick.best.tail > ALSO_TAIL):
                break
            picks = [*picks, pick]
        return self.held_together(picks)

    def held_together(self, picks: list[Pick]) -> list[Pick]:
        """The picks, each found before the last judged again beside the rest."""
        for old in picks[:-1]:
            rest = [p for p in picks if p is not old]
            again = self.best_beside(rest)
            if again is None or again.best.tail > ALSO_TAIL:
                picks = rest  # what was found after it explains it
            elif all(again.best.stream != p.best.stream for p in rest):
                picks = [again if p is old else p for p in picks]
        return picks

    def pair(self, general: Pick, signals: Callable[[Candidate], bool]) -> list[Pick]:
        """Two specific causes that do the work of a general one better, if there are such."""
        self.know()
        rivals = [p for p in _rivals_of([general])
                  if self.state.factor(p.row) not in GENERAL and p.zone is None]
        apart = [(a, b) for a, b in combinations(rivals, 2)
                 if both_apart(self.state, a.best, b.best, self.spread) >= APART]
        best: list[Pick] = []
        most = _total([general])
        for first, second in apart[:MOST_PAIRS]:
            for also in self.hidden_by([replace(first, found=[second.best])]):
                total = _total([first, also]) - ANOTHER
                if also.best.tail <= ALSO_TAIL and total > most:
                    both = self.held_together([first, also])
                    if len(both) == 2 and any(signals(p.best) for p in both):
                        best, most = both, total
        return best

    def hidden_by(self, picks: Sequence[Pick], more: Collection[int] = ()) -> list[Pick]:
        """Causes that share pieces with those picked, the best first: their rivals, and the levels
        of some ``more`` rows.

        A cause that was found by itself also has the excess of another on the pieces they share,
        and then too little is left for that one. So each candidate is judged beside the picks with
        their rises fitted to pieces it does not share; how well they are known counts.
        """
        taken = {p.row for p in picks}
        found: list[Candidate] = []
        for pick in (p for p in picks if p.zone is None):
            rest = [p for p in picks if p is not pick]
            self.know(rest)
            rivals = {c.stream.row: c for c in pick.found if c.stream.zone is None}
            for row in set(more) - rivals.keys():
                if one := candidate_of(self.state, self.kind, row, self.spread):
                    rivals[row] = one
            apart = [
                (row, self._fitted_outside(pick, rival)) for row, rival in sorted(rivals.items())
                if row not in taken
                and both_apart(self.state, pick.best, rival, self.spread) >= APART
            ]
            for row, beside in apart:
                self.know([*rest, beside.change])
                again = candidate_of(self.state, self.kind, row, self.spread, beside)
                if again is not None:
                    found.append(again)
        found.sort(key=lambda c: -c.score)
        return [Pick(best=c, found=found) for c in found]

    def _fitted_outside(self, pick: Pick, rival: Candidate) -> Beside:
        """A cause with its rise fitted to the pieces it does not share with another."""
        state = self.state
        b, row, f = state.blocks, pick.row, int(state.row_factor[pick.row])
        shared = b.row[:, state.row_factor[rival.stream.row]] == rival.stream.row
        shared &= b.pressed >= rival.start
        at = np.flatnonzero(state.touched(pick) & ~shared)
        expected = state.block_expected(at, self.kind, f) * pick.best.own
        seen, mean = float(b.y[at, self.kind].sum()), float(expected.sum())
        fitted, variance = (seen + pick.ratio) / (mean + 1.0), 1.0 / (seen + pick.ratio)
        if mean > 0:
            clumps = clump_variance(state, state.factor(row), at, expected, self.spread)
            variance += clumps / mean**2
        change = Pick(best=pick.best, found=pick.found, fitted=fitted)
        return Beside(change=change, variance=variance)


def was_another(state: StreamCounts, change: Change, spread: Spread) -> bool:
    """Does a cause that is still at work explain a change that is over better than its own does?

    The expectation must not contain the change.
    """
    if change.zone is not None:
        return False
    found = [c for c in candidates(state, change.kind, spread)
             if c.stream.row != change.row and c.stream.zone is None
             and explains_alarm(state, change, c)]
    if not found:
        return False
    own = Claim(row=change.row, start=change.start, ratio=change.rivals[0].ratio, end=change.end)
    gains = joint_gains(state, change.kind, [own, *map(claim_of, found)], spread)
    n_levels = int(levels_at_work(state, change.kind)[state.row_factor[change.row]])
    prior = log_prior(state, change.stream, n_levels, change.start) - AN_END
    score = gains + np.array([prior, *(c.prior for c in found)])
    return bool(score[1:].max() > score[0])


def parts_of_one(
    state: StreamCounts, picks: Sequence[Explained], earlier: Sequence[Explained]
) -> dict[int, list[Explained]]:
    """Lots of one fabric or transfer, or stations of one press, that are each held to be bad by
    itself, one of them among the picks: by the row of what they are part of."""
    groups: dict[int, dict[int, Explained]] = {}
    for one in (*earlier, *picks):
        whole = _whole_of(state, one.row)
        if whole is not None:
            groups.setdefault(whole, {})[one.row] = one
    return {whole: list(parts.values()) for whole, parts in groups.items()
            if len(parts) > 1 and any(one in picks for one in parts.values())}


def whole_cause(
    state: StreamCounts, kind: int, row: int, parts: Sequence[Explained],
    others: Sequence[Explained], spread: Spread,
) -> Pick | None:
    """What these are part of, if that explains them better than each by itself does."""
    _Question(state=state, kind=kind, others=others, spread=spread).know()
    whole = candidate_of(state, kind, row, spread)
    if whole is None:
        return None
    n_levels = int(levels_at_work(state, kind)[state.row_factor[parts[0].row]])
    alone = [judge(state, Stream(kind=kind, row=part.row), part.start, n_levels, spread)
             for part in parts]
    if all_of_it(state, whole, alone, [part.end for part in parts], spread) <= 0:
        return None
    return Pick(best=whole, found=[whole, *alone])


def _whole_of(state: StreamCounts, row: int) -> int | None:
    """The row of the fabric, transfer or press that a lot or a station is part of."""
    whole = WHOLE_OF.get(state.factor(row))
    if whole is None:
        return None
    b = state.blocks
    at = b.row[:, state.row_factor[row]] == row
    rows = np.unique(b.row[at, FACTORS.index(whole)])
    return int(rows[0]) if len(rows) == 1 and rows[0] >= 0 else None
