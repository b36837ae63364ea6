"""The state of every platen: what its latest survey shows, how it drifts, and when it is due."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from qc.domain.instants import DAY_US
from qc.domain.platens import PLATEN_STATES, SPREAD_POINTS, PlatenHealth, SurveyEwma
from qc.presses.conformity import conformity, rule_words
from qc.presses.decision import SIMPLE, beyond_probability, can_prove
from qc.presses.drift import (
    Crossing,
    Trend,
    crosses_at_us,
    crosses_between_us,
    crossing,
    trend_of,
)
from qc.presses.intervals import interval_advice
from qc.presses.repeatability import Repeatability, repeatability
from qc.presses.surveys import (
    Limits,
    LimitsOverTime,
    Platen,
    Survey,
    limits_over_time,
    platens_of,
    surveys_of,
)
from qc.presses.together import surveys_together
from qc.presses.uncertainty import ProbeUncertainty, probe_uncertainty

EARLIEST_DUE_DAYS = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is known of one surveyed platen, before it is judged. ``full``: its newest survey of
    points enough to show that its spread is kept."""

    survey: Survey
    limits: Limits
    probe: ProbeUncertainty
    trend: Trend | None
    no_trend: str
    cross: Crossing | None
    as_of_us: int
    offset_sigma_c: float
    point_sigma_c: float
    guard: float
    together: SurveyEwma | None = None
    full: Survey | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What every platen is judged with."""

    pooled: Repeatability
    instruments: pd.DataFrame
    as_of_us: int
    default_c: float
    guard: float


def platen_health(
    readings: pd.DataFrame, presses: pd.DataFrame, instruments: pd.DataFrame, *, as_of_us: int,
    default_uncertainty_c: float, guard: float = SIMPLE,
) -> tuple[PlatenHealth, ...]:
    """Every platen of the shop, most urgent first.

    Frames have the columns of their record kinds in stored units; ``presses`` may have every
    version, with ``from_us``. Platens without a survey are
    there too: the upper one of every press, the lower one where it is heated. ``guard`` is the
    guard band of the decision rule as a multiple of U; states do not depend on it.

    Notes
    -----
    recalibrate: |offset| > T or spread > S (simple acceptance; the risk is said in the reason).
    watch: within U of T or S, or the line crosses T before the next fixed check. overdue: past
    ``due_at_us``. unknown: no survey, or no tolerance. The first that applies, in that order of
    urgency with overdue after recalibrate. Due: last survey + interval of checks, or the soonest
    end of the crossing's 95 % interval if a drift is shown and that is earlier (never before the
    day after the survey); at once where the platen is out of tolerance. A survey of too few points
    (`SPREAD_POINTS`) is no survey of a spread that has a tolerance: what would be in tolerance is
    unknown, the reason says what to probe, and the interval runs from the last full survey (where
    that found the spread out, the next is due at once).
    """
    surveys = surveys_of(readings, as_of_us=as_of_us)
    return health_of(surveys, repeatability(surveys), presses, instruments, as_of_us=as_of_us,
                     default_uncertainty_c=default_uncertainty_c, guard=guard)


def health_of(
    surveys: Mapping[Platen, Sequence[Survey]], pooled: Repeatability, presses: pd.DataFrame,
    instruments: pd.DataFrame, *, as_of_us: int, default_uncertainty_c: float,
    guard: float = SIMPLE,
) -> tuple[PlatenHealth, ...]:
    """The same from surveys, none of them after ``as_of_us``, and how far they differ."""
    limits = limits_over_time(presses)
    asked = _Asked(pooled=pooled, instruments=instruments, as_of_us=as_of_us,
                   default_c=default_uncertainty_c, guard=guard)
    out = [
        _health(platen, surveys.get(platen, ()), limits.get(platen[0], LimitsOverTime()), asked)
        for platen in platens_of({press: one.now for press, one in limits.items()}, surveys)
    ]
    return tuple(sorted(out, key=lambda h: (PLATEN_STATES.index(h.state), h.press, h.platen)))


def _health(
    platen: Platen, found: Sequence[Survey], over_time: LimitsOverTime, asked: _Asked
) -> PlatenHealth:
    limits = over_time.now
    if not found:
        return _unsurveyed(platen, limits)
    survey, sigma = found[-1], asked.pooled.offset_c(asked.as_of_us)
    trend, why = trend_of(found, sigma)
    probe = probe_uncertainty(
        survey.instrument, asked.instruments, default_c=asked.default_c, at_us=survey.at_us,
        at_c=survey.setpoint_c,
    )
    health = judged(Standing(
        survey=survey, limits=limits, probe=probe, trend=trend, no_trend=why,
        cross=_ahead(survey, trend, limits), as_of_us=asked.as_of_us, offset_sigma_c=sigma,
        point_sigma_c=asked.pooled.point_c(asked.as_of_us), guard=asked.guard,
        together=surveys_together(found, sigma, limits.check_days),
        full=next((one for one in reversed(found) if one.shows_spread), None),
    ))
    shown = trend is not None and trend.is_drift
    return replace(health, interval=interval_advice(found, over_time, drift_shown=shown))


def _ahead(survey: Survey, trend: Trend | None, limits: Limits) -> Crossing | None:
    """The crossing still to come; none where the latest survey is beyond the limit already."""
    tolerance = limits.temperature_tolerance_c
    if tolerance is not None and abs(survey.offset_c) > tolerance:
        return None
    return crossing(trend, tolerance)


def _unsurveyed(platen: Platen, limits: Limits) -> PlatenHealth:
    return PlatenHealth(
        press=platen[0], platen=platen[1], last_survey_at_us=None, offset_c=None, spread_c=None,
        coldest=None, hottest=None, uncertainty_c=None, slope_c_per_day=None, slope_interval=None,
        crosses_at_us=None, crosses_between_us=None, due_at_us=None, state="unknown",
        reason="No survey of this platen is on record: survey it before trusting its temperature.",
        temperature_tolerance_c=limits.temperature_tolerance_c,
        uniformity_tolerance_c=limits.uniformity_tolerance_c,
    )


def judged(it: Standing) -> PlatenHealth:
    """The verdict on a surveyed platen, with its reason."""
    survey, trend, last_us = it.survey, it.trend, it.survey.at_us
    due_us = due_at_us(it)
    state = _state(it, due_us)
    return PlatenHealth(
        press=survey.press, platen=survey.platen, last_survey_at_us=last_us,
        offset_c=survey.offset_c, spread_c=survey.spread_c, coldest=survey.coldest,
        hottest=survey.hottest, uncertainty_c=it.probe.expanded_c,
        slope_c_per_day=trend.slope if trend else None,
        slope_interval=(trend.low, trend.high) if trend else None,
        crosses_at_us=crosses_at_us(it.cross, last_us),
        crosses_between_us=crosses_between_us(it.cross, last_us), due_at_us=due_us, state=state,
        reason=_reason(it, state, due_us),
        temperature_tolerance_c=it.limits.temperature_tolerance_c,
        uniformity_tolerance_c=it.limits.uniformity_tolerance_c,
        uncertainty_parts=tuple(part.words for part in it.probe.parts), rule=rule_words(it.guard),
        conformity=conformity(
            survey, it.limits, probe_standard_c=it.probe.standard_c,
            offset_sigma_c=it.offset_sigma_c, point_sigma_c=it.point_sigma_c, guard=it.guard),
        probe_first=_probe_first(it), spread_unjudged=_few_points(it),
    )


def _probe_first(it: Standing) -> bool:
    """Is the tolerance no wider than the probe's uncertainty, so that nothing can be shown?"""
    tolerance = it.limits.temperature_tolerance_c
    return tolerance is not None and not can_prove(tolerance, it.probe.expanded_c)


