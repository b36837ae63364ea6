"""What the surveys of a platen say of a service order: as found, as left, the check that it worked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qc.domain.instants import DAY_US
from qc.domain.platens import SPREAD_POINTS
from qc.domain.service import SurveyFound
from qc.presses.conformity import conformity, spread_unjudged
from qc.presses.repeatability import Repeatability
from qc.presses.surveys import Limits, Survey
from qc.presses.uncertainty import ProbeUncertainty

FOUND_BEFORE_US = DAY_US
"""An as-found survey of the day before belongs to the order: some look first, then write."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSurveys:
    """``found``: as found, not before the order: of several before one as left the newest that is
    out, else the newest, ``n_found`` of them; ``left``: the newest as left after it, or, with
    ``wrong``, one that nothing was found before; ``check``: the newest survey once left;
    ``last_good``: the newest in tolerance before what was found; ``to_cover``: the survey whose
    points the check must have, None where any will do."""

    found: SurveyFound | None
    left: SurveyFound | None
    check: SurveyFound | None
    last_good: SurveyFound | None
    to_cover: SurveyFound | None = None
    n_found: int = 0
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
        judged=judged, points=survey.points, unjudged=spread_unjudged(survey, limits, judged),
        caution=probe.caution)


def order_surveys(
    judged: Sequence[SurveyFound], *, opened_us: int, until_us: int | None = None
) -> OrderSurveys:
    """Which surveys of a platen (all of them, in order) belong to an order.

    ``until_us``: when the order was closed or cancelled; later surveys are another matter.
    """
    mine = [s for s in judged if until_us is None or s.at_us <= until_us]
    since_us = opened_us - FOUND_BEFORE_US
    first_left = next((at for at, s in enumerate(mine)
                       if s.state == "as_left" and s.at_us >= opened_us), len(mine))
    all_found = [at for at, s in enumerate(mine[:first_left])
                 if s.state == "as_found" and s.at_us >= since_us]
    out = [at for at in all_found if mine[at].good is False]
    if not all_found:
        return OrderSurveys(
            found=None, left=_newest(mine[first_left:], "as_left"), check=None,
            wrong=first_left < len(mine),
            last_good=_newest_good([s for s in mine if s.at_us < opened_us]))
    at = (out or all_found)[-1]
    before, after = mine[:at], mine[at + 1:]
    left = _newest(after, "as_left")
    check = None if left is None else _check(after, left)
    return OrderSurveys(
        found=mine[at], left=left, check=check, n_found=len(all_found),
        last_good=_newest_good(mine[:all_found[0]]),
        to_cover=_to_cover(mine[at], before, adjusted=left is not None))


def _newest(surveys: Sequence[SurveyFound], state: str) -> SurveyFound | None:
    return next((s for s in reversed(surveys) if s.state == state), None)


def _newest_good(surveys: Sequence[SurveyFound]) -> SurveyFound | None:
    return next((s for s in reversed(surveys) if s.good), None)


def _check(after: Sequence[SurveyFound], left: SurveyFound) -> SurveyFound:
    """The newest survey from the one as left on. One found since speaks only against it: an order
    is closed by what was left, or by a check of that."""
    since = after[after.index(left):]
    return next(s for s in reversed(since) if s.state != "as_found" or s.good is False)


def _to_cover(
    found: SurveyFound, before: Sequence[SurveyFound], *, adjusted: bool
) -> SurveyFound | None:
    """The survey that showed what was wrong: the one found, or the last full one before where too
    few points were probed to see it again."""
    full = [s for s in before if s.n_points >= SPREAD_POINTS]
    last = full[-1] if full else None
    if not adjusted:
        return last if last is not None and last.good is False else None
    return last if last is not None and found.n_points < SPREAD_POINTS else found


def order_state(surveys: OrderSurveys) -> str:
    """What an open order waits for (`qc.domain.service.ORDER_STATES`)."""
    if surveys.wrong:
        return "order_wrong"
    if surveys.found is None:
        return "find"
    if surveys.left is None:
        return _judged(surveys.found, surveys.to_cover, not_good="leave", few="found_few")
    return _judged(surveys.check or surveys.left, surveys.to_cover, not_good="check",
                   few="check_few")


def _judged(survey: SurveyFound, to_cover: SurveyFound | None, *, not_good: str, few: str) -> str:
    if survey.good is None:
        return few if survey.unjudged else not_good
    if not survey.good:
        return not_good
    return "ready" if to_cover is None or survey.covers(to_cover) else few
