"""A finding in plain sentences: what and since when, how sure, what would settle it, what first."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from qc.domain.flags import LEADING, named_causes, worthy_rivals
from qc.monitor.findings import Finding
from qc.monitor.first_steps import next_step
from qc.monitor.phrases import (
    DIFFERENCE_OF,
    SHARP_US,
    capital,
    cause_words,
    characteristic_words,
    listed,
    moment,
    percent,
    quantity,
    seen,
    short_words,
    weight_words,
    where,
)
from qc.monitor.settling import settle
from qc.units import STORED_UNITS, ShopUnits

__all__ = ["message", "next_step", "settle", "sure", "where"]

CERTAIN, LIKELY = 0.95, 0.8
"""Shares of the evidence for 'almost certainly' and 'very likely'; 'probably' is down to
`LEADING`, below which the cause and its rivals are named side by side. Proposed starting values,
no source."""

CLEAR_GAIN, THIN_GAIN = 10.0, 5.5
"""Log likelihood gains over 'nothing has changed', clumping counted in: from the first on luck is
an unlikely story, below the second the evidence has thinned since the signal. Proposed starting
values, no source."""

MOVES = {
    "dx_mm": ("right", "left"), "dy_mm": ("down", "up"),
    "rotation_deg": ("turned clockwise", "turned anticlockwise"),
}


def message(finding: Finding, zone: ZoneInfo, units: ShopUnits = STORED_UNITS) -> str:
    """One sentence: what is off, where, by how much, since when and until when."""
    body = {
        "defect_rate": _defect, "placement": _placement, "setting": _setting,
        "calibration": _calibration,
    }[finding.kind](finding, units)
    with_it = ""
    if finding.kind != "defect_rate" and finding.also:
        with_it = f", and with it more {listed(map(short_words, finding.also))}"
    return f"{capital(body)}, {_when(finding, zone)}{with_it}."


def undecided(finding: Finding) -> bool:
    """Can the records not yet tell the cause from its rivals?"""
    return len(named_causes(finding.factor, finding.other_factors)) > 1


def sure(finding: Finding) -> str:
    """One sentence: how sure it is that something changed, and what changed it."""
    if finding.kind == "calibration":
        also = [short_words(code) for code in finding.also]
        fits = f"; the rise in {listed(also)} fits it" if also else ""
        return f"Measured by the platen's own surveys{fits}."
    return f"{_luck(finding.gain)} {_cause(finding)}."


def _luck(gain: float) -> str:
    if gain >= CLEAR_GAIN:
        return "More than luck;"
    return "Hardly luck;" if gain >= THIN_GAIN else "Perhaps still luck; if not,"


def _cause(finding: Finding) -> str:
    weight, rivals = finding.factor.weight, worthy_rivals(finding.other_factors)
    named = [f"{cause_words(r)} ({weight_words(r.weight)})" for r in rivals]
    first = f"{cause_words(finding.factor)} ({weight_words(weight)} of the evidence)"
    if undecided(finding):
        return f"either {listed([first, *named], 'or')}: the records cannot tell them apart yet"
    else_ = f", else {listed(named, 'or')}" if named else ""
    words = "perhaps"
    for least, said in ((CERTAIN, "almost certainly"), (LIKELY, "very likely"),
                        (LEADING, "probably")):
        if weight >= least:
            words = said
            break
    return f"{words} {first}{else_}"


def _place(finding: Finding) -> str:
    """Where it is seen, with the rivals where they cannot be told apart."""
    causes = [seen(cause) for cause in named_causes(finding.factor, finding.other_factors)]
    return f" {causes[0]}" if len(causes) == 1 else f", either {listed(causes, 'or')}"


def _defect(finding: Finding, _units: ShopUnits) -> str:
    corner = f" at the {finding.zone.replace('_', ' ')}" if finding.zone else ""
    also = ""
    if finding.also:
        also = f", with {listed(map(short_words, finding.also))}{'' if undecided(finding) else ','}"
    what = f"{characteristic_words(finding.characteristic)}{corner}{also}{_place(finding)}"
    after, usual = finding.after, finding.expected_after
    if after is None or usual is None:
        return f"{what}: more than the usual rate"
    if after <= usual:
        return f"{what}: {percent(after)} of pieces by now, no more than the usual {percent(usual)}"
    return f"{what}: {percent(after)} of pieces where {percent(usual)} would be usual"


def _setting(finding: Finding, units: ShopUnits) -> str:
    what = f"{characteristic_words(finding.characteristic)}{_place(finding)}"
    after, recipe = finding.after, finding.expected_after
    if after is None:
        return f"{what}: changed"
    now = quantity(after, finding.characteristic, units)
    if recipe is None:
        return f"{what}: {now}"
    asked = quantity(recipe, finding.characteristic, units)
    moved = next((one[1] for one in finding.shift if one[0] == finding.characteristic), None)
    if moved is None or (now != asked and (after > recipe) == (moved > 0)):
        return f"{what}: {now} where the recipe says {asked}"
    # pieces and jobs tell it differently: a change counts each job once
    like = DIFFERENCE_OF.get(finding.characteristic, finding.characteristic)
    size = quantity(abs(moved), like, units)
    return (f"{what}: {size} {'more' if moved > 0 else 'less'} than before on the average of its"
            f" jobs, where the recipe says {asked}")


def _placement(finding: Finding, units: ShopUnits) -> str:
    comma = "," if undecided(finding) else ""
    return f"prints{_place(finding)}{comma} sit {listed(_moves(finding, units))}"


def _moves(finding: Finding, units: ShopUnits) -> list[str]:
    """Each direction the prints have moved in, as 'right by 5.0 mm (4.1 to 5.9 mm)'."""
    moved = [one for one in finding.shift if one[2] * one[3] > 0] or list(finding.shift[:1])
    if moved:
        return [
            f"{_toward(name, by, units)} ({_size(name, low, high, units)})"
            for name, by, low, high in moved
        ]
    usual = finding.expected_after if finding.expected_after is not None else finding.before
    if finding.after is None or finding.characteristic not in MOVES:
        return ["off their place"]
    return [_toward(finding.characteristic, finding.after - (usual or 0.0), units)]


def _toward(characteristic: str, by: float, units: ShopUnits) -> str:
    more, less = MOVES[characteristic]
    return f"{more if by > 0 else less} by {quantity(abs(by), characteristic, units)}"


def _size(characteristic: str, low: float, high: float, units: ShopUnits) -> str:
    """The interval of a shift, without its sign where the side is sure."""
    least, most = sorted((abs(low), abs(high))) if low * high > 0 else (low, high)
    number = quantity(least, characteristic, units).rstrip("°").split()[0]
    return f"{number} to {quantity(most, characteristic, units)}"


def _calibration(finding: Finding, units: ShopUnits) -> str:
    what = f"{finding.platen} platen of {cause_words(finding.factor)}"
    if finding.after is None:
        return f"{what}: {characteristic_words(finding.characteristic)} has changed"
    if finding.characteristic == "temperature_spread_c":
        now = quantity(finding.after, finding.characteristic, units)
        was = "" if finding.before is None else (
            f", was {quantity(finding.before, finding.characteristic, units)}")
        return f"{what}: {now} between its hottest and coldest point{was}"
    was = "" if finding.before is None else f", was {_off(finding.before, units, short=True)}"
    return f"{what}: {_off(finding.after, units)}{was}"


def _off(error_c: float, units: ShopUnits, *, short: bool = False) -> str:
    side = "above" if error_c > 0 else "below"
    size = quantity(abs(error_c), "temperature_error_c", units)
    return f"{size} {side}" if short else f"{size} {side} the set temperature"


def _when(finding: Finding, zone: ZoneInfo) -> str:
    sharp = finding.high_us - finding.low_us <= SHARP_US
    begin = moment(finding.changed_at_us, zone, sharp=sharp)
    about = "" if sharp else "about "
    if finding.ended_at_us is None:
        return f"since {about}{begin}"
    return f"from {about}{begin} until {moment(finding.ended_at_us, zone)}"
