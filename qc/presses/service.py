"""What the surveys of a platen say of a service order: as found, as left, the check that it worked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qc.domain.instants import DAY_US
from qc.domain.service import SurveyFound
from qc.presses.conformity import conformity
from qc.presses.repeatability import Repeatability
from qc.presses.surveys import Limits, Survey
from qc.presses.uncertainty import ProbeUncertainty

FOUND_BEFORE_US = DAY_US
"""An as-found survey of the day before belongs to the order: some look first, then write."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSurveys:
    """``found``: as found, not before the order; ``left``: the newest as left after it, or, with
    ``wrong``, one that nothing was found before; ``check``: the newest survey once left;
    ``last_good``: the newest in tolerance before what was found."""

    found: SurveyFound | None
    left: SurveyFound | None
    check: SurveyFound | None
    last_good: SurveyFound | None
    wrong: bool = False


def survey_found(
    survey: Survey, limits: Limits, probe: ProbeUncertainty, pooled: Repeatability, *, guard: float
) -> SurveyFound:
    """A survey judged by the shop's rule; ``guard`` is the guard band as a multiple of U."""
    judged = conformity(
        survey, limits, probe_standard_c=probe.standard_c, guard=guard,
        offset_sigma_c=pooled.offset_c(survey.at_us), point_sigma_c=pooled.point_c(survey.at_us))
    return SurveyFound(
        survey_id=survey.survey_id, at_us=survey.at_us, state=survey.state,
        instrument=survey.instrument, setpoint_c=survey.setpoint_c, offset_c=survey.offset_c,
        spread_c=survey.spread_c, uncertainty_c=probe.expanded_c, n_points=survey.n_points,
        judged=judged)


def order_surveys(
    judged: Sequence[SurveyFound], *, opened_us: int, until_us: int | None = None
) -> OrderSurveys:
    """Which surveys of a platen (all of them, in order) belong to an order.

    ``until_us``: when the order was closed or cancelled; later surveys are another matter.
    """
    mine = [s for s in judged if until_us is None or s.at_us <= until_us]
    found = next((s for s in mine if s.state == "as_found"
                  and s.at_us >= opened_us - FOUND_BEFORE_US), None)
    since_us = opened_us if found is None else found.at_us
    left = next((s for s in reversed(mine) if s.state == "as_left" and s.at_us >= since_us), None)
    end_us = since_us if left is None else left.at_us
    after = [s for s in mine if s.at_us >= end_us and s.state != "as_found"]
    before = [s for s in mine if s.good and s.at_us < since_us and s is not found]
    return OrderSurveys(
        found=found, left=left, wrong=left is not None and found is None,
        check=after[-1] if after and left is not None else None,
        last_good=before[-1] if before else None,
    )


def order_state(surveys: OrderSurveys) -> str:
    """What an open order waits for (`qc.domain.service.ORDER_STATES`)."""
    if surveys.wrong:
        return "order_wrong"
    if surveys.found is None:
        return "find"
    if surveys.left is None:
        return "ready" if surveys.found.good else "leave"
    return "ready" if surveys.check is not None and surveys.check.good else "check"
