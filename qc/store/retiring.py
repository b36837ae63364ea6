"""What of the shop's lists is no longer used: said step by step, each with its audit row.

A step beside the lists and no column of theirs: a file that is loaded again says nothing of it, and
must not bring back what somebody has put away.
"""

from __future__ import annotations

from dataclasses import dataclass

from qc.store.base import Store
from qc.store.schema import list_steps
from qc.store.steps import StepLog

LIST_STEP = "list step"
LOG = StepLog(table=list_steps, key="entry", what=LIST_STEP)
RETIRE, BRING_BACK = "retire", "bring_back"


@dataclass(frozen=True, slots=True, kw_only=True)
class Retired:
    """An entry of a list (``kind``: its name) that is no longer used: since when, by whom."""

    kind: str
    code: str
    by: str
    at_us: int


def take_list_step(
    store: Store, kind: str, code: str, step: str, *, by: str, at_us: int
) -> bool:
    """Put an entry away (`RETIRE`) or take it up again (`BRING_BACK`); False where it was so.

    Raises
    ------
    InputError
        Nobody is named, or the name is too long.
    """
    entry = _entry(kind, code)
    with LOG.changing(store, by, at_us) as change:
        rows = LOG.read(change.connection, key=entry)
        if (rows[-1]["step"] if rows else BRING_BACK) == step:
            change.drop()
            return False
        LOG.append(change, entry, [(step, {})])
        return True


def read_retired(store: Store, *, as_of_us: int | None = None) -> tuple[Retired, ...]:
    """What was no longer used at a moment, in the order it was put away."""
    with store.reading() as connection:
        rows = LOG.read(connection, as_of_us=as_of_us)
    newest = {row["entry"]: row for row in rows}
    return tuple(
        Retired(kind=kind, code=code, by=row["taken_by"], at_us=row["taken_at"])
        for row in sorted(newest.values(), key=lambda row: row["number"])
        if row["step"] == RETIRE for kind, _, code in [row["entry"].partition(":")])


def check_retired(store: Store) -> list[str]:
    """Rows that are not as the audit log saw them written, one line each."""
    with store.reading() as connection:
        return list(LOG.faults(connection))


def _entry(kind: str, code: str) -> str:
    return f"{kind}:{code}"
