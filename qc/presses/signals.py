"""Platens that need service, as changes in time: survey by survey, never revised by later ones."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pandas as pd

from qc.domain.platens import CalibrationSignal
from qc.presses.offset_signals import offset_alarm
from qc.presses.repeatability import Repeatability, repeatability
from qc.presses.spread_signals import spread_alarm
from qc.presses.surveys import (
    Limits,
    LimitsOverTime,
    Survey,
    limits_over_time,
    surveys_of,
)
from qc.presses.watching import Alarm, Watch

BACK_SHARE = 0.25
"""Without an as-left record, what came back this near to where it was has been put right."""


def calibration_signals(
    readings: pd.DataFrame, presses: pd.DataFrame, instruments: pd.DataFrame, *, as_of_us: int,
    default_uncertainty_c: float,
) -> tuple[CalibrationSignal, ...]:
    """Every signal up to a moment in order of time, ended ones too.

    The same arguments as `platen_health`. One signal for each platen and characteristic at a time.
    A survey is judged with what was known and asked then: ``signalled_at_us``, ``changed_at_us``
    and ``changed_between_us`` stay as they are when later surveys come, or another tolerance
    (``presses`` may have every version, with ``from_us``). ``instruments`` and the default
    uncertainty are not used: signals rest on changes seen with the shop's own repeatability.
    """
    del instruments, default_uncertainty_c
    surveys, limits = surveys_of(readings, as_of_us=as_of_us), limits_over_time(presses)
    pooled = repeatability(surveys)
    out = [
        signal
        for platen, found in surveys.items()
        for signal in _of_platen(found, limits.get(platen[0], LimitsOverTime()), pooled)
    ]
    return tuple(sorted(out, key=lambda s: (s.signalled_at_us, s.press, s.platen,
                                            s.characteristic)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cause:
    characteristic: str
    tolerance_c: Callable[[Limits], float | None]
    value: Callable[[Survey], float]
    alarm: Callable[[Watch], Alarm | None]


MEAN = _Cause(
    characteristic="temperature_error_c", alarm=offset_alarm,
    tolerance_c=lambda asked: asked.temperature_tolerance_c, value=lambda s: s.offset_c)
SPREAD = _Cause(
    characteristic="temperature_spread_c", alarm=spread_alarm,
    tolerance_c=lambda asked: asked.uniformity_tolerance_c, value=lambda s: s.spread_c)
CAUSES = (MEAN, SPREAD)


def _of_platen(
    found: Sequence[Survey], limits: LimitsOverTime, pooled: Repeatability
) -> list[CalibrationSignal]:
    return [signal for cause in CAUSES for signal in _followed(found, cause, limits, pooled)]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Running:
    """An alarm that is not over: what was asked when it came, the last survey inside before it."""

    alarm: Alarm
    tolerance_c: float
    good_us: int | None


def _followed(
    found: Sequence[Survey], cause: _Cause, limits: LimitsOverTime, pooled: Repeatability
) -> list[CalibrationSignal]:
    """Go through the surveys of a platen once: no alarm, alarm, ended, and so on.

    A survey made while no tolerance was set cannot be judged, but is part of what came before.
    """
    out: list[CalibrationSignal] = []
    segment: list[Survey] = []
    running: _Running | None = None
    last_good_us: int | None = None
    since: list[float] = []
    for survey in found:
        if survey.state == "as_left":
            segment = []
        segment.append(survey)
        value, asked = cause.value(survey), limits.at(survey.at_us)
        tolerance = cause.tolerance_c(asked)
        if running is not None and tolerance is not None and _tells(cause, survey) and _is_back(
            survey, value, running.alarm, since, tolerance
        ):
            out.append(_signal(cause, survey, running, since[-1], survey.at_us))
            running, segment = None, [survey]
        elif running is not None:
            since.append(value)
        elif tolerance is not None:
            alarm = cause.alarm(Watch(
                segment=tuple(segment), limits=asked, tolerance_c=tolerance,
                offset_sigma_c=pooled.offset_c(survey.at_us),
                point_sigma_c=pooled.point_c(survey.at_us),
            ))
            if alarm is not None:
                running = _Running(alarm=alarm, tolerance_c=tolerance, good_us=last_good_us)
                since = [value]
        if tolerance is not None and abs(value) <= tolerance and _tells(cause, survey):
            last_good_us = survey.at_us
    if running is not None:
        out.append(_signal(cause, found[-1], running, since[-1], None))
    return out


def _tells(cause: _Cause, survey: Survey) -> bool:
    """Can this survey show that what a cause watches is kept?"""
    return cause is not SPREAD or survey.shows_spread


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
    cause: _Cause, survey: Survey, running: _Running, after: float, ended_us: int | None
) -> CalibrationSignal:
    alarm = running.alarm
    return CalibrationSignal(
        press=survey.press, platen=survey.platen, characteristic=cause.characteristic,
        direction="up" if alarm.sign > 0 else "down", signalled_at_us=alarm.at_us,
        changed_at_us=alarm.changed_at_us, changed_between_us=alarm.changed_between_us,
        ended_at_us=ended_us, before=alarm.before, after=after, tolerance_c=running.tolerance_c,
        coldest=alarm.coldest, last_good_us=running.good_us, reason=alarm.reason,
    )
