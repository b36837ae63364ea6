"""Health of a platen: the latest survey, its drift, and when it is due."""

from __future__ import annotations

from dataclasses import dataclass

PLATEN_STATES = ("recalibrate", "overdue", "watch", "unknown", "in_tolerance")
"""Most urgent first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatenHealth:
    """One platen at one moment. Temperatures are differences in degC, instants microseconds UTC.

    ``offset_c`` is the mean reading minus the setpoint of the latest survey, ``spread_c`` hottest
    minus coldest point. ``uncertainty_c`` is expanded (k = 2). None is unknown, never 0.
    """

    press: str
    platen: str
    last_survey_at_us: int | None
    offset_c: float | None
    spread_c: float | None
    coldest: tuple[int, int] | None
    hottest: tuple[int, int] | None
    uncertainty_c: float | None
    slope_c_per_day: float | None
    slope_interval: tuple[float, float] | None
    crosses_at_us: int | None
    crosses_between_us: tuple[int, int | None] | None
    due_at_us: int | None
    state: str
    reason: str
    temperature_tolerance_c: float | None
    uniformity_tolerance_c: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CalibrationSignal:
    """A platen that needs service, as a change in time, for a flag.

    ``characteristic`` is 'temperature_error_c' (the offset) or 'temperature_spread_c'.
    ``before`` and ``after`` are that characteristic at the start of the drift and now (degC);
    ``signalled_at_us`` is the survey at which it could first be said, unchanged at later looks.
    """

    press: str
    platen: str
    characteristic: str
    direction: str
    signalled_at_us: int
    changed_at_us: int
    changed_between_us: tuple[int, int]
    ended_at_us: int | None
    before: float
    after: float
    tolerance_c: float
    coldest: tuple[int, int] | None
    last_good_us: int | None
    reason: str
