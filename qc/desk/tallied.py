"""Counts of pieces by hour and by day: from the tallies where they say the same as the records.

The tallies hold what is known now. Looking back from an earlier moment, when something was
recorded later, the pieces are counted again from the records as they were known then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.days import day_start_us, day_starts
from qc.domain.instants import HOUR_US
from qc.domain.ranking import MIX
from qc.intake.times import AHEAD_US
from qc.store.inspections import read_findings, read_looks
from qc.store.newest import corrected_since, newest_change_us, newest_inspected_us
from qc.store.sums import SPAN, Wanted, daily_shares, sum_tally

_COUNTED = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "press", "fabric",
            "transfer", "location", "pieces", "defective")
_HOURLY = ("hour_us", "press", *MIX)
_BY_HOUR, _BY_DAY = ("piece_tally", "defect_tally"), ("day_tally", "day_defect_tally")
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
    cells, mixes = _cells(*_from_tallies(shop, kind, keys=_HOURLY, since_us=since_us))
    return _with_whole(shop, cells, mixes, kind)


def counted_spans(
    shop: Shop, spans: Sequence[tuple[int, int]], *, as_of_us: int, kind: str | None = None,
    only: Mapping[str, str] | None = None,
) -> CountedHours:
    """Pieces and defective pieces by stretch of time and mix: ``cells`` has the number of its
    stretch, ``span``, for the hour and no press.

    Parameters
    ----------
    spans : stretches (from inclusive, until exclusive), in order and without overlap; the hours
        that begin in them
    only : of press, fabric or transfer, the one level wanted
    """
    wanted = {key: [level] for key, level in (only or {}).items()}
    if recorded_later(shop, as_of_us):
        counts = counted_hours(shop, as_of_us=as_of_us, kind=kind)
        cells = _narrowed(counts.cells, only or {})
        span, is_inside = _span_of(cells["hour_us"].to_numpy(dtype=np.int64), spans)
        found = cells.assign(span=span)[is_inside].groupby(["span", "cell"])[
            ["n", "n_defective"]].sum().reset_index()
        return CountedHours(cells=found, whole=counts.whole, kind=kind)
    by_day = "press" not in wanted and all(
        us > as_of_us or day_start_us(us, shop.zone) == us for span in spans for us in span)
    cells, mixes = _cells(
        *_from_tallies(shop, kind, keys=(SPAN, *MIX), where=wanted, spans=spans,
                       tables=_BY_DAY if by_day else _BY_HOUR), keys=(SPAN, *MIX))
    return _with_whole(shop, cells, mixes, kind)


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
    shop: Shop, kind: str | None, *, keys: Sequence[str], since_us: int | None = None,
    where: Wanted | None = None, spans: Sequence[tuple[int, int]] | None = None,
    tables: tuple[str, str] = _BY_HOUR,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    first = {"look": [FIRST_LOOK], **(where or {})}
    pieces = sum_tally(shop.store, tables[0], keys, since_us=since_us, where=first, spans=spans)
    if kind is None:
        return pieces, pieces.drop(columns="n").rename(columns={"n_defective": "n"})
    return pieces, sum_tally(shop.store, tables[1], keys, since_us=since_us,
                             where=first | {"kind": [kind]}, spans=spans)


def _with_whole(
    shop: Shop, cells: pd.DataFrame, mixes: pd.DataFrame, kind: str | None
) -> CountedHours:
    whole = mixes.merge(_mix_totals(shop, kind), on=list(MIX), how="left")  # in their order
    return CountedHours(cells=cells, whole=whole[["n", "n_defective"]], kind=kind)


def _narrowed(cells: pd.DataFrame, only: Mapping[str, str]) -> pd.DataFrame:
    for key, level in only.items():
        cells = cells[cells[key] == level]
    return cells


def _span_of(
    hours: npt.NDArray[np.int64], spans: Sequence[tuple[int, int]]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """The number of the stretch each hour begins in, and whether there is one."""
    first, until = (np.array(ends, dtype=np.int64) for ends in zip(*spans, strict=True))
    at = np.searchsorted(first, hours, side="right") - 1
    return at, (at >= 0) & (hours < until[at])


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


def _cells(
    pieces: pd.DataFrame, bad: pd.DataFrame, keys: Sequence[str] = _HOURLY
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Counts by time (the first key), press and mix, the mix numbered; and the mixes by number."""
    keys = list(keys)
    texts = dict.fromkeys(keys[1:], object)
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
