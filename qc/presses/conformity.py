"""In tolerance, cannot be shown, or out: what one survey says under the shop's decision rule."""

from __future__ import annotations

import math
from collections.abc import Iterable

from qc.domain.platens import Conformity
from qc.presses.decision import (
    SIMPLE,
    acceptance_limit,
    beyond_probability,
    decided,
    false_acceptance_at_limit,
    rejection_limit,
)
from qc.presses.evenness import spread_risk, spread_uncertainty
from qc.presses.surveys import Limits, Survey
from qc.presses.uncertainty import COVERAGE


def rule_words(guard: float) -> str:
    """The decision rule, and the risk it leaves right at its limit."""
    risk = f"at most {100 * false_acceptance_at_limit(guard):.2g} % risk"
    if guard == SIMPLE:
        return f"simple acceptance, {risk}"
    times = "U" if guard == 1 else f"{guard:.2g} U"
    return f"guard band of {times}, {risk}"


def conformity(
    survey: Survey, limits: Limits, *, probe_standard_c: float, offset_sigma_c: float,
    point_sigma_c: float, guard: float,
) -> tuple[Conformity, ...]:
    """The decision on the mean and on the spread, each where it has a tolerance.

    Parameters
    ----------
    probe_standard_c : standard uncertainty of the probe; offset_sigma_c, point_sigma_c : standard
        deviations of a survey's mean and of one point about it; all degC
    guard : guard band as a multiple of U, 0 (simple acceptance) to 1

    Notes
    -----
    The uncertainty of the mean is that of the probe and of how far surveys of an unchanged platen
    differ, added in squares. That of the spread comes from the scatter of points alone: the probe
    is off by the same at the hottest and the coldest. The risk is stated from this one measurement:
    of platens that are usually good fewer are beyond the tolerance than a middling risk says. Fewer
    than `SPREAD_POINTS` points may miss the hottest and the coldest: they can show that a spread is
    beyond its tolerance, never that it is kept, so nothing else is decided from them.
    """
    found = []
    tolerance = limits.temperature_tolerance_c
    if tolerance is not None:
        u = math.hypot(probe_standard_c, offset_sigma_c)
        risk = beyond_probability(survey.offset_c, u, tolerance)
        found.append(_judged("mean", abs(survey.offset_c), u, tolerance, risk, guard))
    tolerance = limits.uniformity_tolerance_c
    if tolerance is not None and survey.n_points > 1:
        risk = spread_risk(survey.error_c, point_sigma_c, tolerance)
        u = spread_uncertainty(point_sigma_c)
        spread = _judged("spread", survey.spread_c, u, tolerance, risk, guard)
        if survey.shows_spread or spread.decision == "out":
            found.append(spread)
    return tuple(found)


def spread_unjudged(survey: Survey, limits: Limits, judged: Iterable[Conformity]) -> bool:
    """Is there a tolerance of the spread that this survey says nothing of?"""
    return limits.uniformity_tolerance_c is not None and all(
        one.what != "spread" for one in judged)


def _judged(
    what: str, value: float, u: float, tolerance: float, risk: float, guard: float
) -> Conformity:
    expanded = COVERAGE * u
    return Conformity(
        what=what, decision=decided(value, tolerance, expanded, guard=guard), risk=risk,
        uncertainty_c=expanded, accepted_to_c=acceptance_limit(tolerance, expanded, guard=guard),
        out_from_c=rejection_limit(tolerance, expanded, guard=guard),
    )
