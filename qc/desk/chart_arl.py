"""Limits for a wanted average run length in control: what false alarms may cost sets the limits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from qc.desk.chart_request import ChartRequest
from qc.errors import InputError
from qc.stats.runlength.cusum import cusum_decision
from qc.stats.runlength.ewma import ewma_width
from qc.stats.runlength.shewhart import shewhart_width

ON_AVERAGE = (
    "the limit is set for one false signal in {arl:g} points on average, were centre and spread"
    " known exactly"
)
EACH_POINT = (
    "each point has a chance of at most 1 in {arl:g} to lie beyond its limits by luck; counts are"
    " whole, so false signals come somewhat more seldom than one in {arl:g} points"
)
EACH_VALUE = "each point has a chance of 1 in {arl:g} to lie beyond its limits by luck"


def limits_for_arl(request: ChartRequest) -> tuple[dict[str, Any], str | None]:
    """The arguments that set the limits of this kind for the run length asked for, and a note.

    Raises
    ------
    InputError
        The limit is given as well, or no limit gives that run length.
    """
    arl = request.for_arl
    if arl is None:
        return {}, None
    setting, takes, note = _SETTINGS[request.kind]
    both = [name for name in takes if getattr(request, name) is not None]
    if both:
        raise InputError(f"--for-arl sets what --{both[0]} sets; give one of the two")
    if not 1 < arl < float("inf"):
        raise InputError(f"--for-arl is {arl:g}; it must be a number of points above 1")
    return setting(request, arl), note.format(arl=arl)


def _width(request: ChartRequest, arl: float) -> dict[str, Any]:
    return {"width": shewhart_width(arl, rules=request.rules or "limits")}


def _ewma(request: ChartRequest, arl: float) -> dict[str, Any]:
    weight = 0.2 if request.weight is None else request.weight
    return {"width": ewma_width(arl, weight=weight, limits=request.limits or "exact")}


def _cusum(request: ChartRequest, arl: float) -> dict[str, Any]:
    reference = 0.5 if request.reference is None else request.reference
    return {"decision": cusum_decision(arl, reference=reference,
                                       head_start=request.head_start or 0.0)}


def _probability(request: ChartRequest, arl: float) -> dict[str, Any]:
    return {"limits": "probability", "alpha": 1 / arl}


def _alpha(request: ChartRequest, arl: float) -> dict[str, Any]:
    return {"alpha": 1 / arl}


Setting = tuple[Callable[[ChartRequest, float], dict[str, Any]], tuple[str, ...], str]
_COUNTS: Setting = (_probability, ("limits", "alpha"), EACH_POINT)
_SETTINGS: dict[str, Setting] = {
    **dict.fromkeys(("individuals", "xbar-r", "xbar-s"), (_width, ("width",), ON_AVERAGE)),
    **dict.fromkeys(("p", "np", "c", "u", "g"), _COUNTS),
    "t": (_probability, ("limits", "alpha"), EACH_VALUE),
    "ewma": (_ewma, ("width",), ON_AVERAGE),
    "cusum": (_cusum, ("decision",), ON_AVERAGE),
    "t2": (_alpha, ("alpha",), EACH_VALUE),
}
