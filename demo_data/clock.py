"""Instants as shops write them: local time with its offset."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from demo_data.plan import Ints
from qc.domain.instants import HOUR_US, from_us

SECOND_LENGTH = 19


def local_texts(instants_us: Ints, zone: ZoneInfo) -> np.ndarray:
    """ISO 8601 to the second with offset, as '2026-11-20T14:03:00+01:00'; object array."""
    instants = np.asarray(instants_us, dtype=np.int64)
    hours, hour_of = np.unique(instants // HOUR_US, return_inverse=True)
    # whole-hour steps are enough: clocks change on the full hour, and offsets are looked up once
    offsets = [from_us(int(hour) * HOUR_US, zone).isoformat()[SECOND_LENGTH:] for hour in hours]
    shift = np.array([_seconds_of(text) for text in offsets], dtype=np.int64)[hour_of]
    wall = (instants // 1_000_000 + shift).astype("datetime64[s]")
    text = pd.Series(np.datetime_as_string(wall), dtype=object)
    return (text + pd.Series(np.array(offsets, dtype=object)[hour_of], dtype=object)).to_numpy()


def _seconds_of(offset: str) -> int:
    sign = -1 if offset[0] == "-" else 1
    return sign * (int(offset[1:3]) * 3600 + int(offset[4:6]) * 60)
