"""Names a column may have: every field, in every unit it can be written in."""

from __future__ import annotations

from functools import cache

from qc.domain.records import RECORD_KINDS, Field, RecordKind
from qc.units import Unit

OTHER_UNITS = frozenset({
    "k", "degc", "degf", "deg_c", "deg_f", "celsius", "fahrenheit", "kelvin", "pa", "hpa", "mpa",
    "mbar", "atm", "torr", "kgf", "n", "cm", "m", "um", "dm", "ft", "inch", "inches", "yd", "rad",
    "grad", "ms", "us", "min", "mins", "minutes", "h", "hr", "hours", "sec", "secs", "seconds",
    "day", "days"})
"""Endings that are units, but none this program reads."""


@cache
def written_names(kind: str) -> dict[str, tuple[Field, Unit | None]]:
    """Every column name of a kind, with the field and the unit it stands for."""
    names: dict[str, tuple[Field, Unit | None]] = {}
    for field in RECORD_KINDS[kind].fields:
        names[field.name] = (field, field.units[0] if field.units else None)
        for unit in field.units:
            names[f"{field.base}_{unit.suffix}"] = (field, unit)
    return names


@cache
def known_names() -> frozenset[str]:
    """Every column name of every kind."""
    return frozenset({"defects"}.union(*map(written_names, RECORD_KINDS)))


@cache
def quantity_bases(kind: str) -> dict[str, tuple[str, ...]]:
    """Names without their unit, with the units they may be written in."""
    bases: dict[str, tuple[str, ...]] = {}
    for field in RECORD_KINDS[kind].fields:
        if field.units:
            allowed = tuple(f"{field.base}_{unit.suffix}" for unit in field.units)
            bases[field.base] = bases.get(field.base, ()) + allowed
    return bases


def spelled(field: Field) -> str:
    """How a field is named to people: temperature_c or temperature_f."""
    return " or ".join(f"{field.base}_{unit.suffix}" for unit in field.units) or field.name


def required_names(kind: RecordKind) -> tuple[Field, ...]:
    """Fields a file must have."""
    return tuple(field for field in kind.fields if field.required)
