"""The drift of a platen since it was last adjusted, and when it leads out of tolerance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.domain.instants import DAY_US
from qc.domain.platens import DriftSeries
from qc.presses.shifts import shift_of
from qc.presses.surveys import Limits, Survey, since_adjustment
from qc.stats.change.trend import theil_sen

Floats = npt.NDArray[np.float64]

FEWEST = 3
FEWEST_ROBUST = 5
"""Fewer points cannot give a 95 % distribution-free interval: Kendall's S has too few values."""
SURE_Z = 4.0
"""A change inside the series must be this many standard deviations to cut the series there."""
LINE_IS_AS_GOOD = 4.0
Z95 = 1.959963984540054
HORIZON_DAYS = 3650.0
FAN_DAYS = 60.0
FAN_POINTS = 61


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """A line through the offsets of ``n`` surveys. Days count from the last survey (0), degC.

    The line is ``level`` at ``pivot`` days and has ``slope``; ``low``, ``high`` : its 95 %
    interval; ``level_error`` : half width of the level's. ``first_us`` : its first survey.
    """

    slope: float
    low: float
    high: float
    pivot: float
    level: float
    level_error: float
    n: int
    first_us: int
    last_us: int
    note: str

    @property
    def is_drift(self) -> bool:
        """Does the interval of the slope leave out no drift at all?"""
        return self.low > 0 or self.high < 0

    def at(self, day: Floats | float) -> Floats | float:
        return self.level + self.slope * (day - self.pivot)

    def fan(self, day: Floats) -> tuple[Floats, Floats]:
        """Lower and upper end of the line's interval on given days."""
        run = np.abs(day - self.pivot)
        ahead = day >= self.pivot
        down, up = self.slope - self.low, self.high - self.slope
        below = np.hypot(self.level_error, run * np.where(ahead, down, up))
        above = np.hypot(self.level_error, run * np.where(ahead, up, down))
        return self.at(day) - below, self.at(day) + above


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """When a line reaches the tolerance it leads to, days after the last survey."""

    days: float
    soonest: float
    latest: float | None


def days_from(at_us: Sequence[int] | npt.NDArray[np.int64], zero_us: int) -> Floats:
    """Instants as days from a given one."""
    return (np.asarray(at_us, dtype=np.int64) - zero_us) / DAY_US


def trend_of(found: Sequence[Survey], sigma: float) -> tuple[Trend | None, str]:
    """The drift since the last adjustment, or None with the reason in words.

    ``found`` are the surveys of one platen in order, ``sigma`` the standard deviation of a
    survey's mean (degC).

    Notes
    -----
    An as-left survey begins the series anew. So does a step (somebody adjusted without saying) and
    the start of a drift, where either is shown by `SURE_Z` standard deviations and fits clearly
    better than one line: a step is not a slope. Five surveys or more: Theil-Sen; three or four:
    least squares with the shop's repeatability, since no distribution-free interval exists.
    """
    usable = [survey for survey in since_adjustment(list(found)) if not survey.partial]
    if len(usable) < FEWEST:
        return None, f"a drift needs {FEWEST} surveys since the last adjustment, {_have(usable)}"
    last_us = usable[-1].at_us
    days = days_from([survey.at_us for survey in usable], last_us)
    offsets = np.array([survey.offset_c for survey in usable])
    start, why = _start(days, offsets, sigma)
    days, offsets = days[start:], offsets[start:]
    if len(days) < FEWEST or np.ptp(days) == 0:
        return None, f"a drift needs {FEWEST} surveys at different times {why or 'to be seen'}"
    slope, low, high = _slope(days, offsets, sigma)
    pivot = float(np.median(days)) if len(days) >= FEWEST_ROBUST else float(days.mean())
    level = float(np.median(offsets - slope * (days - pivot)))
    return Trend(
        slope=slope, low=low, high=high, pivot=pivot, level=level, n=len(days), note=why,
        level_error=Z95 * math.sqrt(math.pi / 2) * sigma / math.sqrt(len(days)),
        first_us=usable[start].at_us, last_us=last_us,
    ), ""


def _have(usable: Sequence[Survey]) -> str:
    return f"there {'is' if len(usable) == 1 else 'are'} {len(usable)}"


def _start(days: Floats, offsets: Floats, sigma: float) -> tuple[int, str]:
    """Position of the first survey the line is drawn from, and why not the first of all."""
    shift = shift_of(days, offsets, sigma, min_after=2)
    if shift is None or abs(shift.z) < SURE_Z:
        return 0, ""
    if _line_gain(days, offsets, sigma) >= shift.z**2 - LINE_IS_AS_GOOD:
        return 0, ""
    after = int(np.searchsorted(days, shift.at, side="left"))
    if shift.kind == "step":
        return after, "since the step"
    return min(after, len(days) - FEWEST), "since the drift began"


def _line_gain(days: Floats, offsets: Floats, sigma: float) -> float:
    run = days - days.mean()
    return float((run @ offsets) ** 2 / (run @ run)) / sigma**2