def due_at_us(it: Standing) -> int | None:
    """When the platen must be surveyed again, never later than the evidence covers."""
    if _out(it) or _was_uneven(it):
        return it.survey.at_us
    due = []
    if it.limits.check_every_days is not None:
        # what too few points were probed of is no check: the interval runs from the last full one
        since_us = it.full.at_us if _few_points(it) and it.full else it.survey.at_us
        due.append(since_us + round(it.limits.check_every_days * DAY_US))
    if it.cross is not None and it.trend is not None and it.trend.is_drift:
        due.append(it.survey.at_us + round(max(it.cross.soonest, EARLIEST_DUE_DAYS) * DAY_US))
    return min(due, default=None)


def _out(it: Standing) -> list[str]:
    """What is out of tolerance, in words; empty if nothing is."""
    asked, survey = it.limits, it.survey
    words = []
    if asked.temperature_tolerance_c is not None and (
        abs(survey.offset_c) > asked.temperature_tolerance_c
    ):
        words.append(
            f"mean {_signed(survey.offset_c)} from the setpoint is beyond "
            f"±{asked.temperature_tolerance_c:.1f} °C"
        )
    if asked.uniformity_tolerance_c is not None and survey.spread_c > asked.uniformity_tolerance_c:
        words.append(
            f"spread {survey.spread_c:.1f} °C is beyond {asked.uniformity_tolerance_c:.1f} °C, "
            f"coldest {survey.coldest_spot}"
        )
    return words


