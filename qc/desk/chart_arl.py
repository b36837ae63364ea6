"""Limits for a wanted average run length in control: what false alarms may cost sets the limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from qc.desk.chart_kinds import ChartKind
from qc.desk.chart_request import ChartRequest
from qc.errors import InputError
from qc.stats.runlength.counts import count_alpha
from qc.stats.runlength.cusum import cusum_decision
from qc.stats.runlength.ewma import ewma_width
from qc.stats.runlength.shewhart import shewhart_width
from qc.stats.runlength.times import time_alpha

KNOWN = "one false signal in {arl:g} points on average, were centre and spread known exactly"
ON_AVERAGE = f"the limits are set for {KNOWN}"
AT_MOST = f"the limits are set for at most {KNOWN}; counts come in steps, so it may be fewer"
EACH_POINT = (
    "samples differ in size, so each has limits of its own: a chance of at most 1 in {arl:g} to"
    " lie beyond them by luck"
)


MOST_BY_POINT = 1e9


@dataclass(frozen=True, slots=True, kw_only=True)
class ArlLimits:
    """Arguments that set the limits of a chart, and what is to be said of them."""

    options: dict[str, Any]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Wanted:
    """What the limits are looked for: the run length, the chart, its columns and options."""

    arl: float
    request: ChartRequest
    kind: ChartKind
    columns: dict[str, Any]
    options: dict[str, Any]

    def given(self, *names: str) -> dict[str, Any]:
        """Those of the options that were given."""
        return {name: self.options[name] for name in names if name in self.options}


def limits_for_arl(
    kind: ChartKind, request: ChartRequest, columns: dict[str, Any], options: dict[str, Any]
) -> ArlLimits | None:
    """What sets the limits of this chart for the run length asked for; None: none was asked.

    Raises
    ------
    InputError
        The limit is given as well, or the run length is not above 1.
    ValueError
        No limit gives that run length.
    """
    arl = request.for_arl
    if arl is None:
        return None
    setting, takes = _SETTINGS[request.kind]
    both = [name for name in takes if getattr(request, name) is not None]
    if both:
        raise InputError(f"--for-arl sets what --{both[0]} sets; give one of the two")
    if not 1 < arl < float("inf"):
        raise InputError(f"--for-arl is {arl:g}; it must be a number of points above 1")
    found = setting(_Wanted(arl=arl, request=request, kind=kind, columns=columns, options=options))
    return ArlLimits(options=found.options, note=found.note.format(arl=arl))


def _width(wanted: _Wanted) -> ArlLimits:
    width = shewhart_width(wanted.arl, **wanted.given("rules"))
    return ArlLimits(options={"width": width}, note=ON_AVERAGE)


def _ewma(wanted: _Wanted) -> ArlLimits:
    given = {"limits": "exact"} | wanted.given("weight", "limits")
    return ArlLimits(options={"width": ewma_width(wanted.arl, **given)}, note=ON_AVERAGE)


def _cusum(wanted: _Wanted) -> ArlLimits:
    decision = cusum_decision(wanted.arl, **wanted.given("reference", "head_start"))
    return ArlLimits(options={"decision": decision}, note=ON_AVERAGE)


def _counts(wanted: _Wanted) -> ArlLimits:
    """By the exact run length where samples are of one size, else point by point."""
    size = next((wanted.columns[name] for name in ("n_inspected", "n_units")
                 if name in wanted.columns), None)
    centre = wanted.kind.make(**wanted.columns, **wanted.options).charts[0].centre
    if centre <= 0 or (size is not None and np.ptp(size) > 0):
        return ArlLimits(options=_probability(_each(wanted.arl)), note=EACH_POINT)
    sized: dict[str, Any] = {} if size is None else {"size": float(size[0])}
    alpha = count_alpha(wanted.arl, kind=wanted.request.kind, centre=centre, **sized,
                        **wanted.given("rules"))
    return ArlLimits(options=_probability(alpha), note=AT_MOST)


def _each(arl: float) -> float:
    if arl > MOST_BY_POINT:
        raise InputError(f"--for-arl is {arl:g}; where samples differ in size it can be up to"
                         f" {MOST_BY_POINT:g}")
    return 1 / arl


def _times(wanted: _Wanted) -> ArlLimits:
    alpha = time_alpha(wanted.arl, **wanted.given("rules"))
    return ArlLimits(options=_probability(alpha), note=ON_AVERAGE)


def _t2(wanted: _Wanted) -> ArlLimits:
    return ArlLimits(options={"alpha": 1 / wanted.arl}, note=ON_AVERAGE)


def _mewma(wanted: _Wanted) -> ArlLimits:
    return ArlLimits(options={"in_control_arl": wanted.arl}, note=ON_AVERAGE)


def _probability(alpha: float) -> dict[str, Any]:
    return {"limits": "probability", "alpha": alpha}


Setting = tuple[Callable[[_Wanted], ArlLimits], tuple[str, ...]]
_SETTINGS: dict[str, Setting] = {
    **dict.fromkeys(("individuals", "xbar-r", "xbar-s"), (_width, ("width",))),
    **dict.fromkeys(("p", "np", "c", "u", "g"), (_counts, ("limits", "alpha"))),
    "t": (_times, ("limits", "alpha")),
    "ewma": (_ewma, ("width",)),
    "cusum": (_cusum, ("decision",)),
    "t2": (_t2, ("alpha",)),
    "mewma": (_mewma, ("decision",)),
}
