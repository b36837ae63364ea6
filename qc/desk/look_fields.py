"""The fields of a look as a person reads and writes them: in the shop's units, and what changed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qc.desk.flag_words import units_of_shop
from qc.desk.shop import Shop
from qc.domain.instants import from_us, iso, parse_instant
from qc.domain.records import INSPECTIONS, Field
from qc.errors import InputError
from qc.units import ShopUnits, from_stored, to_stored, unit

DIGITS = 4
"""Digits a measured value is shown with: more than any instrument of the trade has."""
FILLED = ("pressed_at", "disposition")
"""Never empty in the store, though a file may leave them out."""
FINDINGS = "defects"


@dataclass(frozen=True, slots=True, kw_only=True)
class ShownField:
    """A field of a look. ``written`` is its name with the shop's unit, as `correct` reads it."""

    field: Field
    written: str
    symbol: str

    @property
    def name(self) -> str:
        return self.field.name

    @property
    def needed(self) -> bool:
        """Whether it cannot be empty."""
        field = self.field
        return field.required or field.default is not None or field.name in FILLED


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A field, or the findings (`FINDINGS`), before and after, as shown; empty: not said."""

    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenFinding:
    """A finding as a person wrote it; the extent in the shop's unit of length."""

    kind: str = ""
    zone: str = ""
    extent: str = ""
    n: str = ""


def shown_fields(shop: Shop) -> tuple[ShownField, ...]:
    """Every field of a look, in the order of the records."""
    units = units_of_shop(shop)
    return tuple(_shown(field, units) for field in INSPECTIONS.fields)


def length_symbol(shop: Shop) -> str:
    """The shop's unit of length."""
    return unit("length", units_of_shop(shop).suffix("length")).symbol


def value_text(shown: ShownField, value: Any, shop: Shop) -> str:
    """A stored value as it is written in the shop's unit; empty where nothing is said."""
    if value is None:
        return ""
    field = shown.field
    if field.kind == "instant":
        return _local(int(value), shop)
    if field.is_text or field.kind == "whole":
        return str(value)
    if field.units:
        value = from_stored(float(value), field.kind, units_of_shop(shop).suffix(field.kind))
    return _number(value)


def finding_texts(findings: Sequence[Mapping[str, Any]], shop: Shop) -> tuple[WrittenFinding, ...]:
    """Findings as they are written in the shop's unit of length."""
    suffix = units_of_shop(shop).suffix("length")
    return tuple(
        WrittenFinding(
            kind=one["kind"], zone=one["zone"] or "",
            extent="" if one["extent_mm"] is None else
            _number(from_stored(float(one["extent_mm"]), "length", suffix)),
            n=str(one["n"] or 1))
        for one in findings)


def differences(
    before: Mapping[str, Any], after: Mapping[str, Any], shop: Shop
) -> tuple[Difference, ...]:
    """What one version says otherwise than another."""
    found = [Difference(name=shown.name, before=value_text(shown, before[shown.name], shop),
                        after=value_text(shown, after[shown.name], shop))
             for shown in shown_fields(shop) if before[shown.name] != after[shown.name]]
    told = [findings_line(one["findings"]) for one in (before, after)]
    if told[0] != told[1]:
        found.append(Difference(name=FINDINGS, before=told[0], after=told[1]))
    return tuple(found)


def changes_written(
    look: Mapping[str, Any], fields: Mapping[str, str], findings: Iterable[WrittenFinding],
    shop: Shop,
) -> tuple[str, ...]:
    """What was written otherwise than a version says, as `correct` reads it.

    Parameters
    ----------
    look : the version the person had before them.
    fields : what stands in each field now, by its name; those left out are as they were.
    findings : the findings as they stand now; rows without a kind are no findings.

    Raises
    ------
    InputError
        An extent is not a number, or a finding has a place but no kind.
    """
    changed = []
    for shown in shown_fields(shop):
        if shown.name in INSPECTIONS.identity or shown.name not in fields:
            continue
        now = fields[shown.name].strip()
        if now != value_text(shown, look[shown.name], shop):
            changed.append(f"{shown.written}={now}")
    now_told = [one for one in findings if _says_something(one)]
    before = finding_texts(look["findings"], shop)
    if tuple(now_told) != before:
        kept = dict(zip(before, look["findings"], strict=True))
        entries = [_entry(one, kept.get(one), shop) for one in now_told]
        changed.append(f"{FINDINGS}={';'.join(entries)}")
    return tuple(changed)


def findings_line(findings: Sequence[Mapping[str, Any]]) -> str:
    """Findings in one line, as a file has them: kind@zone:extent_mm*n."""
    return ";".join(_line(one["kind"], one["zone"], one["extent_mm"], one["n"] or 1)
                    for one in findings)


def _line(kind: str, zone: str | None, extent_mm: float | None, n: int) -> str:
    place = f"@{zone or ''}" if zone or extent_mm is not None else ""
    extent = "" if extent_mm is None else f":{_number(extent_mm, digits=12)}"
    return f"{kind}{place}{extent}" + (f"*{n}" if n > 1 else "")


def _entry(written: WrittenFinding, kept: Mapping[str, Any] | None, shop: Shop) -> str:
    """A finding in stored units; one that was not touched stays exactly what it was."""
    if kept is not None:
        return _line(kept["kind"], kept["zone"], kept["extent_mm"], kept["n"] or 1)
    if not written.kind:
        raise InputError("a finding has a place or a size, but no kind; name the kind")
    extent_mm = None
    if written.extent:
        try:
            extent_mm = float(to_stored(float(written.extent), "length",
                                        units_of_shop(shop).suffix("length")))
        except ValueError:
            raise InputError(f"the size of {written.kind} is {written.extent!r}; it must be a"
                             " number") from None
    n = written.n or "1"
    if not (n.isascii() and n.isdigit()):
        raise InputError(f"the count of {written.kind} is {n!r}; it must be a whole number")
    return _line(written.kind, written.zone or None, extent_mm, int(n))


def _says_something(written: WrittenFinding) -> bool:
    return bool(written.kind or written.zone or written.extent)


def _shown(field: Field, units: ShopUnits) -> ShownField:
    if not field.units:
        return ShownField(field=field, written=field.name, symbol="")
    own = unit(field.kind, units.suffix(field.kind))
    return ShownField(field=field, written=f"{field.base}_{own.suffix}", symbol=own.symbol)


def _local(instant_us: int, shop: Shop) -> str:
    """A time by the shop's clock, as people write it; with its offset and all its digits only where
    the clock alone does not say which instant it is."""
    at = from_us(instant_us, shop.zone)
    for form in ("%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"):
        try:
            if parse_instant(f"{at:{form}}", shop.zone) == instant_us:
                return f"{at:{form}}"
        except InputError:  # the hour there is twice when clocks go back
            break
    return iso(instant_us, shop.zone)


def _number(value: float, digits: int = DIGITS) -> str:
    text = f"{float(value):.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
