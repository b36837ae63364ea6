"""The words a flag is made of: causes, characteristics, quantities in the shop's units, times."""

from __future__ import annotations

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from qc.domain.flags import FactorShare
from qc.domain.instants import HOUR_US, from_us
from qc.domain.kinds import plain_name
from qc.units import STORED_UNITS, ShopUnits, from_stored, unit

FACTOR_WORDS = {
    "press": "press {}", "station": "station {}", "operator": "operator {}",
    "transfer_lot": "transfer lot {}", "garment_lot": "garment lot {}", "fabric": "fabric {}",
    "transfer": "transfer {}", "location": "the place {}", "size": "size {}",
    "zone": "the {} of the print", "time_since_start": "the {} after a start",
    "job": "job {}", "shop": "the whole shop",
}
SEEN_WORDS = {
    "press": "on press {}", "station": "at station {}", "operator": "in the work of operator {}",
    "transfer_lot": "with transfer lot {}", "garment_lot": "on garment lot {}",
    "fabric": "on fabric {}", "transfer": "with transfer {}", "location": "at the place {}",
    "size": "in size {}", "zone": "at the {} of the print",
    "time_since_start": "in the {} after a start", "job": "in job {}",
    "shop": "in the whole shop",
}
"""How a fault is said to be seen: 'on press P4', 'in the work of operator Ana'."""

CHARACTERISTIC_WORDS = {
    "temperature_c": "set temperature", "temperature_lower_c": "set lower temperature",
    "dwell_s": "dwell", "pressure_kpa": "gauge pressure", "pressure_dial": "pressure dial",
    "dx_mm": "sideways position", "dy_mm": "up-and-down position", "rotation_deg": "rotation",
    "temperature_error_c": "temperature error", "temperature_spread_c": "temperature spread",
}
QUANTITY_OF = {
    "temperature_c": "temperature", "temperature_lower_c": "temperature",
    "temperature_error_c": "temperature_difference",
    "temperature_spread_c": "temperature_difference", "dwell_s": "duration",
    "pressure_kpa": "gauge_pressure", "dx_mm": "length", "dy_mm": "length",
    "rotation_deg": "angle",
}
DIFFERENCE_OF = {"temperature_c": "temperature_error_c",
                 "temperature_lower_c": "temperature_error_c"}
"""What a difference of a characteristic is said like, where not like itself."""

DIGITS = {"in": 2, "bar": 2, "kpa": 0, "psi": 0}
"""Decimals where one would say too much or too little."""

SHARP_US = 12 * HOUR_US
"""A start known to within this is said with its hour, else only with its day."""


def where(name: str, level: str | None) -> str:
    """A factor and its level as a thing: 'press P4', 'the whole shop'."""
    return filled(FACTOR_WORDS, name, level)


def cause_words(share: FactorShare) -> str:
    """A candidate cause as a thing."""
    return where(share.name, share.level)


def seen(share: FactorShare) -> str:
    """Where a fault is seen: 'on press P4'."""
    return filled(SEEN_WORDS, share.name, share.level)


def filled(words: dict[str, str], name: str, level: str | None) -> str:
    """The words of a factor with its level put in as people write it."""
    if level is None and name != "shop":
        return f"{name.replace('_', ' ')} not recorded"
    plain = (level or "").replace("_", " ") if name in ("location", "zone") else level or ""
    press, comma, span = plain.partition(", ")
    if name == "time_since_start" and comma:  # of one press: 'P3, first 15 min'
        return f"{words[name].format(span)} on press {press}"
    return words.get(name, name.replace("_", " ") + " {}").format(plain)


def characteristic_words(code: str) -> str:
    """A characteristic as it stands inside a sentence."""
    return CHARACTERISTIC_WORDS.get(code) or plain_name(code).lower()


def short_words(code: str) -> str:
    """A characteristic where several stand in a row: a kind by its short name."""
    return CHARACTERISTIC_WORDS.get(code) or code.replace("_", " ")


def listed(words: Iterable[str], last: str = "and") -> str:
    """Words in a row: a, b and c."""
    *head, end = words
    return f"{', '.join(head)} {last} {end}" if head else end


def capital(text: str) -> str:
    """The text with a capital first letter."""
    return text[:1].upper() + text[1:]


def percent(share: float) -> str:
    """Two digits that say something, also of a rare defect."""
    return f"{100 * share:.1f} %" if share >= 0.01 else f"{100 * share:.2g} %"


def weight_words(weight: float) -> str:
    """A share of the evidence; never said to be all of it or none."""
    if weight > 0.99:
        return "over 99 %"
    return f"{100 * weight:.0f} %" if weight >= 0.01 else "under 1 %"


def quantity(value: float, characteristic: str, units: ShopUnits = STORED_UNITS) -> str:
    """A stored value of a measured characteristic in the shop's unit."""
    kind = QUANTITY_OF.get(characteristic)
    if kind is None:
        return f"{value:.1f}"
    suffix = units.suffix(kind)
    shown = float(from_stored(value, kind, suffix))
    symbol = unit(kind, suffix).symbol
    gap = "" if symbol == "°" else " "
    return f"{shown:.{DIGITS.get(suffix, 1)}f}{gap}{symbol}"


def moment(us: int, zone: ZoneInfo, *, sharp: bool = True) -> str:
    """A moment in the shop's zone, with its hour or only its day."""
    return from_us(us, zone).strftime("%d %b %Y %H:%M" if sharp else "%d %b %Y")
