"""Small saves that wait at the same moment are done together (group commit).

A save costs mostly what is the same for one row and for fifty: a transaction, its way to the disk,
a pass over columns. So while one save is under way those that come in wait, and the next one takes
all of them with it. Nobody is told "saved" before the transaction that holds it is on the disk.

Source
------
Group commit: DeWitt, Katz, Olken, Shapiro, Stonebraker, Wood (1984), Implementation techniques for
main memory database systems, SIGMOD (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Lock
from typing import Any

MOST_AT_ONCE = 200
"""Further saves wait for the next turn, so that no turn becomes long."""

Outcome = Any
"""What became of a save: its result, or the exception to raise where it was asked for."""


@dataclass(slots=True, eq=False)
class _Entry:
    job: Any
    outcome: Outcome = None
    done: bool = False


class Together:
    """A queue of saves to one store, from any number of threads."""

    def __init__(self) -> None:
        self._guard, self._turn = Lock(), Lock()
        self._waiting: list[_Entry] = []

    def save(self, job: Any, run: Callable[[Sequence[Any]], Sequence[Outcome]]) -> Any:
        """Have a job done with those that wait beside it; its result, or its exception raised.

        Parameters
        ----------
        run : does jobs, in their order, in one transaction, and says what became of each; all
            callers hand in the same.
        """
        entry = _Entry(job)
        with self._guard:
            self._waiting.append(entry)
        while not entry.done:
            with self._turn:
                if not entry.done:
                    self._do_waiting(run)
        if isinstance(entry.outcome, BaseException):
            raise entry.outcome
        return entry.outcome

    def _do_waiting(self, run: Callable[[Sequence[Any]], Sequence[Outcome]]) -> None:
        with self._guard:
            batch = self._waiting[:MOST_AT_ONCE]
            self._waiting = self._waiting[MOST_AT_ONCE:]
        outcomes: Sequence[Outcome]
        try:
            outcomes = run([entry.job for entry in batch])
        except BaseException as error:
            outcomes = [error] * len(batch)
        for entry, outcome in zip(batch, outcomes, strict=True):
            entry.outcome, entry.done = outcome, True
