"""Days and months of a shop: they begin at midnight where the shop is, and a clock change makes one
longer."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from qc.domain.instants import from_us, to_us
from qc.errors import InputError

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


def month_period(instant_us: int, zone: ZoneInfo) -> tuple[int, int]:
    """When the month of an instant begins (inclusive) and ends (exclusive), at local midnights."""
    first = from_us(instant_us, zone).replace(day=1, hour=0, minute=0, second=0, microsecond=0)
    later = (first + timedelta(days=32)).replace(day=1)  # on the wall's calendar
    return to_us(first), to_us(later)


def parse_month(text: str, zone: ZoneInfo) -> int:
    """A month as 2026-03 as its first instant; InputError if it is none."""
    try:
        first = datetime.strptime(text.strip(), "%Y-%m")
    except ValueError:
        raise InputError(f"{text!r} is not a month; write it as 2026-03") from None
    return to_us(first.replace(tzinfo=zone))
