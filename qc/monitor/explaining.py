"""The few causes that together explain what is open of a kind.

Causes are taken as known one by one; what each leaves is for the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.monitor.attribution import Candidate, candidates, likeliest
from qc.monitor.duels import settled
from qc.monitor.streams import Explained, StreamCounts
from qc.monitor.windows import Spread

ALSO_TAIL = 1e-4
"""A second cause beside one that explains much must be as unlikely by luck as this."""


@dataclass(slots=True, kw_only=True, eq=False)
class Pick:
    """One of the causes chosen for a kind, with the candidates it was chosen from."""

    best: Candidate
    found: list[Candidate]

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
        return max(self.best.ratio, 1.0)


def best_causes(
    state: StreamCounts, kind: int, others: Sequence[Explained], spread: Spread, *, limit: int
) -> list[Pick]:
    """The few causes that together explain a kind best, beside the other changes.

    They are taken one by one, the best first. Where that needs several, each other candidate
    for the first place is tried as well: one cause may do the work of two.
    """
    picks = _one_by_one(state, kind, others, [], spread, limit=limit)
    if len(picks) < 2:
        return picks
    sets = [picks]
    taken = {p.best.stream for p in picks}
    for rival in picks[0].found:
        if rival.stream not in taken and rival.tail <= ALSO_TAIL:
            first = Pick(best=rival, found=picks[0].found)
            sets.append(_one_by_one(state, kind, others, [first], spread, limit=limit))
    return max(sets, key=lambda some: sum(p.best.gain + p.best.prior for p in some))


def _one_by_one(
    state: StreamCounts, kind: int, others: Sequence[Explained], picks: list[Pick],
    spread: Spread, *, limit: int,
) -> list[Pick]:
    while len(picks) < limit:
        pick = _best_beside(state, kind, [*others, *picks], spread)
        if pick is None or (picks and pick.best.tail > ALSO_TAIL):
            break
        picks = [*picks, pick]
    for old in picks[:-1]:
        rest = [p for p in picks if p is not old]
        again = _best_beside(state, kind, [*others, *rest], spread)
        if again is None or again.best.tail > ALSO_TAIL:
            picks = rest  # what was found after it explains it
        elif all(again.best.stream != p.best.stream for p in rest):
            picks = [again if p is old else p for p in picks]
    return picks


def _best_beside(
    state: StreamCounts, kind: int, others: Sequence[Explained], spread: Spread
) -> Pick | None:
    """The best cause when these are taken as known."""
    state.changes = others
    state.rebuild(np.array([kind]))
    found = candidates(state, kind, spread)
    found = settled(state, found, spread, state.told())
    return Pick(best=likeliest(found), found=found) if found else None
