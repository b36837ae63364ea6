"""Rare defects: good pieces between one piece with the defect and the next, from the records."""

from __future__ import annotations

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.desk.stream_charts.counting import counted_records
from qc.desk.stream_charts.levels import of_level, press_only, work_columns
from qc.desk.stream_charts.points import GapPoints, Ints
from qc.domain.counting import CountedPieces
from qc.domain.instants import DAY_US
from qc.domain.streams import Stream


def gap_points(
    shop: Shop, stream: Stream, *, as_of_us: int, since_us: int | None
) -> GapPoints:
    """Runs of good pieces between two with the defect, in the order they were pressed.

    The run before the first one is left out: when it began is not known. A run stands for the
    time from one piece with the defect to the next.
    """
    since = None if since_us is None else since_us - DAY_US
    counted = counted_records(shop, as_of_us=as_of_us, since_us=since, work=work_columns(stream),
                              only=press_only(stream))
    pieces = counted.pieces.assign(bad=_bad(counted, stream))
    keep = pieces["had_prompt"] & (pieces["pressed_at"] >= (since_us or 0))
    keep &= of_level(pieces, stream)
    mine = pieces[keep].sort_values(["pressed_at", "piece_id"], kind="stable")
    return _runs(stream, mine)


def _bad(counted: CountedPieces, stream: Stream) -> Ints:
    """Pieces of each row with the defect."""
    if not stream.of and stream.by != "zone":
        return counted.pieces["n_defective"].to_numpy(dtype=np.int64)
    rows = counted.faults[counted.faults["zone"] == stream.level] if stream.by == "zone" else (
        counted.kinds)
    rows = rows[rows["look"] == "prompt"]
    if stream.of:
        rows = rows[rows["kind"] == stream.of]
    bad = np.zeros(len(counted.pieces), dtype=np.int64)
    np.maximum.at(bad, rows["at"].to_numpy(dtype=np.int64), rows["n"].to_numpy(dtype=np.int64))
    return bad


def _runs(stream: Stream, pieces: pd.DataFrame) -> GapPoints:
    n, bad = (pieces[name].to_numpy(dtype=np.int64) for name in ("n", "bad"))
    pressed = pieces["pressed_at"].to_numpy(dtype=np.int64)
    at = np.flatnonzero(bad > 0)
    good = np.cumsum(n - np.minimum(bad, n))
    between = np.diff(good[at])
    return GapPoints(
        stream=stream, start_us=pressed[at[:-1]], end_us=pressed[at[1:]] + 1, between=between,
        n=between + 1, blocks=bool((n > 1).any()),
        since_last=int(good[-1] - good[at[-1]]) if len(at) else int(good[-1]) if len(n) else 0,
    )
