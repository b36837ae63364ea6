"""Counted streams from the tallies; from the records where tallies do not have the answer.

Tallies hold what is known now, by hour and one factor at a time. Looking back from an earlier
moment, or asking for one station or for the jobs of one press, person or lot, pieces are counted
from the records.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.desk.stream_charts.levels import of_level, press_only
from qc.desk.stream_charts.points import Cell, CountPoints, Floats, Ints
from qc.desk.stream_charts.steps import ends_of, starts_of, steps_between
from qc.desk.tallied import FIRST_LOOK, recorded_later
from qc.domain.counting import CountedPieces, count_once
from qc.domain.instants import DAY_US, HOUR_US
from qc.domain.ranking import MIX
from qc.domain.streams import Stream
from qc.store.inspections import read_findings, read_looks
from qc.store.sums import SPAN, Wanted, sum_tally
from qc.store.tallies import FACTORS, read_factor_tally, read_piece_tally

PLACES = ("press", *MIX)
LOOK_COLUMNS = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "location", "pieces",
                "defective")
WORK = ("press", "station", "fabric", "transfer", *FACTORS)


@dataclass(frozen=True, slots=True, eq=False)
class _Counted:
    """Frames with ``hour_us``, the mix, ``n`` and what the stream is chosen by: of all pieces, and
    of those with the defect (or of defects)."""

    pieces: pd.DataFrame
    bad: pd.DataFrame


def counted_points(
    shop: Shop, stream: Stream, *, as_of_us: int, since_us: int | None
) -> CountPoints:
    """The points of a stream of defects, oldest first.

    Notes
    -----
    Pieces count by their first looks, each once, in the hour they were pressed in; a step holds
    the hours that begin in it. Jobs stand in the order of their first hour. What a mix usually
    gives comes from the whole history of the whole shop, as known at ``as_of_us``.
    """
    if recorded_later(shop, as_of_us):
        counted = counted_records(shop, as_of_us=as_of_us)
        mine = _of_records(counted, stream)
        usual = _usual(_until(_of_records(counted, _whole(stream)), as_of_us))
    elif stream.by == "station" or (stream.step == "job" and stream.by not in ("shop", *MIX)):
        since = None if since_us is None else since_us - DAY_US
        counted = counted_records(shop, as_of_us=as_of_us, since_us=since, only=press_only(stream))
        mine, usual = _of_records(counted, stream), _usual_of_tallies(shop, stream)
    else:
        mine = _of_tallies(shop, stream, since_us, as_of_us)
        usual = _usual_of_tallies(shop, stream)
    return _points(shop, stream, _since(_until(mine, as_of_us), since_us), usual)


def counted_records(
    shop: Shop, *, as_of_us: int, since_us: int | None = None, work: tuple[str, ...] = WORK,
    only: Mapping[str, str] | None = None,
) -> CountedPieces:
    """Pieces counted once from the records, with what is wanted of their work; ``only`` : columns
    with the one value wanted."""
    columns = list(dict.fromkeys([*LOOK_COLUMNS, *work]))
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=columns, since_us=since_us, only=only)
    found = read_findings(shop.store, as_of_us=as_of_us, since_us=since_us, only=only)
    return count_once(looks, found)


def _whole(stream: Stream) -> Stream:
    """The same defects in the whole shop, counted in the same way."""
    if stream.by == "zone":
        return stream  # usual is what the mix gives in this zone of the print
    return replace(stream, by="shop", level="", step="day" if not stream.per_unit else "job")


def _of_tallies(shop: Shop, stream: Stream, since_us: int | None, as_of_us: int) -> _Counted:
    """Counts of the hours from ``since_us`` on, or of whole steps by their first hour."""
    factor = stream.by if stream.by in (*FACTORS, "zone") else "job"
    if stream.by in PLACES or stream.by == "shop":
        if stream.step != "job" and not stream.per_unit:
            return _of_places(shop, stream, since_us, as_of_us)
        factor = "job"
    rows = _first(read_factor_tally(shop.store, factor, since_us=since_us))
    of_kind = rows["kind"].notna() if not stream.of else rows["kind"] == stream.of
    pieces, bad = rows[rows["kind"].isna()], rows[of_kind]
    if factor == "zone":  # every piece has every zone
        pieces = _first(read_piece_tally(shop.store, since_us=since_us))
        return _Counted(pieces=pieces, bad=bad[bad["level"] == stream.level])
    if factor == "job":
        return _narrowed(_Counted(pieces=pieces.rename(columns={"level": "job"}),
                                  bad=bad.rename(columns={"level": "job"})), stream)
    return _Counted(pieces=pieces[pieces["level"] == stream.level],
                    bad=bad[bad["level"] == stream.level])


def _of_places(shop: Shop, stream: Stream, since_us: int | None, as_of_us: int) -> _Counted:
    steps = (None if since_us is None
             else steps_between(shop, since_us, as_of_us + 1, stream.step))
    time = "hour_us" if steps is None else SPAN
    mine = {"look": [FIRST_LOOK]} | ({stream.by: [stream.level]} if stream.by in PLACES else {})

    def added(tally: str, where: Wanted) -> pd.DataFrame:
        rows = sum_tally(shop.store, tally, (time, *MIX), where=where, spans=steps)
        if steps is None:
            return rows
        first = np.array([-(-begin // HOUR_US) * HOUR_US for begin, _ in steps], dtype=np.int64)
        return rows.assign(hour_us=first[rows[SPAN].to_numpy(dtype=np.int64)])

    pieces = added("piece_tally", mine)
    if not stream.of:
        return _Counted(pieces=pieces, bad=pieces.drop(columns="n").rename(
            columns={"n_defective": "n"}))
    return _Counted(pieces=pieces, bad=added("defect_tally", mine | {"kind": [stream.of]}))


def _usual_of_tallies(shop: Shop, stream: Stream) -> dict[Cell, float]:
    """`_usual` of the whole shop from sums over the whole history: as quick however long it is."""
    first = {"look": [FIRST_LOOK]}
    kind = {"kind": [stream.of]} if stream.of else {}
    if stream.by == "zone":
        part = {"part": ["zones"], "zone": [stream.level]} | kind
    elif stream.of or stream.per_unit:
        part = {"part": ["defects"]} | kind
    else:
        part = {"part": ["defective"]}
    pieces, bad = (sum_tally(shop.store, "mix_tally", MIX, where=first | wanted)
                   for wanted in ({"part": ["pieces"]}, part))
    return _usual(_Counted(pieces=pieces, bad=bad))


def _first(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[rows["look"] == FIRST_LOOK]


def _narrowed(counted: _Counted, stream: Stream) -> _Counted:
    if stream.by == "shop":
        return counted
    return _Counted(pieces=counted.pieces[of_level(counted.pieces, stream)],
                    bad=counted.bad[of_level(counted.bad, stream)])


def _of_records(counted: CountedPieces, stream: Stream) -> _Counted:
    pieces = counted.pieces.assign(
        hour_us=counted.pieces["pressed_at"].to_numpy(dtype=np.int64) // HOUR_US * HOUR_US)
    had = pieces["had_prompt"].to_numpy()
    if stream.by == "zone":
        rows = counted.faults[counted.faults["zone"] == stream.level]
    else:
        rows = counted.kinds
    rows = rows[rows["look"] == FIRST_LOOK]
    if stream.of:
        rows = rows[rows["kind"] == stream.of]
    if stream.of or stream.per_unit or stream.by == "zone":
        bad = pieces.loc[rows["at"].to_numpy()].assign(n=rows["n"].to_numpy())
    else:
        bad = pieces[had].drop(columns="n").rename(columns={"n_defective": "n"})
    found = _Counted(pieces=pieces[had], bad=bad)
    return found if stream.by == "zone" else _narrowed(found, stream)


def _until(counted: _Counted, as_of_us: int) -> _Counted:
    return _Counted(pieces=counted.pieces[counted.pieces["hour_us"] <= as_of_us],
                    bad=counted.bad[counted.bad["hour_us"] <= as_of_us])


def _since(counted: _Counted, since_us: int | None) -> _Counted:
    if since_us is None:
        return counted
    return _Counted(pieces=counted.pieces[counted.pieces["hour_us"] >= since_us],
                    bad=counted.bad[counted.bad["hour_us"] >= since_us])


def _cells(frame: pd.DataFrame) -> list[Cell]:
    columns = [frame[name].astype(object).where(frame[name].notna(), None) for name in MIX]
    return list(zip(*columns, strict=True))


def _usual(counted: _Counted) -> dict[Cell, float]:
    """Rate of each cell of the mix over the whole history."""
    n: dict[Cell, int] = {}
    bad: dict[Cell, int] = {}
    for total, frame in ((n, counted.pieces), (bad, counted.bad)):
        summed = frame.groupby(list(MIX), dropna=False, observed=True, sort=False)["n"].sum()
        for cell, value in zip(_cells(summed.reset_index()), summed.tolist(), strict=True):
            total[cell] = int(value)
    return {cell: bad.get(cell, 0) / many for cell, many in n.items() if many > 0}


def _points(
    shop: Shop, stream: Stream, counted: _Counted, usual: dict[Cell, float]
) -> CountPoints:
    counted = _Counted(*(_placed(stream, frame) for frame in (counted.pieces, counted.bad)))
    keys = _keys(shop, stream, counted.pieces), _keys(shop, stream, counted.bad)
    names, first_us = _in_order(keys[0], counted.pieces)
    where = {key: k for k, key in enumerate(names)}
    cells = tuple(dict.fromkeys(_cells(counted.pieces)))
    cell_of = {cell: k for k, cell in enumerate(cells)}
    mix = np.zeros((len(names), len(cells)))
    rows = np.array([where[key] for key in keys[0]], dtype=np.int64)
    columns = np.array([cell_of[cell] for cell in _cells(counted.pieces)], dtype=np.int64)
    np.add.at(mix, (rows, columns), counted.pieces["n"].to_numpy(dtype=np.float64))
    n = mix.sum(axis=1)
    count = np.zeros(len(names))
    known = np.array([where.get(key, -1) for key in keys[1]], dtype=np.int64)
    np.add.at(count, known[known >= 0], counted.bad["n"].to_numpy(dtype=np.float64)[known >= 0])
    if not stream.per_unit:
        count = np.minimum(count, n)
    rates = np.array([usual.get(cell, 0.0) for cell in cells], dtype=np.float64)
    start, end, labels = _times(shop, stream, names, first_us, counted.pieces, rows)
    return CountPoints(
        stream=stream, start_us=start, end_us=end, labels=labels, n=n.astype(np.int64),
        count=count.astype(np.int64), mix=mix, cells=cells, rates=rates, usual=mix @ rates / n,
    )


def _placed(stream: Stream, frame: pd.DataFrame) -> pd.DataFrame:
    """Rows that count pieces and, where points are jobs, name theirs."""
    some = frame["n"] > 0
    return frame[some & frame["job"].notna() if stream.step == "job" else some]


def _keys(shop: Shop, stream: Stream, frame: pd.DataFrame) -> list[object]:
    """What each row belongs to: the start of its step, or its job."""
    if stream.step == "job":
        return list(frame["job"].astype(str))
    hours = frame["hour_us"].to_numpy(dtype=np.int64)
    starts: list[object] = starts_of(shop, hours, stream.step, grain_us=HOUR_US).tolist()
    return starts


def _in_order(keys: list[object], pieces: pd.DataFrame) -> tuple[list[object], Ints]:
    """The points by their first hour."""
    first = pd.Series(pieces["hour_us"].to_numpy(dtype=np.int64)).groupby(
        pd.Series(keys, dtype=object), sort=False).min().sort_values(kind="stable")
    return first.index.tolist(), first.to_numpy(dtype=np.int64)


def _times(
    shop: Shop, stream: Stream, names: list[object], first_us: Ints, pieces: pd.DataFrame,
    rows: Ints,
) -> tuple[Ints, Ints, tuple[str, ...]]:
    if stream.step != "job":
        start = np.array(names, dtype=np.int64)
        return start, ends_of(shop, start, stream.step), ()
    last = np.zeros(len(names), dtype=np.int64)
    np.maximum.at(last, rows, pieces["hour_us"].to_numpy(dtype=np.int64))
    return first_us, last + HOUR_US, tuple(str(name) for name in names)


def total_rate(points: CountPoints) -> float:
    """Counted for each piece over all points."""
    return float(points.count.sum() / points.n.sum()) if len(points) else float("nan")


def moves_of_mix(points: CountPoints) -> float:
    """How far the mix moves the usual rate from point to point, mean square in sigma of a point.

    Chance alone gives 0; at 0.1 the limits of one rate are off by a third of a sigma.
    """
    u, n = points.usual, points.n
    middle = float((u * n).sum() / n.sum())
    variance = middle if points.stream.per_unit else middle * (1 - middle)
    if variance <= 0:
        return 0.0
    moved: Floats = n * (u - middle) ** 2 / variance
    return float(moved.mean())
