"""The few causes that together explain what is open of a kind.

Causes are taken as known one by one; what each leaves is for the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.monitor.attribution import Candidate, candidate_of, candidates, judge, likeliest
from qc.monitor.duels import all_of_it, settled
from qc.monitor.factors import FACTORS, WHOLE_OF
from qc.monitor.streams import Explained, StreamCounts
from qc.monitor.windows import Spread, Stream

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
    state.changes = others
    state.rebuild(np.array([kind]))
    whole = candidate_of(state, kind, row, spread)
    if whole is None:
        return None
    n_levels = int((state.row_factor == state.row_factor[parts[0].row]).sum())
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