def _near(it: Standing) -> list[str]:
    """What cannot be told from being out of tolerance, or soon will be, in words."""
    asked, survey, expanded = it.limits, it.survey, it.probe.expanded_c
    t, s = asked.temperature_tolerance_c, asked.uniformity_tolerance_c
    words = []
    if t is not None and abs(survey.offset_c) > t - expanded:
        risk = beyond_probability(
            survey.offset_c, math.hypot(it.probe.standard_c, it.offset_sigma_c), t)
        words.append(
            f"mean {_signed(survey.offset_c)} is within the probe's ±{expanded:.1f} °C of "
            f"the limit ±{t:.1f} °C, a {100 * risk:.0f} % chance to be beyond it"
        )
    if s is not None and survey.spread_c > s - expanded:
        words.append(
            f"spread {survey.spread_c:.1f} °C is within the probe's ±{expanded:.1f} °C of "
            f"the limit {s:.1f} °C"
        )
    if t is not None and it.cross is not None and it.cross.days < asked.check_days:
        limit = t if it.trend is not None and it.trend.slope > 0 else -t
        words.append(
            f"at {_rate(it.trend)} it would cross {_signed(limit)} in {it.cross.days:.0f} days, "
            "before the next check"
        )
    return words


def _state(it: Standing, due_us: int | None) -> str:
    if _out(it):
        return "recalibrate"
    if due_us is not None and it.as_of_us > due_us:
        return "overdue"
    if _near(it):
        return "watch"
    if it.limits.temperature_tolerance_c is None or _few_points(it):
        return "unknown"
    return "in_tolerance"


def _few_points(it: Standing) -> bool:
    """Is there a tolerance of the spread that the survey cannot show to be kept?"""
    return it.limits.uniformity_tolerance_c is not None and not it.survey.shows_spread


def _was_uneven(it: Standing) -> bool:
    """Was the spread out when it was last seen, and not seen since?"""
    limit = it.limits.uniformity_tolerance_c
    return (_few_points(it) and limit is not None and it.full is not None
            and it.full.spread_c > limit)


def _reason(it: Standing, state: str, due_us: int | None) -> str:
    words = {"recalibrate": _out(it), "watch": _near(it)}.get(state, [])
    if state == "overdue" and due_us is not None:
        late = (it.as_of_us - due_us) / DAY_US
        words = [f"the survey due {late:.1f} days ago has not been made", *_near(it)]
    elif state == "unknown":
        words = (["no temperature tolerance is set for this press"]
                 if it.limits.temperature_tolerance_c is None else
                 [f"mean {_signed(it.survey.offset_c)} is inside its limit"])
    elif state == "in_tolerance":
        words = [f"mean {_signed(it.survey.offset_c)} and spread {it.survey.spread_c:.1f} °C are "
                 "inside their limits by more than the probe's uncertainty"]
    sentence = "; ".join([*words, *_notes(it)])
    return f"{sentence[:1].upper()}{sentence[1:]}."


def _notes(it: Standing) -> list[str]:
    t = it.limits.temperature_tolerance_c
    notes = []
    if it.probe.caution:
        notes.append(it.probe.caution)
    if t is not None and _probe_first(it):
        notes.append(
            f"no reading of a probe good to ±{it.probe.expanded_c:.1f} °C can prove ±{t:.1f} °C: "
            "calibrate the probe first"
        )
    if _few_points(it):
        notes.append(
            f"the spread cannot be judged from {_count(it.survey.n_points)}: probe the points of "
            f"the last full survey, at least {SPREAD_POINTS} (common practice, no source)"
        )
    if _was_uneven(it) and it.full is not None:
        notes.append(f"the last full survey found it {it.full.spread_c:.1f} °C, beyond "
                     f"{it.limits.uniformity_tolerance_c:.1f} °C")
    if it.survey.partial and it.survey.n_points > 1:
        notes.append(f"only {it.survey.n_points} points were probed, fewer than usual")
    if it.limits.uniformity_tolerance_c is None and t is not None:
        notes.append("no uniformity tolerance is set")
    notes.append(it.no_trend or _drift_words(it.trend))
    if it.together is not None and it.together.direction:
        way = "higher" if it.together.direction > 0 else "lower"
        notes.append(f"surveys taken together (EWMA) lie {way} than those before them")
    return notes


def _count(n_points: int) -> str:
    return "one point" if n_points == 1 else f"{n_points} points"


def _drift_words(trend: Trend | None) -> str:
    if trend is None or not trend.is_drift:
        return "no drift shown"
    since = f" {trend.note}" if trend.note else ""
    return f"drifts {_rate(trend)}{since}"


def _rate(trend: Trend | None) -> str:
    return "" if trend is None else f"{trend.slope:+.2f} °C a day".replace("-", "−")


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f} °C".replace("-", "−")  # + 0.0: no minus before zero
