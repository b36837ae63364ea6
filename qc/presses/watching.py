"""What an alarm on a platen is judged from, and what it says."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.instants import DAY_US
from qc.presses.shifts import Shift
from qc.presses.surveys import Limits, Survey

LONGEST = 60
"""Surveys a change is looked for in: more than a year of weekly ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """The surveys of a platen since its last adjustment up to the one judged, and what was known.

    ``offset_sigma_c`` : standard deviation of a survey's mean; ``point_sigma_c`` : of one point
    about that mean, both as known at the survey judged.
    """

    segment: tuple[Survey, ...]
    limits: Limits
    tolerance_c: float
    offset_sigma_c: float
    point_sigma_c: float

    @property
    def survey(self) -> Survey:
        return self.segment[-1]

    @property
    def usable(self) -> tuple[Survey, ...]:
        return tuple(s for s in self.segment[-LONGEST:] if not s.partial)

    @property
    def check_days(self) -> float:
        return self.limits.check_days


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """What could first be said at one survey. ``sign`` 1: the characteristic rose."""

    at_us: int
    sign: int
    changed_at_us: int
    changed_between_us: tuple[int, int]
    before: float | None
    coldest: tuple[int, int] | None
    reason: str


def dated(watch: Watch, shift: Shift | None) -> tuple[int, tuple[int, int]]:
    """Start of a change with its interval, instants; without one, between the last two surveys."""
    at_us = watch.survey.at_us
    if shift is None:
        earlier = watch.segment[-2].at_us if len(watch.segment) > 1 else at_us
        return at_us, (earlier, at_us)
    start, low, high = (
        min(at_us, at_us + int(np.round(day * DAY_US))) for day in (shift.at, shift.low, shift.high)
    )
    return start, (low, high)
