"""Platens that need service, as changes in time: survey by survey, never revised by later ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pandas as pd

from qc.domain.platens import CalibrationSignal
from qc.presses.offset_signals import offset_alarm
from qc.presses.repeatability import Repeatability, repeatability
from qc.presses.spread_signals import spread_alarm
from qc.presses.surveys import Limits, Survey, limits_of, surveys_of
from qc.presses.watching import Alarm, Watch

BACK_SHARE = 0.25
"""Without an as-left record, what came back this near to where it was has been put right."""


def calibration_signals(
    readings: pd.DataFrame, presses: pd.DataFrame, instruments: pd.DataFrame, *, as_of_us: int,
    default_uncertainty_c: float,
) -> tuple[CalibrationSignal, ...]:
    """Every signal up to a moment in order of time, ended ones too.

    The same arguments as `platen_health`. One signal for each platen and characteristic at a time.
    A survey is judged with what was known then: ``signalled_at_us``, ``changed_at_us`` and
    ``changed_between_us`` stay as they are when later surveys come. ``instruments`` and the default
    uncertainty are not used: signals rest on changes seen with the shop's own repeatability.
    """
    del instruments, default_uncertainty_c
    surveys, limits = surveys_of(readings, as_of_us=as_of_us), limits_of(presses)
    pooled = repeatability(surveys)
    out = [
        signal
        for platen, found in surveys.items()
        for signal in _of_platen(found, limits.get(platen[0], Limits()), pooled)
    ]
    return tuple(sorted(out, key=lambda s: (s.signalled_at_us, s.press, s.platen,
                                            s.characteristic)))


def _of_platen(
    found: Sequence[Survey], limits: Limits, pooled: Repeatability
) -> list[CalibrationSignal]:
    out: list[CalibrationSignal] = []
    if limits.temperature_tolerance_c is not None:
        out += _followed(found, _Cause(
            characteristic="temperature_error_c", tolerance_c=limits.temperature_tolerance_c,
            value=lambda s: s.offset_c, alarm=offset_alarm,
        ), limits, pooled)
    if limits.uniformity_tolerance_c is not None:
        out += _followed(found, _Cause(
            characteristic="temperature_spread_c", tolerance_c=limits.uniformity_tolerance_c,
            value=lambda s: s.spread_c, alarm=spread_alarm,
        ), limits, pooled)
    return out


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    characteristic: str
    tolerance_c: float
    value: Callable[[Survey], float]
    alarm: Callable[[Watch], Alarm | None]


def _followed(
    found: Sequence[Survey], cause: _Cause, limits: Limits, pooled: Repeatability
) -> list[CalibrationSignal]:
    """Go through the surveys of a platen once: no alarm, alarm, ended, and so on."""
    out: list[CalibrationSignal] = []
    segment: list[Survey] = []
    running: Alarm | None = None
    last_good_us: int | None = None
    since: list[float] = []
    for survey in found:
        if survey.state == "as_left":
            segment = []
        segment.append(survey)
        value = cause.value(survey)
        if running is None:
            running = cause.alarm(Watch(
                segment=tuple(segment), limits=limits, tolerance_c=cause.tolerance_c,
                offset_sigma_c=pooled.offset_c(survey.at_us),
                point_sigma_c=pooled.point_c(survey.at_us),
            ))
            good_us, since = last_good_us, [value]
        elif _is_back(survey, value, running, since, cause.tolerance_c):
            out.append(_signal(cause, survey, running, since[-1], good_us, survey.at_us))
            running, segment = None, [survey]
        else:
            since.append(value)
        if abs(value) <= cause.tolerance_c:
            last_good_us = survey.at_us
    if running is not None:
        out.append(_signal(cause, found[-1], running, since[-1], good_us, None))
    return out


def _is_back(
    survey: Survey, value: float, running: Alarm, since: Sequence[float], tolerance_c: float
) -> bool:
    """Has a later survey brought the platen back? As left inside the tolerance, or plainly back."""
    if abs(value) > tolerance_c or survey.partial:
        return False
    if survey.state == "as_left":
        return True
    before = running.before if running.before is not None else 0.0
    peak = max(since, key=lambda v: running.sign * v)
    return running.sign * (value - before) < BACK_SHARE * running.sign * (peak - before)


def _signal(
    cause: _Cause, survey: Survey, alarm: Alarm, after: float, good_us: int | None,
    ended_us: int | None,
) -> CalibrationSignal:
    return CalibrationSignal(
        press=survey.press, platen=survey.platen, characteristic=cause.characteristic,
        direction="up" if alarm.sign > 0 else "down", signalled_at_us=alarm.at_us,
        changed_at_us=alarm.changed_at_us, changed_between_us=alarm.changed_between_us,
        ended_at_us=ended_us, before=alarm.before, after=after, tolerance_c=cause.tolerance_c,
        coldest=alarm.coldest, last_good_us=good_us, reason=alarm.reason,
    )
