"""The step of time each instant lies in: shift, day or week in the shop's zone."""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from qc.desk.floor import day_start, shift_start
from qc.desk.shop import Shop
from qc.desk.stream_charts.points import Ints
from qc.domain.instants import HOUR_US, from_us, to_us

_QUARTER_US = HOUR_US // 4  # zones and shifts lie on quarters of an hour, or nearly so


def starts_of(shop: Shop, at_us: Ints, step: str, *, grain_us: int = _QUARTER_US) -> Ints:
    """Start of the step each instant lies in; instants of one grain are taken together."""
    if not len(at_us):
        return np.zeros(0, dtype=np.int64)
    parts, where = np.unique(at_us // grain_us, return_inverse=True)
    starts = [_start(shop, int(part) * grain_us, step) for part in parts]
    return np.array(starts, dtype=np.int64)[where]


def ends_of(shop: Shop, start_us: Ints, step: str) -> Ints:
    """End of each step that begins at ``start_us``."""
    return np.array([_end(shop, int(us), step) for us in start_us], dtype=np.int64)


def steps_between(shop: Shop, since_us: int, until_us: int, step: str) -> list[tuple[int, int]]:
    """The steps of a stretch of time one after the other, from inclusive to exclusive; the first
    and the last only as far as they lie in it."""
    found, begin = [], _start(shop, since_us, step)
    while begin < until_us:
        end = _end(shop, begin, step)
        found.append((max(begin, since_us), min(end, until_us)))
        begin = end
    return found


def _start(shop: Shop, us: int, step: str) -> int:
    if step == "shift":
        return shift_start(shop, us)
    midnight = from_us(day_start(shop, us), shop.zone)
    return to_us(midnight - timedelta(days=midnight.weekday())) if step == "week" else to_us(
        midnight)


def _end(shop: Shop, start_us: int, step: str) -> int:
    begin = from_us(start_us, shop.zone)
    if step != "shift":  # wall-clock arithmetic: a day of a clock change has 23 or 25 hours
        return to_us(begin + timedelta(days=7 if step == "week" else 1))
    minute = begin.hour * 60 + begin.minute
    later = [start for start in shop.shift_minutes if start > minute]
    day = begin.replace(hour=0, minute=0)
    if not later:
        day, later = day + timedelta(days=1), [shop.shift_minutes[0]]
    return to_us(day.replace(hour=later[0] // 60, minute=later[0] % 60))
