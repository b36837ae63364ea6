"""A finding in plain sentences: what, since when, how sure, what to do first."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from qc.domain.instants import from_us
from qc.domain.kinds import causes_of, defect_kinds, plain_name
from qc.monitor.attribution import FAMILY_OF
from qc.monitor.findings import Finding

FACTOR_WORDS = {
    "press": "press {}", "station": "station {}", "operator": "operator {}",
    "transfer_lot": "transfer lot {}", "garment_lot": "garment lot {}", "fabric": "fabric {}",
    "transfer": "transfer {}", "location": "place {}", "size": "size {}", "shop": "the whole shop",
    "zone": "zone {}", "time_since_start": "time since start {}", "job": "job {}",
}
CHARACTERISTIC_WORDS = {
    "temperature_c": "set temperature", "temperature_lower_c": "set lower temperature",
    "dwell_s": "dwell", "pressure_kpa": "gauge pressure", "pressure_dial": "pressure dial",
    "dx_mm": "sideways position", "dy_mm": "up-and-down position", "rotation_deg": "rotation",
    "temperature_error_c": "temperature error", "temperature_spread_c": "temperature spread",
}
UNIT_SYMBOLS = {"degC": "°C", "s": "s", "kPa": "kPa", "dial": "", "mm": "mm", "deg": "°"}
SURE = 0.8
"""Share of the evidence from which a cause is named without its rival."""


def where(name: str, level: str | None) -> str:
    """A factor and its level in words."""
    return FACTOR_WORDS[name].format(level)


def characteristic_words(code: str) -> str:
    """A characteristic as it stands inside a sentence."""
    return CHARACTERISTIC_WORDS.get(code) or plain_name(code).lower()


def message(finding: Finding, zone: ZoneInfo) -> str:
    """One sentence: what is off, where, by how much, since when."""
    since = from_us(finding.changed_at_us, zone).strftime("%d %b %Y %H:%M")
    place = where(finding.factor.name, finding.factor.level)
    what = characteristic_words(finding.characteristic)
    if finding.kind == "defect_rate":
        corner = f" at the {finding.zone.replace('_', ' ')}" if finding.zone else ""
        body = f"{what[:1].upper()}{what[1:]}{corner} on {place}: {_percents(finding)}"
    elif finding.kind == "calibration":
        body = f"{finding.platen} platen of {place}: {what} {_quantities(finding)}"
        body = body[:1].upper() + body[1:]
    else:
        body = f"{what[:1].upper()}{what[1:]} on {place}: {_quantities(finding)}"
    also = [characteristic_words(code) for code in finding.also]
    with_ = f", with {' and '.join(also)}" if also else ""
    ended = ""
    if finding.ended_at_us is not None:
        ended = f", until {from_us(finding.ended_at_us, zone).strftime('%d %b %Y %H:%M')}"
    return f"{body} since {since}{ended}{with_}{_doubt(finding)}."


def _doubt(finding: Finding) -> str:
    if finding.factor.weight >= SURE or not finding.other_factors:
        return ""
    rival = finding.other_factors[0]
    return f"; {where(rival.name, rival.level)} cannot be ruled out"


def _percents(finding: Finding) -> str:
    after, expected = finding.after, finding.expected_after
    if after is None or expected is None:
        return "more than the usual rate"
    return f"{_percent(after)} of pieces where {_percent(expected)} would be usual"


def _percent(share: float) -> str:
    """Two digits that say something, also of a rare defect."""
    return f"{100 * share:.1f} %" if share >= 0.01 else f"{100 * share:.2g} %"


def _quantities(finding: Finding) -> str:
    symbol = UNIT_SYMBOLS.get(finding.unit, finding.unit)
    before, after = finding.before, finding.after
    if after is None:
        return "has changed"
    now = f"{after:.1f} {symbol}".strip()
    if finding.kind == "setting" and finding.expected_after is not None:
        return f"{now} where the recipe says {finding.expected_after:.1f} {symbol}".strip()
    return now if before is None else f"{now}, was {before:.1f} {symbol}".strip()


def next_step(finding: Finding) -> str:
    """One sentence: what to check first, and whether pressing again helps."""
    if finding.kind == "calibration":
        return (
            f"Stop using press {finding.factor.level} for tight work, hold the pieces since its "
            f"last good survey and have the {finding.platen} platen surveyed and adjusted by a "
            "qualified person; the platen is hot and the maker's manual comes first."
        )
    if finding.kind == "setting":
        return (
            f"Put the {characteristic_words(finding.characteristic)} of "
            f"{where(finding.factor.name, finding.factor.level)} back to the recipe, or record a "
            "new recipe version if the change was meant; then check the first piece."
        )
    if finding.kind == "placement":
        return (
            f"Check the jig and the reference point that "
            f"{where(finding.factor.name, finding.factor.level)} works with against the job "
            "sheet, then measure five pieces in a row."
        )
    return _defect_step(finding)


def _defect_step(finding: Finding) -> str:
    family = FAMILY_OF.get(finding.factor.name)
    causes = causes_of(finding.characteristic)
    fitting = [cause for cause in causes if cause.family == family] or list(causes)
    kind = defect_kinds().get(finding.characteristic)
    lot = finding.factor.name in ("transfer_lot", "garment_lot")
    hold = f"Set {where(finding.factor.name, finding.factor.level)} aside; " if lot else ""
    if not fitting:
        step = f"{hold}look at the last ten pieces and compare them with the reference sample."
        return step[:1].upper() + step[1:]
    first = fitting[0]
    helps = f"; pressing again: {kind.pressing_again_helps}" if kind else ""
    step = f"{hold}check first: {first.first_check} (usual cause: {first.words}){helps}."
    return step[:1].upper() + step[1:]
