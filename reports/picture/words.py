"""Wording that all pictures share. Plain trade words; no sentence here computes anything."""

from __future__ import annotations

from collections.abc import Sequence

from qc.units import UNITS
from reports.picture.ticks import grouped, places, short

MAKER = "Peelcheck"
NOTE, METHOD = "Note: {caution}.", "Method: {source}."
SHOWN_AT_MOST = 6
_SUFFIXES = {unit.suffix: unit.symbol for unit in UNITS}


def quantity(column: str) -> tuple[str, str]:
    """A column's name as words, and the unit its ending names (may be empty)."""
    name, _, suffix = column.rpartition("_")
    if name and suffix in _SUFFIXES:
        return name.replace("_", " "), _SUFFIXES[suffix]
    return column.replace("_", " "), ""


def with_unit(text: str, unit: str) -> str:
    """A number with its unit behind it, where it has one."""
    return f"{text} {unit}" if unit else text


def listed(labels: Sequence[str], n: int) -> str:
    """The first few of n labels, and how many more there are."""
    shown = labels[:SHOWN_AT_MOST]
    more = n - len(shown)
    if more > 0:
        return f"{', '.join(shown)} and {grouped(more, 0)} more"
    return f"{', '.join(shown[:-1])} and {shown[-1]}" if len(shown) > 1 else shown[0]


def span(low: float, high: float) -> str:
    """Two limits in words; one that does not exist is not said."""
    if low != low:
        return f"up to {short(high)}"
    decimals = places(max(abs(low), abs(high)), 4)
    if decimals is None:
        return f"{short(low)} to {short(high)}"
    while decimals and all(round(end, decimals - 1) == round(end, decimals) for end in (low, high)):
        decimals -= 1
    return f"{grouped(low, decimals)} to {grouped(high, decimals)}"


def per_cent(share: float) -> str:
    """A share as people read it; very small ones in pieces per million."""
    if 0 < share < 1e-4:
        return f"{short(1e6 * share, 3)} per million"
    return f"{short(100 * share, 3)} %"
