"""The drift of a platen since it was last adjusted, and when it leads out of tolerance."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from qc.domain.instants import DAY_US
from qc.domain.platens import DriftSeries
from qc.presses.lines import HELD, Lines, lines_of
from qc.presses.repeatability import HALF_NORMAL_MEDIAN
from qc.presses.surveys import Limits, Survey, since_adjustment
from qc.presses.together import surveys_together

Floats = npt.NDArray[np.float64]

FEWEST, MOST = 3, 150
"""Surveys a line is drawn through: the newest, three years of weekly ones."""
MISFIT_P = 0.001
ENOUGH = 8
SHORTER = 0.8
HORIZON_DAYS, LATEST_DAYS = 365.0, 1095.0
"""A line that crosses farther ahead is not said; the late end of its interval may be later."""
FAN_DAYS = 60.0
FAN_POINTS = 61
_STEPS = 400


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trend:
    """Where a platen stands and leads. Days count from the last survey (0), degC.

    The likeliest line has ``level`` on day 0 and ``slope``; ``low``, ``high`` : 95 % interval of
    the slope over all ``lines``. ``first_us`` : where the likeliest line begins, ``n`` how many
    surveys it rests on, ``note`` what it begins with, in words.
    """

    slope: float
    low: float
    high: float
    level: float
    lines: Lines
    n: int
    first_us: int
    last_us: int
    note: str

    @property
    def is_drift(self) -> bool:
        """Does the interval of the slope leave out no drift at all?"""
        return self.low > 0 or self.high < 0

    def at(self, day: Floats | float) -> Floats | float:
        return self.level + self.slope * day

    def fan(self, day: Floats) -> tuple[Floats, Floats]:
        """Lower and upper end of the 95 % interval on given days."""
        return self.lines.between(day)


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
    An as-left survey begins the series anew. Within it the platen may have drifted all along,
    begun to drift, or been stepped unsaid: `lines_of` weighs them. Where no such line explains the
    surveys, either this platen scatters more than the shop's, which neighbouring surveys tell; or
    there were more changes than one, and the oldest surveys are left out until one explains the
    rest.
    """
    usable = [survey for survey in since_adjustment(list(found)) if not survey.partial][-MOST:]
    if len(usable) < FEWEST:
        return None, f"a drift needs {FEWEST} surveys since the last adjustment, {_have(usable)}"
    at_us = tuple(survey.at_us for survey in usable)
    if len(set(at_us)) == 1:
        return None, f"a drift needs {FEWEST} surveys at different times to be seen"
    return _trend(at_us, tuple(survey.offset_c for survey in usable), sigma), ""


@lru_cache(maxsize=256)
def _trend(at_us: tuple[int, ...], offsets: tuple[float, ...], sigma: float) -> Trend:
    """The drift of these surveys; kept, since a page asks for it anew until there are others."""
    last_us = at_us[-1]
    days = days_from(at_us, last_us)
    lines, first = _explaining(days, np.array(offsets), sigma)
    best = lines.best
    low, high = lines.slope_between()
    start = max(best.start, float(days[first]))
    return Trend(
        slope=best.slope, low=low, high=high, level=best.level, lines=lines,
        n=int((days >= start).sum()), first_us=last_us + round(start * DAY_US), last_us=last_us,
        note={"line": "", "hinge": "since the drift began", "step": "since the step"}[best.kind],
    )


def _have(usable: Sequence[Survey]) -> str:
    return f"there {'is' if len(usable) == 1 else 'are'} {len(usable)}"


def _explaining(days: Floats, offsets: Floats, sigma: float) -> tuple[Lines, int]:
    """The lines of the newest surveys that one change explains, and the first of these."""
    first = 0
    while True:
        since, values = days[first:], offsets[first:]
        lines = lines_of(since, values, sigma)
        if lines.fits(MISFIT_P):
            return lines, first
        lines = lines_of(since, values, max(sigma, own_scatter(since, values)))
        shorter = max(ENOUGH, int(SHORTER * len(since)))
        if lines.fits(MISFIT_P) or shorter >= len(since) or np.ptp(days[-shorter:]) == 0:
            return lines, first
        first = len(days) - shorter


def own_scatter(days: Floats, values: Floats) -> float:
    """Standard deviation of values about whatever they follow, from each and its two neighbours.

    A drift does not enter it, and the few changes of a platen hardly do: it is a median.
    """
    gap = np.diff(days)
    whole = np.where(gap[:-1] + gap[1:] > 0, gap[:-1] + gap[1:], 1.0)
    share = np.where(gap[:-1] + gap[1:] > 0, gap[:-1] / whole, 0.5)
    apart = values[1:-1] - (1 - share) * values[:-2] - share * values[2:]
    return float(np.median(np.abs(apart) / np.sqrt(1 + share**2 + (1 - share) ** 2))
                 / HALF_NORMAL_MEDIAN)


def crossing(trend: Trend | None, tolerance_c: float | None) -> Crossing | None:
    """When the platen reaches the limit it drifts to; None without a limit, where no drift is
    shown, or not within a year.

    The interval is where the 95 % fan reaches the limit; ``latest`` None: not within three years,
    or never. It is of the mean as this probe reads it: the probe's own error is the same in every
    survey, and is counted where a platen is judged.
    """
    if trend is None or tolerance_c is None or not trend.is_drift:
        return None
    toward = 1 if trend.low > 0 else -1
    pace = toward * trend.slope
    days = (tolerance_c - toward * trend.level) / pace if pace > 0 else math.inf
    if days > HORIZON_DAYS:
        return None
    soonest = _reached(trend, toward * tolerance_c, (1 - HELD) / 2)
    latest = _reached(trend, toward * tolerance_c, (1 + HELD) / 2)
    days = max(days, 0.0)
    return Crossing(days=days, soonest=min(days if soonest is None else soonest, days),
                    latest=None if latest is None else max(latest, days))


def _reached(trend: Trend, limit_c: float, chance: float) -> float | None:
    """The first day on which the platen is beyond a limit with a chance, within three years."""
    def excess(day: Floats | float) -> Floats:
        below = trend.lines.below(limit_c, day)
        return (1 - below if limit_c > 0 else below) - chance

    grid = np.concatenate([[0.0], np.geomspace(0.01, LATEST_DAYS, _STEPS)])
    beyond = np.flatnonzero(excess(grid) >= 0)
    if len(beyond) == 0:
        return None
    at = int(beyond[0])
    return 0.0 if at == 0 else float(brentq(excess, grid[at - 1], grid[at], xtol=1e-9))


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
        together=surveys_together(found, sigma, limits.check_days),
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


