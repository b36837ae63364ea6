"""The shop's lists as people see and change them: what stands there, since when, by whom."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from qc.desk.flag_words import units_of_shop
from qc.desk.shop import Shop
from qc.domain.recipes import version_that_counts
from qc.domain.records import JOBS, RECIPES, RECORD_KINDS, Field, RecordKind
from qc.errors import InputError, NotFound
from qc.store.records import ListedVersion, count_listed, read_listed
from qc.store.retiring import read_retired
from qc.units import from_stored, unit

LISTS = ("fabrics", "transfers", "recipes", "presses", "placements", "jobs", "instruments")
"""The kinds of record that are a shop's lists."""
SIGNIFICANT = 6
"""Digits of a number in a form: an exact conversion comes back as what was written."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRecord:
    """One record of a list as it stands: its key, its fields in stored units, who wrote this
    version and when, and how many versions there are. ``code_only``: only its code is known, from
    other records. ``counts``: a recipe's version that is not yet valid does not."""

    key: tuple[str, ...]
    values: Mapping[str, Any]
    by: str
    at_us: int
    n_versions: int
    code_only: bool = False
    counts: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldChange:
    """One field of a version and what it was in the version before; None is not said."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class PastVersion:
    """One version of a record: its number (text for a recipe), who, when, and what it changed of
    the one before. ``counts``: it is the one in force."""

    version: str
    values: Mapping[str, Any]
    by: str
    at_us: int
    changes: tuple[FieldChange, ...]
    counts: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class FormField:
    """A field of a form in the shop's units: ``text`` as it stands, ``low`` and ``high`` empty
    where nothing limits it, ``options`` what may be chosen, ``fixed``: part of the key."""

    field: Field
    text: str
    symbol: str
    low: str
    high: str
    options: tuple[str, ...]
    fixed: bool


def list_kind(kind: str) -> RecordKind:
    """The kind of record of a list; InputError names those there are."""
    if kind not in LISTS:
        raise InputError(f"{kind!r} is no list; there are: {', '.join(LISTS)}")
    return RECORD_KINDS[kind]


def key_fields(kind: str) -> tuple[str, ...]:
    """The fields that name a record of a list; a recipe's version is not one of them."""
    return tuple(name for name in list_kind(kind).identity if name != "version")


def listed(shop: Shop, kind: str, *, as_of_us: int) -> tuple[ListedRecord, ...]:
    """Every record of a list up to a moment, by its key; of a recipe the version that counts."""
    names = key_fields(kind)
    by_key: dict[tuple[str, ...], list[ListedVersion]] = {}
    for row in read_listed(shop.store, kind, as_of_us=as_of_us,
                           every_version=list_kind(kind).versioned):
        by_key.setdefault(tuple(row.values[name] for name in names), []).append(row)
    found = [_standing(kind, key, rows, as_of_us) for key, rows in by_key.items()]
    return tuple(sorted(found, key=lambda one: tuple(map(natural, one.key))))


def newest_jobs(shop: Shop, *, as_of_us: int, at_most: int) -> tuple[ListedRecord, ...]:
    """Jobs entered last, and those still in the house that were: at most so many of either, however
    many there ever were; by their key."""
    rows = {row.values["job"]: row for blank in (None, "shipped_at") for row in read_listed(
        shop.store, JOBS.name, as_of_us=as_of_us, newest=at_most, blank=blank)}
    found = [ListedRecord(key=(job,), values=row.values, by=row.by, at_us=row.at_us,
                          n_versions=max(row.revision, 1), code_only=row.revision == 0)
             for job, row in rows.items()]
    return tuple(sorted(found, key=lambda one: natural(one.key[0])))


def list_sizes(shop: Shop) -> dict[str, int]:
    """How many records each list holds now."""
    return {kind: count_listed(shop.store, kind, key_fields(kind)) for kind in LISTS}


def one_listed(shop: Shop, kind: str, key: Sequence[str], *, as_of_us: int) -> ListedRecord:
    """One record of a list; NotFound says so where there is none."""
    rows = _versions(shop, kind, key, as_of_us)
    return _standing(kind, tuple(key), rows, as_of_us)


def past_versions(
    shop: Shop, kind: str, key: Sequence[str], *, as_of_us: int
) -> tuple[PastVersion, ...]:
    """Every version of a record, newest first, each with what it changed."""
    rows = _versions(shop, kind, key, as_of_us)
    counting, counts = _counting(kind, rows, as_of_us)
    told: list[PastVersion] = []
    for place, row in enumerate(rows):
        before = rows[place - 1].values if place else row.values
        number = row.values["version"] if kind == RECIPES.name else str(row.revision)
        told.append(PastVersion(
            version=number, values=row.values, by=row.by, at_us=row.at_us,
            changes=tuple(_changes(list_kind(kind), before, row.values)),
            counts=counts and place == counting))
    return tuple(reversed(told))


