"""Steps of cases: only ever added, each in one transaction with its audit row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from sqlalchemy import Connection

from qc.domain.baselines import AgreedChange
from qc.domain.case_words import brief_words
from qc.domain.cases import (
    AGREED_CHANGE,
    OPEN,
    CaseFile,
    CaseStep,
    case_files,
    check_step,
    flag_to_json,
    is_repeat,
)
from qc.domain.flags import Flag
from qc.errors import Conflict
from qc.store.audit import newest_but
from qc.store.base import Change, Store
from qc.store.holding import hold_looks
from qc.store.retiring import LIST_STEP
from qc.store.schema import case_steps
from qc.store.steps import StepLog, said_in
from qc.store.stream_baselines import FREEZE as FREEZE_STREAM

SERVICE_STEP = "service step"
LOG = StepLog(table=case_steps, key="flag_id", what="case step")


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStep:
    """A step to be taken.

    ``flag``: as it stands now, for the case's first step. ``seen``: number of the newest step the
    person had before them (0: none); None adds the step to whatever is there.
    """

    flag: Flag
    step: str
    said: Mapping[str, Any]
    seen: int | None = None


def add_step(store: Store, new: NewStep, *, by: str, at_us: int) -> CaseFile:
    """Add a step to a flag's case, opening it with its first; the case as it is now.

    A step that was said already by the same person changes nothing.

    Raises
    ------
    InputError
        Nobody is named, or the step lacks what it needs.
    Conflict
        The step cannot follow, or somebody took one in between.
    """
    with LOG.changing(store, by, at_us) as change:
        before = _begin(change, new)
        if before is not None and is_repeat(before, new.step, new.said, change.by):
            change.drop()
            return before
        return _append(change, new, before, dict(new.said))


def contain(
    store: Store, new: NewStep, looks: npt.NDArray[np.int64], *, by: str, at_us: int
) -> CaseFile:
    """Hold the looks given and add the step that says so, both or neither.

    ``new.said`` goes into the step, with ``n_held``, the looks that were put on hold.
    """
    with LOG.changing(store, by, at_us) as change:
        before = _begin(change, new)
        held = hold_looks(change, looks, why=f"held by case {new.flag.id}: {new.flag.message}")
        return _append(change, new, before, dict(new.said) | {"n_held": held})


def read_steps(
    store: Store, *, flag_id: str | None = None, as_of_us: int | None = None
) -> tuple[CaseStep, ...]:
    """Steps taken up to a moment, of one case or of all, oldest first."""
    with store.reading() as connection:
        return _steps(connection, flag_id, as_of_us)


def read_cases(store: Store, *, as_of_us: int | None = None) -> dict[str, CaseFile]:
    """Every case as it was at a moment, by flag, in the order they were opened."""
    return case_files(read_steps(store, as_of_us=as_of_us))


def closed_flags(store: Store, *, as_of_us: int) -> dict[str, int]:
    """Flags whose case was closed at a moment, and since when."""
    cases = read_cases(store, as_of_us=as_of_us)
    return {flag_id: case.closed.at_us for flag_id, case in cases.items() if case.closed}


def agreed_changes(store: Store, *, as_of_us: int | None = None) -> tuple[AgreedChange, ...]:
    """Changes that closed cases found to be meant, in the order the cases were opened."""
    return tuple(
        AgreedChange(at_us=case.flag.changed_at_us, by=step.by, why=str(step.said["words"]),
                     flag_id=case.flag_id)
        for case in read_cases(store, as_of_us=as_of_us).values()
        if case.is_closed and (step := case.newest("cause")) is not None
        and step.said["source"] == AGREED_CHANGE
    )


def evidence_number(store: Store) -> int:
    """Grows with every change but steps of cases and service orders, and frozen limits: what was
    found in the records at the same number still holds, since a step changes no more of a look
    than its disposition."""
    with store.reading() as connection:
        return newest_but(connection, LOG.what, SERVICE_STEP, FREEZE_STREAM, LIST_STEP)


def check_cases(store: Store) -> list[str]:
    """Rows that are not as the audit log saw them written, one line each."""
    with store.reading() as connection:
        return list(LOG.faults(connection))


def _begin(change: Change, new: NewStep) -> CaseFile | None:
    """The case before the step, which can follow."""
    steps = _steps(change.connection, new.flag.id, None)
    before = CaseFile(steps=steps) if steps else None
    if before is not None and not is_repeat(before, new.step, new.said, change.by):
        _check_seen(before, new.seen)
        check_step(before, new.step, new.said)
    if before is None:
        check_step(None, new.step, new.said)
    return before


def _check_seen(before: CaseFile, seen: int | None) -> None:
    if seen is None or seen == before.last:
        return
    missed = [step for step in before.steps if step.number > seen and step.step != OPEN]
    told = ", ".join(f"{step.by} {brief_words(step)}" for step in missed)
    raise Conflict(f"somebody was here in between ({told}); look at the case, then do it again")


def _append(
    change: Change, new: NewStep, before: CaseFile | None, said: dict[str, Any]
) -> CaseFile:
    opening = [] if before else [(OPEN, {"flag": flag_to_json(new.flag)})]
    rows = LOG.append(change, new.flag.id, [*opening, (new.step, said)])
    return CaseFile(steps=(*(before.steps if before else ()), *map(_step, rows)))


def _steps(
    connection: Connection, flag_id: str | None, as_of_us: int | None
) -> tuple[CaseStep, ...]:
    return tuple(map(_step, LOG.read(connection, key=flag_id, as_of_us=as_of_us)))


def _step(row: dict[str, Any]) -> CaseStep:
    return CaseStep(number=row["number"], flag_id=row["flag_id"], step=row["step"],
                    by=row["taken_by"], at_us=row["taken_at"], said=said_in(row))
