"""The scan behind every answer about flags: made once for a moment, kept while nothing changes."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from threading import Lock

from qc.desk.decisions import decisions
from qc.desk.evidence import (
    LOOK_COLUMNS,
    counted_pieces,
    evidence_of,
    measurements_of,
    platen_signals,
)
from qc.desk.flag_words import in_words
from qc.desk.shop import Shop
from qc.domain.counting import CountedPieces
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import Evidence
from qc.monitor.following import Follower
from qc.monitor.scan import Scan, scan
from qc.store.cases import closed_flags, evidence_number
from qc.store.kept import KeptLooks

KEPT_SCANS = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Scanned:
    """A scan with the pieces and the evidence it was made from."""

    scan: Scan
    counted: CountedPieces
    evidence: Evidence


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Known:
    """What is known of a store's records already, so that new ones cost little."""

    looks: KeptLooks = field(default_factory=lambda: KeptLooks(LOOK_COLUMNS))
    follower: Follower = field(default_factory=Follower)


_kept: OrderedDict[tuple[object, ...], Scanned] = OrderedDict()
_known: OrderedDict[str, _Known] = OrderedDict()
_lock = Lock()


def records_number(shop: Shop) -> int:
    """Grows with every change that flags can depend on: a scan at the same number still holds."""
    return evidence_number(shop.store)


def scanned(shop: Shop, as_of_us: int) -> Scanned:
    """The scan as of a moment; the last few are kept while the store does not change."""
    settings = tuple(sorted(shop.settings.items()))
    # what closed cases found is part of the words
    n_closed = len(closed_flags(shop.store, as_of_us=as_of_us))
    key = (shop.store.location, records_number(shop), n_closed, as_of_us, settings)
    with _lock:
        if key not in _kept:
            _kept[key] = _scan_now(shop, as_of_us)
            while len(_kept) > KEPT_SCANS:
                _kept.popitem(last=False)
        _kept.move_to_end(key)
        return _kept[key]


def _known_of(shop: Shop) -> _Known:
    found = _known.setdefault(shop.store.location, _Known())
    _known.move_to_end(shop.store.location)
    while len(_known) > KEPT_SCANS:
        _known.popitem(last=False)
    return found


def _scan_now(shop: Shop, as_of_us: int) -> Scanned:
    known = _known_of(shop)
    counted = counted_pieces(shop, known.looks, as_of_us=as_of_us)
    evidence = evidence_of(counted)
    budget = AlarmBudget(false_flags_per_week=float(shop.settings["false_flags_per_week"]))
    found = scan(
        evidence, measurements_of(shop, counted, evidence, as_of_us=as_of_us),
        platen_signals(shop, as_of_us=as_of_us), budget, as_of_us=as_of_us, zone=shop.zone,
        baselines=decisions(shop, as_of_us=as_of_us), follower=known.follower,
    )
    return Scanned(scan=in_words(found, shop), counted=counted, evidence=evidence)
