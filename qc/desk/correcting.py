"""Correcting a look at a piece: from what a person writes to a new version of the record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qc.desk.shop import Shop
from qc.domain.instants import parse_instant
from qc.domain.records import FINDINGS, INSPECTIONS, Field
from qc.errors import InputError, NotFound
from qc.intake.defects import read_defects
from qc.intake.names import written_names
from qc.store.corrections import (
    correct_inspection,
    described,
    looks_at,
    versions_of,
    withdraw_inspection,
)
from qc.units import Unit, to_stored


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """A correction made: which look, its version now, and its fields before and after."""

    identity: dict[str, Any]
    version: int
    before: dict[str, Any]
    after: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class WhichLook:
    """A look by what is known of it; what is None is whatever the piece has. ``no_location``: the
    look that says none, also where the piece has others that do."""

    piece_id: str
    attempt: int | None = None
    location: str | None = None
    stage: str | None = None
    no_location: bool = False


def correct(
    shop: Shop, which: WhichLook, written: Sequence[str], *, why: str, by: str, at_us: int,
    seen_version: int | None = None,
) -> Corrected:
    """Correct a look as written in ``field=value`` parts, units in the field's name.

    Raises
    ------
    NotFound
        The piece has no such look.
    InputError
        Several looks fit, or a part cannot be read or kept.
    Conflict
        Somebody else corrected the look in between.
    """
    look = find_look(shop, which)
    identity = {name: look[name] for name in INSPECTIONS.identity}
    changes, findings = read_changes(written, shop)
    version = correct_inspection(
        shop.store, identity=identity, changes=changes, findings=findings, why=why, by=by,
        at_us=at_us, seen_version=seen_version or look["version"],
    )
    after = versions_of(shop.store, identity)[-1]
    return Corrected(identity=identity, version=version, before=look, after=after)


def take_back(
    shop: Shop, which: WhichLook, *, why: str, by: str, at_us: int, seen_version: int | None = None
) -> dict[str, Any]:
    """Take a look back: it counts no more and stays readable; the look as it was.

    Raises
    ------
    NotFound
        The piece has no such look.
    InputError
        Several looks fit, or no reason is given.
    Conflict
        Somebody else corrected the look, or took it back, in between.
    """
    look = find_look(shop, which)
    withdraw_inspection(
        shop.store, identity={name: look[name] for name in INSPECTIONS.identity}, why=why, by=by,
        at_us=at_us, seen_version=seen_version or look["version"],
    )
    return look


def find_look(shop: Shop, which: WhichLook) -> dict[str, Any]:
    """The one look that fits; InputError lists them when several do."""
    looks = looks_at(shop.store, which.piece_id)
    wanted = {"attempt": which.attempt, "location": which.location, "stage": which.stage}
    fitting = [look for look in looks
               if all(look[name] == value for name, value in wanted.items() if value is not None)
               and not (which.no_location and look["location"] is not None)]
    if not fitting:
        had = "; it has: " + "; ".join(described(look) for look in looks) if looks else ""
        raise NotFound(f"there is no such look at piece {which.piece_id}{had}")
    if len(fitting) > 1:
        raise InputError(f"piece {which.piece_id} has {len(fitting)} looks that fit; "
                         "say which by attempt, location and stage: "
                         + "; ".join(described(look) for look in fitting))
    return fitting[0]


def read_changes(
    written: Sequence[str], shop: Shop
) -> tuple[dict[str, Any], list[dict[str, Any]] | None]:
    """Field values in stored units, and the findings where ``defects=`` is among the parts."""
    changes: dict[str, Any] = {}
    findings: list[dict[str, Any]] | None = None
    for part in written:
        name, sign, value = part.partition("=")
        if not sign:
            raise InputError(f"{part!r} is not a change; write field=value")
        if name == "defects":
            findings = _findings(value)
            continue
        field, unit = _field(name)
        if field.name in changes:
            raise InputError(f"{field.base} is given twice")
        changes[field.name] = _value(field, unit, value.strip(), shop)
    return changes, findings


def _findings(text: str) -> list[dict[str, Any]]:
    read = read_defects(text, None, decimal_comma=False)
    if read.problems:
        raise InputError(read.problems)
    names = [field.name for field in FINDINGS.fields]
    return [dict(zip(names, entry, strict=True)) for entry in read.entries]


def _field(name: str) -> tuple[Field, Unit | None]:
    known = written_names(INSPECTIONS.name)
    if name not in known:
        raise InputError(f"a look has no {name!r}; it has: defects, "
                         + ", ".join(INSPECTIONS.by_name))
    return known[name]


def _value(field: Field, unit: Unit | None, text: str, shop: Shop) -> Any:
    if not text:
        return None
    if field.is_text:
        return text
    if field.kind == "instant":
        return parse_instant(text, shop.zone)
    number = _number(field.name, text)
    if field.kind == "whole":
        if number != int(number):
            raise InputError(f"{field.name} is {text!r}; it must be a whole number")
        return int(number)
    return to_stored(number, field.kind, unit.suffix) if unit else number


def _number(name: str, text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = float("nan")
    if abs(number) > 1e15 or number != number:
        raise InputError(f"{name} is {text!r}; it must be a number")
    return number
