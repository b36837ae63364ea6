"""What became of a job: each piece, what was found, where it stands, what is against release."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.desk.cases import CasePiece, case_pieces
from qc.desk.flags import flags_of_pieces
from qc.desk.job_sheet import JobSheet, job_sheet
from qc.desk.piece_lists import LOOK_COLUMNS, by_disposition, listed_pieces
from qc.desk.presses import press_health
from qc.desk.shares import Share, share_of
from qc.desk.shop import Shop
from qc.desk.whereabouts import whereabouts
from qc.domain.counting import LOOKS, CountedPieces, count_once
from qc.domain.flags import Flag
from qc.domain.platens import PlatenHealth
from qc.errors import NotFound
from qc.store.inspections import read_findings, read_looks

WORK = ("fabric", "transfer", "location", "press", "transfer_lot", "garment_lot")
RELEASED = ("pass", "concession")


@dataclass(frozen=True, slots=True, kw_only=True)
class JobDefect:
    """One kind found at the first pressing: on ``n_pieces`` pieces, of which ``now`` have each
    disposition by their newest look (None: not said)."""

    kind: str
    n_pieces: int
    now: tuple[tuple[str | None, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LateLook:
    """Pieces looked at later than at the press ('after_24h', 'wash'), and those with a defect that
    was not seen before."""

    look: str
    n_pieces: int
    n_defective: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFlag:
    """A flag that is not closed, and how many of the job's pieces it touches."""

    flag: Flag
    n_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JobRecord:
    """All that is known of a job as of a moment.

    ``sheet`` : what was ordered, None where the job is on no list. ``work`` : levels seen, by name
    of `WORK`, None where the records say nothing. ``first`` : pieces with a defect at the first
    pressing, once each. ``n_complaints`` : looks at the customer's. ``pieces`` : oldest first, with
    where they are and their newest disposition. ``now`` : pieces by newest disposition, most first.
    ``platens`` : of the presses it was pressed on, as they stand.
    """

    job: str
    as_of_us: int
    sheet: JobSheet | None
    work: dict[str, tuple[str | None, ...]]
    first: Share | None
    defects: tuple[JobDefect, ...]
    late: tuple[LateLook, ...]
    n_complaints: int
    pieces: tuple[CasePiece, ...]
    now: tuple[tuple[str | None, int], ...]
    flags: tuple[JobFlag, ...]
    platens: tuple[PlatenHealth, ...]

    @property
    def n_pieces(self) -> int:
        return sum(piece.n for piece in self.pieces)

    @property
    def ordered(self) -> int | None:
        """Pieces ordered; None where nobody said."""
        found = None if self.sheet is None else self.sheet.values["ordered"]
        return None if found is None else int(found)

    @property
    def n_releasable(self) -> int:
        """Pieces whose newest look let them pass, on a garment that is neither held nor scrapped.
        """
        return sum(piece.n for piece in self.pieces if is_releasable(piece))


def is_releasable(piece: CasePiece) -> bool:
    """Whether a piece's newest look let it pass; every place of the garment must be in order."""
    return piece.disposition in RELEASED and piece.status not in ("held", "scrapped")


def job_record(shop: Shop, job: str, *, as_of_us: int) -> JobRecord:
    """The record of a job.

    Raises
    ------
    NotFound
        The job is on no list, and no piece of it was looked at.
    """
    sheet = _sheet(shop, job, as_of_us)
    looks, counted = _counted(shop, job, as_of_us)
    if counted.pieces.empty and sheet is None:
        raise NotFound(f"there is no job {job!r}, neither on the list nor on any piece")
    frame = listed_pieces(counted, np.arange(len(counted.pieces), dtype=np.int64))
    there = frame.assign(**whereabouts(shop, frame, as_of_us=as_of_us))
    work = {name: _levels(counted.pieces, name) for name in WORK}
    n = int(counted.pieces["n"].sum())
    return JobRecord(
        job=job, as_of_us=as_of_us, sheet=sheet, work=work,
        first=share_of(int(counted.pieces["n_defective"].sum()), n),
        defects=_defects(counted, there), late=_late(counted),
        n_complaints=int((looks["stage"] == "customer").sum()),
        pieces=case_pieces(there)[::-1], now=by_disposition(there, there["n"]),
        flags=tuple(JobFlag(flag=flag, n_pieces=touched) for flag, touched in flags_of_pieces(
            shop, "job", job, as_of_us=as_of_us)),
        platens=tuple(one for one in press_health(shop, as_of_us=as_of_us)
                      if one.press in work["press"]),
    )


def _sheet(shop: Shop, job: str, as_of_us: int) -> JobSheet | None:
    try:
        return job_sheet(shop, job, as_of_us=as_of_us)
    except NotFound:
        return None


def _counted(shop: Shop, job: str, as_of_us: int) -> tuple[pd.DataFrame, CountedPieces]:
    only = {"job": job}
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=LOOK_COLUMNS, only=only)
    return looks, count_once(looks, read_findings(shop.store, as_of_us=as_of_us, only=only))


def _levels(pieces: pd.DataFrame, name: str) -> tuple[str | None, ...]:
    known = sorted(str(level) for level in pieces[name].dropna().unique())
    return (*known, None) if pieces[name].isna().any() else tuple(known)


def _defects(counted: CountedPieces, there: pd.DataFrame) -> tuple[JobDefect, ...]:
    """Kinds by falling number of pieces."""
    found = [
        JobDefect(kind=str(kind), n_pieces=int(mine["n"].sum()),
                  now=by_disposition(there.iloc[mine["at"].to_numpy()], mine["n"]))
        for kind, mine in counted.kinds.groupby("kind", observed=True)]
    return tuple(sorted(found, key=lambda one: (-one.n_pieces, one.kind)))


def _late(counted: CountedPieces) -> tuple[LateLook, ...]:
    pieces, found = counted.pieces, []
    for look in LOOKS[1:]:
        had = pieces[f"had_{look}"].to_numpy(dtype=bool)
        new = counted.kinds[(counted.kinds["look"] == look).to_numpy()]
        if had.any():
            found.append(LateLook(look=look, n_pieces=int(pieces["n"][had].sum()),
                                  n_defective=int(new.groupby("at")["n"].max().sum())))
    return tuple(found)
