"""The store: where records are read, and the one way in which they are changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
from sqlalchemy import Connection, Engine, text

from qc.store import audit
from qc.store.connection import speaking
from qc.store.together import Together

Ints = npt.NDArray[np.int64]

_WRITER = 5_090_316_423  # our advisory lock in PostgreSQL: one writer at a time, as in SQLite


@dataclass(slots=True, kw_only=True)
class Change:
    """A change under way. What is noted goes into its audit row; `drop` makes it no change."""

    connection: Connection
    by: str
    at_us: int
    detail: dict[str, Any] = field(default_factory=dict)
    dropped: bool = False

    def note(self, **detail: Any) -> None:
        """Add to what the audit row will say."""
        self.detail.update(detail)

    def wrote(self, kind: str, numbers: Ints, content: Ints) -> None:
        """Name the rows written: kind, first and last number, and their fingerprints added up (as
        text, being larger than JSON's whole numbers)."""
        total = int(content.view(np.uint64).sum(dtype=np.uint64))
        written = self.detail.setdefault("written", [])
        written.append([kind, int(numbers[0]), int(numbers[-1]), f"{total:016x}"])

    def drop(self) -> None:
        """There turned out to be nothing to change: leave no trace."""
        self.dropped = True


@dataclass(frozen=True, slots=True)
class Store:
    """An open store. Close it when done."""

    engine: Engine
    location: str
    small_saves: Together = field(default_factory=Together, repr=False, compare=False)

    @property
    def is_sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"

    def close(self) -> None:
        """Let go of the store's connections."""
        self.engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection on one unchanging view of the store."""
        options = {} if self.is_sqlite else {"isolation_level": "REPEATABLE READ"}
        with speaking(self.location), self.engine.connect() as plain:
            connection = plain.execution_options(**options)
            with connection.begin():
                yield connection

    @contextmanager
    def changing(
        self, *, by: str, at_us: int, what: str, source: str | None = None
    ) -> Iterator[Change]:
        """One transaction: all of it and its audit row are kept, or nothing is."""
        with self.changing_together([(by, at_us, source)], what=what) as changes:
            yield changes[0]

    @contextmanager
    def changing_together(
        self, whose: Sequence[tuple[str, int, str | None]], *, what: str
    ) -> Iterator[list[Change]]:
        """One transaction of several people's changes, with an audit row for each that is one.

        ``whose``: by, at_us and source of each change.
        """
        with speaking(self.location), self.engine.connect() as plain:
            connection = plain.execution_options(writing=True)
            with connection.begin() as transaction:
                if not self.is_sqlite:
                    connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": _WRITER})
                changes = [Change(connection=connection, by=by, at_us=int(at_us))
                           for by, at_us, _ in whose]
                yield changes
                if all(change.dropped for change in changes):
                    transaction.rollback()
                    return
                newest = None
                for change, (by, at_us, source) in zip(changes, whose, strict=True):
                    if not change.dropped:
                        newest = audit.append(connection, by=by, at_us=at_us, what=what,
                                              source=source, detail=change.detail, after=newest)

    def change_number(self) -> int:
        """Grows with every change: what was computed at the same number is still good."""
        with self.reading() as connection:
            return audit.newest_change(connection)