def text_of(field: Field, value: Any, shop: Shop) -> str:
    """A field's value as a form shows it: in the shop's unit, without its symbol."""
    if value is None:
        return ""
    if field.kind == "instant":
        return shop.iso(int(value))[:16]
    if field.kind == "whole" or field.is_text:
        return str(value)
    number = float(value)
    if field.units:
        number = float(from_stored(number, field.kind, units_of_shop(shop).suffix(field.kind)))
    return plain_number(number)


def plain_number(value: float) -> str:
    """A number as it is typed: six digits that matter, never with a power of ten."""
    short = f"{value + 0.0:.{SIGNIFICANT}g}"
    if "e" not in short:
        return short
    return f"{value:.0f}" if abs(value) >= 1 else f"{value:.12f}".rstrip("0").rstrip(".")


def symbol_of(field: Field, shop: Shop) -> str:
    """The symbol of the unit in which the shop reads a field; empty where it has none."""
    if not field.units:
        return ""
    return unit(field.kind, units_of_shop(shop).suffix(field.kind)).symbol


def range_of(field: Field, shop: Shop) -> tuple[str, str]:
    """The least and the most a field may be, in the shop's unit; empty where nothing limits it."""
    low, high = (text_of(field, end, shop) for end in (field.low, field.high))
    return low, high


def form_fields(
    shop: Shop, kind: str, key: Sequence[str] | None, *, as_of_us: int, past: str = ""
) -> tuple[FormField, ...]:
    """The fields of a form: empty to add a record, filled to change the one of this key, with what
    stands there or with a ``past`` version of it.

    A recipe's version is not among them (it is given), and the time from which a new version counts
    is left empty.
    """
    values = None if key is None else _form_values(shop, kind, key, as_of_us, past)
    found = []
    for field in list_kind(kind).fields:
        if field.name == "version":
            continue
        shown = None if values is None or field.name == "valid_from" else values[field.name]
        low, high = range_of(field, shop)
        found.append(FormField(
            field=field, symbol=symbol_of(field, shop), low=low, high=high,
            text=text_of(field, shown, shop),
            fixed=values is not None and field.name in key_fields(kind),
            options=_with(_options(shop, kind, field, as_of_us), field, shown)))
    return tuple(found)


def _form_values(
    shop: Shop, kind: str, key: Sequence[str], as_of_us: int, past: str
) -> Mapping[str, Any]:
    if past:
        for one in past_versions(shop, kind, key, as_of_us=as_of_us):
            if one.version == past:
                return one.values
    return one_listed(shop, kind, key, as_of_us=as_of_us).values


def _with(options: tuple[str, ...], field: Field, shown: Any) -> tuple[str, ...]:
    """The options, and what stands there though it is no longer used."""
    if field.listed is None or shown is None or shown in options:
        return options
    return (str(shown), *options)


def _options(shop: Shop, kind: str, field: Field, as_of_us: int) -> tuple[str, ...]:
    """Codes that may stand in a field, or that are likely there."""
    of = field.listed or ("placements" if kind == "jobs" and field.name == "location" else None)
    if of is None:
        return field.choices
    gone = {one.code for one in read_retired(shop.store) if one.kind == of}
    return tuple(one.key[0] for one in listed(shop, of, as_of_us=as_of_us)
                 if one.key[0] not in gone)


def natural(code: str) -> tuple[tuple[int, int, str], ...]:
    """P2 before P10: digits count as numbers."""
    return tuple((0, int(part), "") if part.isdigit() and part.isascii() else (1, 0, part)
                 for part in re.findall(r"[0-9]{1,15}|[^0-9]+|[0-9]+", code))


def _versions(
    shop: Shop, kind: str, key: Sequence[str], as_of_us: int
) -> tuple[ListedVersion, ...]:
    names = key_fields(kind)
    if len(key) != len(names):
        raise NotFound(f"there is no such entry among the {kind}")
    rows = read_listed(shop.store, kind, as_of_us=as_of_us, every_version=True,
                       having=dict(zip(names, key, strict=True)))
    if not rows:
        raise NotFound(f"{' and '.join(key)!r} is not among the {kind}")
    return rows


def _standing(
    kind: str, key: tuple[str, ...], rows: Sequence[ListedVersion], as_of_us: int
) -> ListedRecord:
    place, counts = _counting(kind, rows, as_of_us)
    row = rows[place]
    return ListedRecord(key=key, values=row.values, by=row.by, at_us=row.at_us, counts=counts,
                        n_versions=len(rows), code_only=row.revision == 0)


def _counting(kind: str, rows: Sequence[ListedVersion], as_of_us: int) -> tuple[int, bool]:
    """Which version is in force, or else the newest, and whether it is."""
    if kind != RECIPES.name:
        return len(rows) - 1, True
    place = version_that_counts([one.values["valid_from"] for one in rows], as_of_us)
    return (len(rows) - 1, False) if place is None else (place, True)


def _changes(
    kind: RecordKind, before: Mapping[str, Any], after: Mapping[str, Any]
) -> Iterable[FieldChange]:
    for field in kind.fields:
        old, new = before[field.name], after[field.name]
        if old != new and field.name not in (*key_fields(kind.name), "version"):
            yield FieldChange(field=field.name, before=old, after=new)
