"""Jobs of pieces that name none: like work at one press in slots that follow one another.

Pieces of one job share more than is recorded: the setting somebody chose, a bad stack, a tired
morning. Work without job numbers clumps as much, and a run of it stands for the job.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from collections import defaultdict

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]


class _Press:
    """One press, as far as it has been seen: its slots with work, and the newest run of each kind
    of work as (first slot, last slot, number)."""

    def __init__(self) -> None:
        self.slots: list[int] = []
        self.runs: dict[int, tuple[int, int, int]] = {}

    def take(self, work: int, slot: int, new: int, longest: int) -> int:
        """The run that work in a slot belongs to; ``new``: the number of one that begins."""
        at = bisect_left(self.slots, slot)
        if at == len(self.slots) or self.slots[at] != slot:
            insort(self.slots, slot)
        first, last, number = self.runs.get(work, (slot, slot, new))
        low, high = min(first, slot), max(last, slot)
        if high - low >= longest or not self._goes_on(first, last, slot):
            low, high, number = slot, slot, new
        if high >= last:  # what comes in late is no reason to forget the newest
            self.runs[work] = (low, high, number)
        return number

    def _goes_on(self, first: int, last: int, slot: int) -> bool:
        """Does no slot of other work lie between the run and this one?"""
        low, high = (last, slot) if slot > last else (slot, first)
        return low >= high or bisect_left(self.slots, high) == bisect_right(self.slots, low)


def runs_of_work(
    press: Ints, work: Ints, slot: Ints, seen_slot: Ints, *, longest: int
) -> tuple[Ints, list[tuple[int, int, int]]]:
    """The run each unit belongs to, and (press, work, slot) each run began with, by its number.

    Parameters
    ----------
    press, work : numbers of what units were pressed on and of what they are; -1 is a number too
    slot, seen_slot : slots they were pressed in, and first seen in
    longest : slots from the first to the last of a run, 1 and up

    Notes
    -----
    Units are taken in the order they were seen, so that nothing seen later changes a run.
    """
    key = np.zeros(len(slot), dtype=np.int64)  # ten years of a thousand presses have room
    for column in (seen_slot, press, slot, work):
        low, high = int(column.min(initial=0)), int(column.max(initial=0))
        key = key * (high - low + 1) + column - low
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    presses: defaultdict[int, _Press] = defaultdict(_Press)
    run = np.empty(len(first), dtype=np.int64)
    begun: list[tuple[int, int, int]] = []
    rows = zip(press[first].tolist(), slot[first].tolist(), work[first].tolist(), strict=True)
    for at, (of_press, in_slot, of_work) in enumerate(rows):
        run[at] = presses[of_press].take(of_work, in_slot, len(begun), longest)
        if run[at] == len(begun):
            begun.append((of_press, of_work, in_slot))
    return run[which.ravel()], begun
