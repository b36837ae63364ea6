"""Days of a shop: they begin at midnight where the shop is, and a clock change makes one longer."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from qc.domain.instants import from_us, to_us

Ints = npt.NDArray[np.int64]


def day_starts(instants_us: Ints, zone: ZoneInfo) -> Ints:
    """The local midnight that each instant's day began with."""
    known, where = np.unique(instants_us, return_inverse=True)
    starts = np.array([day_start_us(int(us), zone) for us in known], dtype=np.int64)
    return starts[where]


def day_start_us(instant_us: int, zone: ZoneInfo) -> int:
    """The local midnight that an instant's day began with."""
    moment = from_us(instant_us, zone)
    return to_us(moment.replace(hour=0, minute=0, second=0, microsecond=0))
