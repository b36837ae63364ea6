"""Is the mean temperature of a platen off, or truly on its way there?"""

from __future__ import annotations

import numpy as np

from qc.presses.drift import days_from
from qc.presses.shifts import Shift, shift_of
from qc.presses.watching import Alarm, Watch, dated

DRIFT_Z = 4.0
"""Limit of the likelihood test for a change in a platen's offsets, in standard deviations.

By simulation the test alone is passed by chance about once in 40 years of weekly surveys of one
platen, so a shop of 11 platens meets it once in 3 to 4 years; with the demand that it matters, a
false flag comes about once in 14 years of such a shop."""
MOVED_Z = 3.0
CLEARLY_BEYOND_Z = 1.645
FEWEST = 4
INTERVALS_AHEAD = 2
MATERIAL_SHARE = 0.5


def offset_alarm(watch: Watch) -> Alarm | None:
    """The alarm that the latest survey gives, if any: beyond the tolerance, or drifting there."""
    return _beyond(watch) or _drifting(watch)


def _beyond(watch: Watch) -> Alarm | None:
    survey, tolerance = watch.survey, watch.tolerance_c
    offset = survey.offset_c
    if abs(offset) <= tolerance:
        return None
    sign = 1 if offset > 0 else -1
    shift = _shift(watch, sign=sign, min_after=1)
    moved = shift is not None and abs(shift.z) >= MOVED_Z
    if not (moved or _sure(watch, sign)):
        return None
    reason = f"mean {offset:+.1f} °C from the setpoint, tolerance ±{tolerance:.1f} °C"
    return _alarm(watch, sign, shift if moved else None, reason)


def _sure(watch: Watch, sign: int) -> bool:
    """Is it more than the scatter of surveys about a level just inside?"""
    survey, tolerance = watch.survey, watch.tolerance_c
    if survey.partial:
        return bool((sign * survey.error_c > tolerance).all())
    if sign * survey.offset_c > tolerance + CLEARLY_BEYOND_Z * watch.offset_sigma_c:
        return True
    last_two = [s.offset_c for s in watch.usable[-2:]]
    return len(last_two) == 2 and sign * float(np.mean(last_two)) > tolerance


def _drifting(watch: Watch) -> Alarm | None:
    if len(watch.usable) < FEWEST or watch.survey.partial:
        return None
    shift = _shift(watch, sign=0, min_after=2)
    if shift is None or abs(shift.z) < DRIFT_Z or not _matters(watch, shift):
        return None
    sign = 1 if shift.moved > 0 else -1
    if shift.kind == "step":
        body = f"mean stepped by {shift.moved:+.1f} °C"
    else:
        stepped = "" if shift.is_told else " or stepped"
        body = f"mean drifts {shift.rate:+.2f} °C a day{stepped}, {shift.moved:+.1f} °C so far"
    return _alarm(watch, sign, shift, f"{body}, tolerance ±{watch.tolerance_c:.1f} °C")


def _matters(watch: Watch, shift: Shift) -> bool:
    """Away from the setpoint by half the tolerance, or out within two intervals of checks."""
    sign = 1 if shift.moved > 0 else -1
    farther = abs(shift.now) > abs(shift.before)
    away = farther and abs(shift.moved) > MATERIAL_SHARE * watch.tolerance_c
    if shift.kind == "step":
        return away
    left = (watch.tolerance_c - sign * shift.now) / abs(shift.rate)
    return away or left <= INTERVALS_AHEAD * watch.check_days


def _shift(watch: Watch, *, sign: int, min_after: int) -> Shift | None:
    surveys = watch.usable
    days = days_from([s.at_us for s in surveys], watch.survey.at_us)
    values = np.array([s.offset_c for s in surveys])
    return shift_of(days, values, watch.offset_sigma_c, min_after=min_after, sign=sign)


def _alarm(watch: Watch, sign: int, shift: Shift | None, reason: str) -> Alarm:
    changed_us, between_us = dated(watch, shift)
    earlier = [s.offset_c for s in watch.usable[:-1]]
    before = shift.before if shift else (float(np.mean(earlier)) if earlier else None)
    return Alarm(
        at_us=watch.survey.at_us, sign=sign, changed_at_us=changed_us,
        changed_between_us=between_us, before=before, coldest=watch.survey.coldest,
        reason=reason.replace("-", "−"),
    )
