"""Counts of pieces by hour: from the tallies where they say the same as the records.

The tallies hold what is known now. Looking back from an earlier moment, when something was
recorded later, the pieces are counted again from the records as they were known then.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from sqlalchemy import func, or_, select

from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.instants import HOUR_US
from qc.domain.ranking import MIX
from qc.intake.times import AHEAD_US
from qc.store.inspections import read_findings, read_looks
from qc.store.schema import audit, inspections
from qc.store.tallies import read_defect_tally, read_piece_tally

_COUNTED = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "press", "fabric",
            "transfer", "location", "pieces", "defective")
FIRST_LOOK = "prompt"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountedHours:
    """Pieces looked at on the day (after peel or final), once each.

    ``cells``: one row for each hour, press and mix of work: ``hour_us``, ``press``, ``cell`` (the
    number of the combination of fabric, transfer and place), ``n`` pieces, ``n_defective`` those
    with at least one defect or, where one kind was asked for, with that kind.
    """

    cells: pd.DataFrame
    kind: str | None


def counted_hours(shop: Shop, *, as_of_us: int, kind: str | None = None) -> CountedHours:
    """Pieces and defective pieces by hour, press and mix, as known at a moment."""
    if recorded_later(shop, as_of_us):
        pieces, bad = _from_records(shop, as_of_us, kind)
    else:
        pieces, bad = _from_tallies(shop, kind)
    return CountedHours(cells=_cells(pieces, bad), kind=kind)


def recorded_later(shop: Shop, as_of_us: int) -> bool:
    """Whether the store holds a look made, or a correction written, after a moment."""
    table = inspections
    with shop.store.reading() as connection:
        newest = connection.scalar(select(func.max(audit.c.changed_at))) or 0
    if int(newest) + AHEAD_US <= as_of_us:
        return False  # nothing was written since, and no time further ahead is taken in
    later = or_(
        table.c.inspected_at > int(as_of_us),
        (table.c.revision > 1) & (table.c.changed_at > int(as_of_us)),
    )
    with shop.store.reading() as connection:
        return connection.execute(select(table.c.number).where(later).limit(1)).first() is not None


def _from_tallies(shop: Shop, kind: str | None) -> tuple[pd.DataFrame, pd.DataFrame]:
    pieces = read_piece_tally(shop.store)
    pieces = pieces[pieces["look"] == FIRST_LOOK]
    if kind is None:
        return pieces, pieces.drop(columns="n").rename(columns={"n_defective": "n"})
    found = read_defect_tally(shop.store)
    return pieces, found[(found["look"] == FIRST_LOOK) & (found["kind"] == kind)]


def _from_records(
    shop: Shop, as_of_us: int, kind: str | None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=list(_COUNTED))
    counted = count_once(looks, read_findings(shop.store, as_of_us=as_of_us))
    pieces = counted.pieces
    pieces["hour_us"] = pieces["pressed_at"].to_numpy(dtype=np.int64) // HOUR_US * HOUR_US
    had = pieces["had_prompt"].to_numpy()
    if kind is None:
        bad = pieces[had].drop(columns="n").rename(columns={"n_defective": "n"})
    else:
        mine = counted.kinds
        mine = mine[(mine["kind"] == kind) & (mine["look"] == FIRST_LOOK)]
        bad = pieces.loc[mine["at"].to_numpy()].assign(n=mine["n"].to_numpy())
    return pieces[had], bad


def _cells(pieces: pd.DataFrame, bad: pd.DataFrame) -> pd.DataFrame:
    keys = ["hour_us", "press", *MIX]
    rows = pd.concat([
        pieces[keys].astype({"press": object, **dict.fromkeys(MIX, object)}).assign(
            n=pieces["n"].to_numpy(dtype=np.int64), n_defective=0),
        bad[keys].astype({"press": object, **dict.fromkeys(MIX, object)}).assign(
            n=0, n_defective=bad["n"].to_numpy(dtype=np.int64)),
    ], ignore_index=True)
    total = rows.groupby(keys, dropna=False, sort=True)[["n", "n_defective"]].sum().reset_index()
    total["cell"] = total.groupby(list(MIX), dropna=False, sort=False).ngroup()
    return total
