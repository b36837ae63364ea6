"""Advice on the interval between checks, from what they found."""

from __future__ import annotations

from collections.abc import Sequence

from qc.domain.instants import DAY_US
from qc.domain.platens import IntervalAdvice
from qc.presses.surveys import Limits, LimitsOverTime, Survey

GOOD_IN_A_ROW = 3
LONGER, SHORTER = 1.5, 0.5
LEAST_DAYS = 1.0
ON_TIME_SHARE = 0.8
"""A look so much sooner than the interval says nothing of how long the platen would have held."""


def interval_advice(
    found: Sequence[Survey], limits: LimitsOverTime, *, drift_shown: bool
) -> IntervalAdvice | None:
    """Lengthen the interval after three checks in a row that found the platen good, halve it after
    one that did not; None where the shop has set no interval or no tolerance.

    Parameters
    ----------
    found : surveys of one platen in order; limits : what was asked of its press, newest last

    Notes
    -----
    A check is a survey before any adjustment (routine or as found) of no fewer points than usual,
    made since the interval was set; of too few points to show the spread it counts only if it is
    bad. It is good where mean and spread are inside the tolerances of today, and counts as good
    only if the interval had nearly passed. A drift that is shown is no time to lengthen. Common
    practice, no source: three, by half, by halves.
    """
    asked = limits.now
    days = asked.check_every_days
    if days is None or asked.temperature_tolerance_c is None:
        return None
    since_us = _set_since(limits)
    made = ((survey, _is_good(survey, asked)) for survey in found
            if survey.at_us >= since_us and survey.state != "as_left" and not survey.partial)
    checks = [(survey.at_us, is_good) for survey, is_good in made
              if not is_good or asked.uniformity_tolerance_c is None or survey.shows_spread]
    bad = [at_us for at_us, is_good in checks if not is_good]
    good = _good_in_a_row(checks, days)
    is_bad = bool(bad) and bad[-1] == checks[-1][0]
    action = "keep"
    if is_bad and days > LEAST_DAYS:
        action = "halve"
    elif good >= GOOD_IN_A_ROW and not drift_shown:
        action = "lengthen"
    factor = {"keep": 1.0, "halve": SHORTER, "lengthen": LONGER}[action]
    return IntervalAdvice(
        action=action, days=days, advised_days=max(LEAST_DAYS, days * factor), n_good=good,
        n_needed=GOOD_IN_A_ROW, last_bad_us=bad[-1] if bad else None, drift_shown=drift_shown,
    )


def _set_since(limits: LimitsOverTime) -> int:
    """When today's interval was set."""
    since_us = limits.from_us[-1]
    for at_us, asked in zip(reversed(limits.from_us), reversed(limits.limits), strict=True):
        if asked.check_every_days != limits.now.check_every_days:
            break
        since_us = at_us
    return since_us


def _is_good(survey: Survey, asked: Limits) -> bool:
    mean, spread = asked.temperature_tolerance_c, asked.uniformity_tolerance_c
    return (mean is None or abs(survey.offset_c) <= mean) and (
        spread is None or survey.spread_c <= spread)


def _good_in_a_row(checks: Sequence[tuple[int, bool]], days: float) -> int:
    """Good checks since the last bad one, those made long before they were due left out."""
    n, before_us = 0, None
    for at_us, is_good in checks:
        if not is_good:
            n, before_us = 0, at_us
        elif before_us is None or at_us - before_us >= ON_TIME_SHARE * days * DAY_US:
            n, before_us = n + (before_us is not None), at_us
    return n
