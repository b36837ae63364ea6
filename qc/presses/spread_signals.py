"""Has a platen become uneven: a cold corner, a dead heater zone, a hot spot?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.presses.drift import days_from
from qc.presses.shifts import Shift, shift_of
from qc.presses.surveys import Survey
from qc.presses.watching import Alarm, Watch, dated

CHANGE_Z = 5.0
"""Limit for one point against its own past: nine points and three windows are looked at."""
DATED_Z = 3.0
GUARD_Z = 2.0
WINDOW = 3
PAST = 20
MATERIAL_SHARE = 0.5
EVEN_SHARE = 1 / 3
"""A point that has not moved by a third of its change is still as before."""
Point = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Change:
    point: Point
    moved_c: float
    z: float
    n_surveys: int


def spread_alarm(watch: Watch) -> Alarm | None:
    """The alarm that the latest survey gives, if any.

    Either the spread is beyond its tolerance by more than the scatter of points explains, or one
    point has truly moved by more than half the tolerance and is now the coldest or hottest; the
    word of a single survey counts only if its spread is beyond the tolerance.
    """
    survey = watch.survey
    if survey.partial or survey.n_points < 2:
        return None
    change = _local_change(watch)
    beyond = _beyond(watch)
    if not beyond and not (change is not None and _matters(watch, change)):
        return None
    point = change.point if change is not None else survey.coldest
    return _alarm(watch, point)


def _beyond(watch: Watch) -> bool:
    """Is the spread of the last few surveys together beyond the tolerance and a guard band?"""
    if watch.survey.spread_c <= watch.tolerance_c:
        return False
    recent = watch.usable[-WINDOW:]
    mean = _mean_map(recent)
    guard = GUARD_Z * watch.point_sigma_c * math.sqrt(2 / len(recent))
    return len(mean) > 1 and float(np.ptp(list(mean.values()))) > watch.tolerance_c + guard


def _matters(watch: Watch, change: _Change) -> bool:
    beyond = watch.survey.spread_c > watch.tolerance_c
    material = abs(change.moved_c) > MATERIAL_SHARE * watch.tolerance_c
    return material and (beyond or change.n_surveys > 1)


def _local_change(watch: Watch) -> _Change | None:
    """The clearest lasting move of one point, of those that widen the spread."""
    surveys = watch.usable[-(PAST + WINDOW):]
    found = []
    for n in range(1, min(WINDOW, len(surveys) - 1) + 1):
        now, past = _mean_map(surveys[-n:]), _mean_map(surveys[:-n])
        scatter = watch.point_sigma_c * math.sqrt(1 / n + 1 / (len(surveys) - n))
        for point, sign in ((min(now, key=lambda p: now[p], default=None), -1),
                            (max(now, key=lambda p: now[p], default=None), 1)):
            if point is not None and point in past:
                moved = now[point] - past[point]
                found.append(_Change(point=point, moved_c=moved, z=sign * moved / scatter,
                                     n_surveys=n))
    clear = [change for change in found if change.z >= CHANGE_Z]
    material = [change for change in clear if _matters(watch, change)]
    return max(material or clear, key=lambda change: change.z, default=None)


def _mean_map(surveys: Sequence[Survey]) -> dict[Point, float]:
    """Mean deviation of each point probed in all of the surveys."""
    maps = [survey.deviations for survey in surveys]
    shared = [p for p in maps[-1] if all(p in one for one in maps)] if maps else []
    return {p: math.fsum(one[p] for one in maps) / len(maps) for p in shared}


def _alarm(watch: Watch, point: Point) -> Alarm:
    survey = watch.survey
    shift = _shift(watch, point)
    start_us, between_us = _not_while_even(watch, point, shift, *dated(watch, shift))
    earlier = [s.spread_c for s in watch.usable if s.at_us < start_us]
    return Alarm(
        at_us=survey.at_us, sign=1, changed_at_us=start_us, changed_between_us=between_us,
        before=float(np.mean(earlier)) if earlier else None, coldest=survey.coldest,
        reason=f"spread {survey.spread_c:.1f} °C, tolerance {watch.tolerance_c:.1f} °C, "
               f"coldest {survey.coldest_spot}",
    )


def _not_while_even(
    watch: Watch, point: Point, shift: Shift | None, start_us: int, between_us: tuple[int, int]
) -> tuple[int, tuple[int, int]]:
    """A start no earlier than the last good survey that still found the point as before.

    A zone that fails does so at once. The line of a slow start may begin a little before a survey
    that found nothing; nobody who reads that survey would believe it.
    """
    if shift is None:
        return start_us, between_us
    low, high = between_us
    sign = 1.0 if shift.moved > 0 else -1.0
    as_before = min(GUARD_Z * watch.point_sigma_c, EVEN_SHARE * abs(shift.moved))
    even = [s.at_us for s in watch.usable
            if s.at_us < high and point in s.deviations and s.spread_c <= watch.tolerance_c
            and sign * (s.deviations[point] - shift.before) <= as_before]
    low = max([low, *even])
    return max(start_us, low), (low, high)


def _shift(watch: Watch, point: Point) -> Shift | None:
    """When that point began to part from the rest, where it can be told."""
    surveys = [s for s in watch.usable if point in s.deviations]
    days = days_from([s.at_us for s in surveys], watch.survey.at_us)
    values = np.array([s.deviations[point] for s in surveys])
    shift = shift_of(days, values, watch.point_sigma_c, min_after=1)
    return shift if shift is not None and abs(shift.z) >= DATED_Z else None
