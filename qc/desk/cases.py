"""A flag as a case: its evidence as the faces need it, and the list of pieces it touches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.desk.flags import FlagEvidence, flag_evidence
from qc.desk.shop import Shop
from qc.desk.whereabouts import whereabouts
from qc.domain.flags import Flag
from qc.domain.whereabouts import STATUSES
from qc.errors import NotFound
from qc.stats.comparing.intervals import wilson_interval
from qc.store.cases import read_cases

Floats = npt.NDArray[np.float64]

PIECE_TEXTS = ("piece_id", "location", "press", "operator", "fabric", "transfer", "transfer_lot",
               "garment_lot", "job", "disposition", "status")
MEASURED = ("_c", "_s", "_kpa", "_dial", "_mm", "_deg")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CaseDays:
    """The flagged level day by day; ``low`` and ``high`` are the Wilson 95 % interval of the share
    of pieces with the defect, 0..1."""

    day_start_us: npt.NDArray[np.int64]
    n_pieces: npt.NDArray[np.int64]
    n_seen: npt.NDArray[np.int64]
    expected: Floats
    low: Floats
    high: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLevel:
    """A level of the flagged factor since the change: seen over expected, 95 % interval."""

    level: str | None
    n_pieces: int
    n_seen: int
    expected: float
    ratio: float | None
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CasePiece:
    """A piece (or counted block of ``n``) that a case touches. None is not said.

    ``disposition`` is that of its newest look; ``status`` where it is now
    (`qc.domain.whereabouts`), ``shipped_at_us`` when it left, where that is known.
    """

    piece_id: str
    location: str | None
    press: str | None
    operator: str | None
    fabric: str | None
    transfer: str | None
    transfer_lot: str | None
    garment_lot: str | None
    job: str | None
    pressed_at_us: int
    disposition: str | None
    n: int
    defects: str
    status: str = "in_house"
    shipped_at_us: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One flag with its evidence. ``shown_kind``: the defect kind ``days`` and ``levels`` count;
    None where no defect is concerned. ``pieces``: newest first."""

    flag: Flag
    shown_kind: str | None
    days: CaseDays | None
    levels: tuple[CaseLevel, ...]
    pieces: tuple[CasePiece, ...]


def case_of(
    shop: Shop, flag_id: str, *, as_of_us: int, now_us: int | None = None
) -> Case:
    """The case of a flag; NotFound if there is no such flag at that moment.

    ``now_us``: when to look where the pieces are, if later than the evidence.

    A flag that is no longer raised (a baseline was frozen, records came in late) is known by its
    case alone, as it stood when that was opened.
    """
    try:
        evidence = flag_evidence(shop, flag_id, as_of_us=as_of_us)
    except NotFound:
        kept = read_cases(shop.store, as_of_us=as_of_us).get(flag_id)
        if kept is None:
            raise
        return Case(flag=kept.flag, shown_kind=None, days=None, levels=(), pieces=())
    flag = evidence.flag
    kinds = [c for c in (flag.characteristic, *flag.also) if not c.endswith(MEASURED)]
    return Case(
        flag=flag, shown_kind=kinds[0] if kinds else None, days=_days(evidence),
        levels=_levels(evidence),
        pieces=case_pieces(evidence.pieces.assign(
            **whereabouts(shop, evidence.pieces, as_of_us=now_us or as_of_us))),
    )


def by_status(pieces: tuple[CasePiece, ...]) -> dict[str, int]:
    """How many pieces are where, in the order somebody must act; all statuses, 0 too."""
    counted = dict.fromkeys(STATUSES, 0)
    for piece in pieces:
        counted[piece.status] += piece.n
    return counted


def _days(evidence: FlagEvidence) -> CaseDays | None:
    series = evidence.series
    if series is None or len(series.day_start_us) == 0:
        return None
    n = np.maximum(np.round(series.pieces).astype(np.int64), 1)
    seen = np.clip(np.round(series.observed).astype(np.int64), 0, n)
    interval = wilson_interval(seen, n)
    return CaseDays(
        day_start_us=np.asarray(series.day_start_us), n_pieces=n, n_seen=seen,
        expected=np.asarray(series.expected, dtype=np.float64),
        low=np.atleast_1d(interval.low), high=np.atleast_1d(interval.high),
    )


def _levels(evidence: FlagEvidence) -> tuple[CaseLevel, ...]:
    return tuple(
        CaseLevel(level=row.level, n_pieces=round(row.pieces), n_seen=round(row.observed),
                  expected=row.expected, ratio=row.ratio, low=row.low, high=row.high)
        for row in evidence.by_level
    )


def case_pieces(frame: pd.DataFrame) -> tuple[CasePiece, ...]:
    """Listed pieces with what `qc.desk.whereabouts` says of them, newest first."""
    newest = frame.sort_values("pressed_at", ascending=False, kind="stable")
    said = {name: newest[name].astype(object).where(newest[name].notna(), None).tolist()
            for name in PIECE_TEXTS}
    names = list(said)
    shipped = newest["shipped_at"].astype(object).where(newest["shipped_at"].notna(), None)
    rows = zip(*said.values(), newest["pressed_at"], newest["n"], newest["defects"], shipped,
               strict=True)
    return tuple(
        CasePiece(**dict(zip(names, row[:-4], strict=True)), pressed_at_us=int(row[-4]),
                  n=int(row[-3]), defects=str(row[-2]),
                  shipped_at_us=None if row[-1] is None else int(row[-1]))
        for row in rows
    )
