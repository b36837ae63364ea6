"""Which rows are the work of a stream, and the columns that say so."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.streams import Stream, press_of_station


def work_columns(stream: Stream) -> tuple[str, ...]:
    """The columns of a look that say whose work it is."""
    if stream.by in ("shop", "zone"):
        return ()
    return ("press", "station") if stream.by == "station" else (stream.by,)


def of_level(frame: pd.DataFrame, stream: Stream) -> npt.NDArray[np.bool_]:
    """Which rows are work of the stream's level; all of them for the whole shop and for zones."""
    names = work_columns(stream)
    if not names:
        return np.ones(len(frame), dtype=np.bool_)
    column = station_levels(frame) if stream.by == "station" else frame[stream.by]
    found: npt.NDArray[np.bool_] = (column == stream.level).to_numpy(dtype=np.bool_)
    return found


def press_only(stream: Stream) -> dict[str, str] | None:
    """What the store itself can narrow the looks of a station to: its press."""
    return {"press": press_of_station(stream.level)} if stream.by == "station" else None


def station_levels(frame: pd.DataFrame) -> pd.Series:
    """The station of each row as flags name it, None where none is noted."""
    named = frame["press"].astype(object) + "/" + frame["station"].astype(object)
    return named.where(named.notna(), None)