def _slope(days: Floats, offsets: Floats, sigma: float) -> tuple[float, float, float]:
    if len(days) >= FEWEST_ROBUST:
        robust = theil_sen(days, offsets)
        return robust.slope, robust.low, robust.high
    run = days - days.mean()
    slope = float(run @ offsets / (run @ run))
    reach = Z95 * sigma / math.sqrt(float(run @ run))
    return slope, slope - reach, slope + reach


def crossing(trend: Trend | None, tolerance_c: float | None) -> Crossing | None:
    """When the line reaches the limit it leads to; None without a line, a limit, or in 10 years.

    The interval is where the 95 % fan reaches the limit; ``latest`` None: it may never.
    """
    if trend is None or tolerance_c is None or trend.slope == 0:
        return None
    toward = 1 if trend.slope > 0 else -1
    gap = tolerance_c - toward * trend.level
    pace = abs(trend.slope)
    days = trend.pivot + gap / pace
    if days > HORIZON_DAYS:
        return None
    faster = trend.high - trend.slope if toward > 0 else trend.slope - trend.low
    slower = trend.slope - trend.low if toward > 0 else trend.high - trend.slope
    soonest = trend.pivot + _reach(gap, pace, faster, trend.level_error, first=True)
    latest = trend.pivot + _reach(gap, pace, slower, trend.level_error, first=False)
    days = max(days, 0.0)
    return Crossing(
        days=days, soonest=min(max(soonest, 0.0), days),
        latest=max(latest, days) if latest <= HORIZON_DAYS else None,
    )


def _reach(gap: float, pace: float, half: float, error: float, *, first: bool) -> float:
    """Days from the pivot at which the near (first) or far edge of the fan meets the limit.

    Solves gap - pace x = +-sqrt(error^2 + half^2 x^2); infinity where the edge never does.
    """
    if gap <= error and first:
        return 0.0
    square, product, rest = pace**2 - half**2, gap * pace, gap**2 - error**2
    root = math.sqrt(max(product**2 - square * rest, 0.0))
    if first:
        return rest / (product + root)
    return (product + root) / square if square > 0 else math.inf


def drift_series(found: Sequence[Survey], limits: Limits, sigma: float) -> DriftSeries:
    """All surveys of one platen with its line and the fan ahead; ``found`` must not be empty."""
    trend, why = trend_of(found, sigma)
    cross = crossing(trend, limits.temperature_tolerance_c)
    last_us = found[-1].at_us
    fitted_us, ahead_us = _line_instants(trend, cross, last_us)
    fitted, ahead = days_from(fitted_us, last_us), days_from(ahead_us, last_us)
    low, high = trend.fan(ahead) if trend else (ahead, ahead)
    return DriftSeries(
        press=found[0].press, platen=found[0].platen,
        at_us=_closed(np.array([s.at_us for s in found], dtype=np.int64)),
        offset_c=_closed(np.array([s.offset_c for s in found])),
        spread_c=_closed(np.array([s.spread_c for s in found])),
        states=tuple(s.state for s in found), survey_ids=tuple(s.survey_id for s in found),
        fitted_at_us=_closed(fitted_us), forecast_at_us=_closed(ahead_us),
        fitted_c=_closed(np.asarray(trend.at(fitted) if trend else fitted)),
        forecast_c=_closed(np.asarray(trend.at(ahead) if trend else ahead)),
        forecast_low_c=_closed(low), forecast_high_c=_closed(high),
        slope_c_per_day=trend.slope if trend else None,
        slope_interval=(trend.low, trend.high) if trend else None,
        crosses_at_us=crosses_at_us(cross, last_us),
        crosses_between_us=crosses_between_us(cross, last_us),
        temperature_tolerance_c=limits.temperature_tolerance_c,
        uniformity_tolerance_c=limits.uniformity_tolerance_c,
        note=why or (trend.note if trend else ""),
    )


def crosses_at_us(cross: Crossing | None, last_us: int) -> int | None:
    """The crossing as an instant."""
    return None if cross is None else last_us + round(cross.days * DAY_US)


def crosses_between_us(cross: Crossing | None, last_us: int) -> tuple[int, int | None] | None:
    """The interval of the crossing as instants."""
    if cross is None:
        return None
    latest = None if cross.latest is None else last_us + round(cross.latest * DAY_US)
    return last_us + round(cross.soonest * DAY_US), latest


def _line_instants(
    trend: Trend | None, cross: Crossing | None, last_us: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    if trend is None:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    reach = FAN_DAYS if cross is None else min(max(cross.days, 1.0), FAN_DAYS)
    ahead = last_us + np.round(np.linspace(0, reach, FAN_POINTS) * DAY_US).astype(np.int64)
    return np.array([trend.first_us, trend.last_us], dtype=np.int64), ahead


def _closed(array: npt.NDArray) -> npt.NDArray:
    array = array.copy()
    array.flags.writeable = False
    return array


