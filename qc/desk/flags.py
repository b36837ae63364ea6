"""What is off now, since when, and what it touches; and the evidence behind one flag."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from qc.desk.baseline import outdated
from qc.desk.baseline_words import baseline_cautions
from qc.desk.piece_lists import listed_pieces
from qc.desk.scanning import scanned
from qc.desk.shop import Shop
from qc.domain.flags import Flag, FlagList
from qc.errors import NotFound
from qc.monitor.evidence_view import LevelComparison, Series, compare_levels, stream_series
from qc.monitor.findings import Finding
from qc.monitor.phrases import moment
from qc.store.cases import closed_flags


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


def current_flags(shop: Shop, *, as_of_us: int) -> FlagList:
    """Every flag signalled up to a moment and not closed as a case, most urgent first.

    A closed case does not hide what joins its flag later: the flag comes back and says so.
    """
    found = scanned(shop, as_of_us).scan
    closed = closed_flags(shop.store, as_of_us=as_of_us)
    cautions = baseline_cautions(outdated(shop, as_of_us=as_of_us), shop)
    flags = (_unless_closed(flag, found.findings[flag.id], closed.get(flag.id), shop)
             for flag in found.flags.flags)
    return replace(found.flags, flags=tuple(flag for flag in flags if flag is not None),
                   cautions=(*found.flags.cautions, *cautions))


def _unless_closed(flag: Flag, finding: Finding, closed_us: int | None, shop: Shop) -> Flag | None:
    if closed_us is None:
        return flag
    if finding.renewed_at_us is None or finding.renewed_at_us <= closed_us:
        return None
    closed = moment(closed_us, shop.zone)
    return replace(flag, message=f"{flag.message} Its case was closed {closed}; since then more of "
                   "it has been signalled: look again, and reopen the case.")


def flags_of_pieces(
    shop: Shop, name: str, level: str, *, as_of_us: int
) -> tuple[tuple[Flag, int], ...]:
    """The current flags that touch pieces of one level (a job, a lot ...), and how many of them."""
    found = scanned(shop, as_of_us)
    pieces = found.counted.pieces
    mine = np.where((pieces[name] == level).to_numpy(dtype=bool, na_value=False), pieces["n"], 0)
    touched = []
    for flag in current_flags(shop, as_of_us=as_of_us).flags:
        units = found.scan.findings[flag.id].units
        n = int(mine[np.unique(found.evidence.unit_piece[units])].sum())
        if n:
            touched.append((flag, n))
    return tuple(touched)


def flag_evidence(shop: Shop, flag_id: str, *, as_of_us: int) -> FlagEvidence:
    """The evidence behind one flag; NotFound if there is no such flag at that moment."""
    found = scanned(shop, as_of_us)
    flags = {flag.id: flag for flag in found.scan.flags.flags}
    if flag_id not in flags:
        raise NotFound(f"there is no flag {flag_id!r} as of {shop.minute(as_of_us)}")
    finding = found.scan.findings[flag_id]
    return FlagEvidence(
        flag=flags[flag_id], series=stream_series(found.scan, finding),
        by_level=compare_levels(found.scan, finding),
        pieces=listed_pieces(found.counted, np.unique(found.evidence.unit_piece[finding.units])),
    )
