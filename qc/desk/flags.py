"""What is off now, since when, and what it touches; and the evidence behind one flag."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.desk.evidence import counted_pieces, evidence_of, measurements_of, platen_signals
from qc.desk.shop import Shop
from qc.domain.counting import CountedPieces
from qc.domain.flags import Flag, FlagList
from qc.domain.instants import parse_instant
from qc.errors import NotFound
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import Evidence
from qc.monitor.evidence_view import LevelComparison, Series, compare_levels, stream_series
from qc.monitor.scan import Scan, scan

KEPT_SCANS = 3
PIECE_COLUMNS = (
    "piece_id", "location", "press", "operator", "fabric", "transfer", "transfer_lot",
    "garment_lot", "job", "pressed_at", "disposition", "n",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FlagEvidence:
    """What one flag rests on.

    ``series``: observed and expected of the flagged level over time. ``by_level``: the levels of
    the flagged factor since the change. ``pieces``: the pieces at risk, one row each, with
    ``defects`` as text.
    """

    flag: Flag
    series: Series | None
    by_level: tuple[LevelComparison, ...]
    pieces: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Scanned:
    scan: Scan
    counted: CountedPieces
    evidence: Evidence


_kept: OrderedDict[tuple[object, ...], _Scanned] = OrderedDict()
_lock = Lock()


def current_flags(shop: Shop, *, as_of_us: int) -> FlagList:
    """Every flag signalled up to a moment, most urgent first."""
    return _scanned(shop, as_of_us).scan.flags


def flag_evidence(shop: Shop, flag_id: str, *, as_of_us: int) -> FlagEvidence:
    """The evidence behind one flag; NotFound if there is no such flag at that moment."""
    scanned = _scanned(shop, as_of_us)
    flags = {flag.id: flag for flag in scanned.scan.flags.flags}
    if flag_id not in flags:
        raise NotFound(f"there is no flag {flag_id!r} as of {shop.iso(as_of_us)}")
    finding = scanned.scan.findings[flag_id]
    return FlagEvidence(
        flag=flags[flag_id], series=stream_series(scanned.scan, finding),
        by_level=compare_levels(scanned.scan, finding),
        pieces=_pieces_at_risk(scanned, finding.units),
    )


def _scanned(shop: Shop, as_of_us: int) -> _Scanned:
    """The scan as of a moment; the last few are kept while the store does not change."""
    settings = tuple(sorted(shop.settings.items()))
    key = (shop.store.location, shop.store.change_number(), as_of_us, settings)
    with _lock:
        if key not in _kept:
            _kept[key] = _scan_now(shop, as_of_us)
            while len(_kept) > KEPT_SCANS:
                _kept.popitem(last=False)
        _kept.move_to_end(key)
        return _kept[key]


def _scan_now(shop: Shop, as_of_us: int) -> _Scanned:
    counted = counted_pieces(shop, as_of_us=as_of_us)
    evidence = evidence_of(counted)
    budget = AlarmBudget(false_flags_per_week=float(shop.settings["false_flags_per_week"]))
    baseline = shop.settings["baseline_from"]
    found = scan(
        evidence, measurements_of(shop, counted, evidence, as_of_us=as_of_us),
        platen_signals(shop, as_of_us=as_of_us), budget, as_of_us=as_of_us, zone=shop.zone,
        baseline_from_us=parse_instant(baseline, shop.zone) if baseline else None,
    )
    return _Scanned(scan=found, counted=counted, evidence=evidence)


def _pieces_at_risk(scanned: _Scanned, units: npt.NDArray[np.int64]) -> pd.DataFrame:
    at = np.unique(scanned.evidence.unit_piece[units])
    pieces = scanned.counted.pieces.loc[at, list(PIECE_COLUMNS)].reset_index(drop=True)
    faults = scanned.counted.faults
    mine = faults[faults["at"].isin(at)]
    zone = mine["zone"].astype(object)
    text = mine["kind"].astype(str) + ("@" + zone.where(zone.notna(), "").astype(str)).where(
        zone.notna(), ""
    )
    joined = text.groupby(mine["at"].to_numpy()).agg(";".join)
    pieces["defects"] = joined.reindex(at).fillna("").to_numpy()
    return pieces
