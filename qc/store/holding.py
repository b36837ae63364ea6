"""Holding many pieces at once: a new version of each look, with who, when and why."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd
from sqlalchemy import Connection, select, update

from qc.domain.records import FINDINGS, INSPECTIONS
from qc.store.base import Change
from qc.store.frames import read_frame
from qc.store.hashing import look_fingerprints, piece_base
from qc.store.inspections import PIECE_WIDTH, write_findings
from qc.store.judging import stored_rows
from qc.store.schema import findings as findings_table
from qc.store.schema import inspections as table
from qc.store.tallies import update_tallies
from qc.store.words import among
from qc.store.writing import write_rows

Ints = npt.NDArray[np.int64]

HOLD = "hold"
_AT_ONCE = 20_000


def hold_looks(change: Change, looks: Ints, *, why: str) -> int:
    """Set the disposition of looks to hold by a correction of each; how many were changed.

    Parameters
    ----------
    looks : numbers of looks. What somebody corrected in between, or what is on hold already, is
        left as it is.

    Notes
    -----
    The corrections are dated no earlier than the newest correction they follow, so that a clock
    set back puts no version before the one it replaces.
    """
    numbers, held = np.unique(looks), 0
    for at in range(0, len(numbers), _AT_ONCE):
        held += _hold_part(change, numbers[at : at + _AT_ONCE], why)
    return held


def _hold_part(change: Change, numbers: Ints, why: str) -> int:
    rows = _standing(change.connection, numbers)
    if rows.empty:
        return 0
    old = rows["number"].to_numpy(dtype=np.int64)
    revision = rows["revision"].to_numpy(dtype=np.int64)
    corrected = rows["changed_at"].to_numpy(dtype=np.int64)[revision > 1]
    change.at_us = max(change.at_us, int(corrected.max(initial=0)))
    findings = _findings(change.connection, old)
    looks = rows[[field.name for field in INSPECTIONS.fields]].assign(disposition=HOLD)
    prints = look_fingerprints(looks, findings)
    before = stored_rows(change.connection, table, np.unique(piece_base(prints.identity)),
                         PIECE_WIDTH)
    before = before[before["superseded_at"].isna()]
    change.connection.execute(
        update(table).where(among(change.connection, table.c.number, old.tolist()))
        .values(superseded_at=change.at_us)
    )
    new = write_rows(change, INSPECTIONS, looks, prints, revision=revision + 1, why=why)
    looks.index = pd.Index(new, name="look")
    findings = findings.assign(look=new[findings["row"].to_numpy(dtype=np.int64)])
    write_findings(change, findings)
    update_tallies(change, before=before["number"].to_numpy(dtype=np.int64), gone=old,
                   looks=looks, findings=findings)
    return len(old)


def _standing(connection: Connection, numbers: Ints) -> pd.DataFrame:
    """Those that are the newest version of their look and not on hold."""
    query = select(table).where(
        among(connection, table.c.number, numbers.tolist()), table.c.superseded_at.is_(None),
        table.c.disposition != HOLD,
    )
    return read_frame(connection, query.order_by(table.c.number))


def _findings(connection: Connection, looks: Ints) -> pd.DataFrame:
    found = findings_table.c
    query = select(found.look, *(found[field.name] for field in FINDINGS.fields)).where(
        among(connection, found.look, looks.tolist()))
    frame = read_frame(connection, query.order_by(found.look, found.position))
    return frame.assign(row=np.searchsorted(looks, frame["look"].to_numpy(dtype=np.int64)))
