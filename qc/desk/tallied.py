"""Counts of pieces by hour and by day: from the tallies where they say the same as the records.

The tallies hold what is known now. Looking back from an earlier moment, when something was
recorded later, the pieces are counted again from the records as they were known then.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.days import day_starts
from qc.domain.instants import HOUR_US
from qc.domain.ranking import MIX
from qc.intake.times import AHEAD_US
from qc.store.inspections import read_findings, read_looks
from qc.store.newest import corrected_since, newest_change_us, newest_inspected_us
from qc.store.sums import daily_shares, sum_tally

_COUNTED = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "press", "fabric",
            "transfer", "location", "pieces", "defective")
FIRST_LOOK = "prompt"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountedHours:
    """Pieces looked at on the day (after peel or final), once each.

    ``cells``: one row for each hour, press and mix of work: ``hour_us``, ``press``, ``cell`` (the
    number of the combination of fabric, transfer and place), ``n`` pieces, ``n_defective`` those
    with at least one defect or, where one kind was asked for, with that kind. ``whole``: n and
    n_defective of each cell over the whole history, also where only later hours were asked for.
    """

    cells: pd.DataFrame
    whole: pd.DataFrame
    kind: str | None

    @property
    def usual(self) -> pd.Series:
        """The share of defective pieces of each cell over the whole history."""
        return _share(self.whole)

    def usual_without(self, own: pd.DataFrame) -> pd.Series:
        """The same over all but these rows of ``cells``."""
        mine = own.groupby("cell")[["n", "n_defective"]].sum()
        return _share(self.whole.sub(mine, fill_value=0))


def counted_hours(
    shop: Shop, *, as_of_us: int, kind: str | None = None, since_us: int | None = None
) -> CountedHours:
    """Pieces and defective pieces by hour, press and mix, as known at a moment; hours that begin
    at ``since_us`` or later."""
    if recorded_later(shop, as_of_us):
        cells, mixes = _cells(*_from_records(shop, as_of_us, kind))
        whole = cells.groupby("cell")[["n", "n_defective"]].sum()
        if since_us is not None:
            cells = cells[cells["hour_us"] >= since_us]
        return CountedHours(cells=cells, whole=whole, kind=kind)
    cells, mixes = _cells(*_from_tallies(shop, kind, since_us))
    whole = mixes.merge(_mix_totals(shop, kind), on=list(MIX), how="left")  # in their order
    return CountedHours(cells=cells, whole=whole[["n", "n_defective"]], kind=kind)


def counted_days(
    shop: Shop, *, as_of_us: int, kind: str | None = None, since_us: int | None = None
) -> pd.DataFrame:
    """Pieces looked at on the day by the shop's day, as known at a moment: ``day_us``, ``n``,
    ``n_defective`` and ``expected``, what their mix usually gives; days from ``since_us`` on."""
    if not recorded_later(shop, as_of_us):
        days = daily_shares(shop.store, kind=kind, since_us=since_us)
        return days[days["day_us"] <= as_of_us]
    counts = counted_hours(shop, as_of_us=as_of_us, kind=kind)
    cells = counts.cells[counts.cells["hour_us"] <= as_of_us]
    expected = cells["n"] * cells["cell"].map(counts.usual)
    day = day_starts(cells["hour_us"].to_numpy(dtype=np.int64), shop.zone)
    days = cells.assign(expected=expected, day_us=day).groupby("day_us")[
        ["n", "n_defective", "expected"]].sum().reset_index()
    return days if since_us is None else days[days["day_us"] >= since_us]


def recorded_later(shop: Shop, as_of_us: int) -> bool:
    """Whether the store holds a look made, or a correction written, after a moment.

    Up to `AHEAD_US` after it does not count: the clock of a device may be ahead by so much, and
    what it saves now is not later.
    """
    moment = as_of_us + AHEAD_US
    if (newest_change_us(shop.store) or 0) <= as_of_us:
        return False  # nothing was written since, and no time further ahead is taken in
    newest = newest_inspected_us(shop.store)
    return (newest is not None and newest > moment) or corrected_since(shop.store, moment)


def _from_tallies(
    shop: Shop, kind: str | None, since_us: int | None
) -> tuple[pd.DataFrame, pd.DataFrame]:
    keys = ("hour_us", "press", *MIX)
    first = {"look": [FIRST_LOOK]}
    pieces = sum_tally(shop.store, "piece_tally", keys, since_us=since_us, where=first)
    if kind is None:
        return pieces, pieces.drop(columns="n").rename(columns={"n_defective": "n"})
    return pieces, sum_tally(shop.store, "defect_tally", keys, since_us=since_us,
                             where=first | {"kind": [kind]})


def _mix_totals(shop: Shop, kind: str | None) -> pd.DataFrame:
    """n and n_defective of each mix over the whole history."""
    first = {"look": [FIRST_LOOK]}
    bad = {"part": ["defective"]} if kind is None else {"part": ["defects"], "kind": [kind]}
    pieces = sum_tally(shop.store, "mix_tally", MIX, where=first | {"part": ["pieces"]})
    found = sum_tally(shop.store, "mix_tally", MIX, where=first | bad)
    return pieces.merge(found.rename(columns={"n": "n_defective"}), on=list(MIX), how="left"
                        ).fillna({"n_defective": 0})


def _share(total: pd.DataFrame) -> pd.Series:
    return total["n_defective"] / total["n"].where(total["n"] > 0)


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


def _cells(pieces: pd.DataFrame, bad: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Counts by hour, press and mix, the mix numbered; and the mixes by their number."""
    keys = ["hour_us", "press", *MIX]
    texts = dict.fromkeys(("press", *MIX), object)
    rows = pd.concat([
        pieces[keys].astype(texts).assign(n=pieces["n"].to_numpy(dtype=np.int64), n_defective=0),
        bad[keys].astype(texts).assign(n=0, n_defective=bad["n"].to_numpy(dtype=np.int64)),
    ], ignore_index=True)
    # texts again: what no record says would come back as numbers, and join with no text
    total = rows.groupby(keys, dropna=False, sort=True)[["n", "n_defective"]].sum(
        ).reset_index().astype(texts)
    mixes = total.groupby(list(MIX), dropna=False, sort=False)
    total["cell"] = mixes.ngroup()
    return total, total[list(MIX)].drop_duplicates(ignore_index=True)
