"""Service orders in words, the same for every face."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from qc.domain.decision_words import SPREAD_UNJUDGED, judged_words
from qc.domain.instants import from_us
from qc.domain.service import (
    OrderStanding,
    PressedSince,
    ServiceOrder,
    ServiceStep,
    SurveyFound,
)
from qc.domain.whereabouts import STATUS_WORDS
from qc.units import from_stored, unit

REASON_WORDS = {"flag": "from a flag", "due": "its state or a check that is due",
                "pieces": "from the finished pieces", "person": "asked for"}
STEP_WORDS = {"owner": "given to {name}", "done": "done: {words}", "note": "note: {words}",
              "close": "closed", "cancel": "cancelled: {words}"}


def order_name(order: ServiceOrder) -> str:
    """The platen an order is about."""
    return f"{order.platen} platen of {order.press}"


def reason_words(order: ServiceOrder) -> str:
    """What an order comes from."""
    return REASON_WORDS[order.reason]


def step_words(step: ServiceStep, zone: ZoneInfo) -> str:
    """One step of an order, without who and when."""
    if step.step == "due":
        return f"due {_moment(int(step.said['due_us']), zone)}"
    return STEP_WORDS[step.step].format(**step.said)


def survey_words(found: SurveyFound, zone: ZoneInfo, heat_unit: str) -> str:
    """One survey of an order in the unit with this suffix, 'c' or 'f': figures, how sure, what was
    decided."""
    def shown(value: float, quantity: str = "temperature_difference") -> float:
        return float(from_stored(value, quantity, heat_unit))

    symbol, probe = unit("temperature", heat_unit).symbol, found.instrument or "probe not named"
    return (f"{_moment(found.at_us, zone)}, mean {_signed(shown(found.offset_c))} {symbol} from "
            f"{shown(found.setpoint_c, 'temperature'):.0f} {symbol}, "
            f"spread {shown(found.spread_c):.1f} {symbol}, {counted_points(found.n_points)}, "
            f"{probe} (±{shown(found.uncertainty_c):.1f} {symbol}): "
            f"{decision_with_caution(found)}")


def counted_points(n: int) -> str:
    """How many points of a survey, as people say it."""
    return "1 point" if n == 1 else f"{n} points"


def decision_with_caution(found: SurveyFound) -> str:
    """What was decided of a survey, and what is wrong with the probe it was made with."""
    said = judged_words(found.judged) if found.judged or not found.unjudged else ""
    decided = ", ".join(filter(None, (said, SPREAD_UNJUDGED if found.unjudged else "")))
    return "; ".join(filter(None, (decided, found.caution)))


def found_several(standing: OrderStanding) -> str:
    """Which of several as-found surveys counts; '' where there is one or none."""
    if standing.n_found < 2 or standing.found is None:
        return ""
    why = ("the newest that was out; what was out once stays out until it is adjusted"
           if standing.found.good is False else "the newest")
    return f"{standing.n_found} surveys as found; this one counts, {why}."


def pressed_words(found: PressedSince, zone: ZoneInfo) -> str:
    """The pieces pressed while the platen may have been out of tolerance."""
    since = (f"the last good check ({_moment(found.last_good.at_us, zone)})" if found.last_good
             else f"the first record ({_moment(found.since_us, zone)}): there is no good check "
                  "before")
    where = ", ".join(f"{n} {STATUS_WORDS[status]}" for status, n in found.by_status)
    return (f"Pressed since {since} and before it was found out of tolerance: {found.n_pieces} "
            f"pieces{f' ({where})' if where else ''}.")


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}".replace("-", "−")


def _moment(instant_us: int, zone: ZoneInfo) -> str:
    return f"{from_us(instant_us, zone):%Y-%m-%d %H:%M}"
