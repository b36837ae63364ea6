"""Looks recorded at the bench: entries made on a device, kept once however often they are sent.

An entry is a look, a change of one, or a look taken back. The device makes the piece's number and
the moment, so that a retry after a lost reply is recognised as the same entry.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

import numpy as np

from qc.desk.correcting import WhichLook, find_look, read_changes, take_back
from qc.desk.shop import Shop
from qc.domain.records import INSPECTIONS
from qc.errors import Conflict, InputError, NotFound, QcError, StoreError
from qc.intake import Parsed, RawTable, parse
from qc.intake.table import object_array
from qc.store.codes import known_codes
from qc.store.corrections import correct_inspection, renew_inspection, versions_of
from qc.store.frames import plain_value
from qc.store.inspections import add_inspections

ACTIONS = ("look", "change", "take_back")
SLIP = "recorded by mistake"
CHANGED = "changed at the bench"
ANEW = "recorded anew at the bench"
MOST_AT_ONCE = 500
"""Entries in one request: what a device that was cut off for a day has waiting goes in parts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One entry of a device.

    ``name``: the device's own name for it. ``fields``: of a look what a file's row would hold, of
    a change what it is to be now, of a look taken back nothing; by written name with unit, values
    as text. ``by``: who looked. ``version``: of a change or a look taken back, the version seen.
    """

    name: str
    action: str
    piece_id: str
    attempt: int
    location: str | None
    stage: str
    by: str
    fields: Mapping[str, str] = field(default_factory=dict)
    version: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of an entry: ``kept`` (now, or by an earlier try), else ``why`` not.

    ``taken``: another piece has this number, so the device must make a new one. ``version``: the
    look's version now.
    """

    name: str
    kept: bool
    why: str = ""
    taken: bool = False
    version: int = 0


def record_entries(
    shop: Shop, entries: Sequence[Entry], *, device: str, at_us: int
) -> list[Outcome]:
    """Keep entries in their order; what is said to be kept is durable.

    A refused entry does not stop the ones behind it.

    Raises
    ------
    StoreError
        The store cannot be written to: nothing is known of entries without an outcome, and the
        device sends them again.
    InputError
        More entries than can be taken at once.
    """
    if len(entries) > MOST_AT_ONCE:
        raise InputError(f"{len(entries)} entries at once; send at most {MOST_AT_ONCE}")
    found: list[Outcome] = []
    for action, part in groupby(entries, key=lambda entry: entry.action):
        if action == "look":
            found += _looks(shop, list(part), device, at_us)
        else:
            found += [_one(shop, entry, at_us) for entry in part]
    return found


def _looks(shop: Shop, entries: list[Entry], device: str, at_us: int) -> Iterator[Outcome]:
    """Looks of one person in one transaction."""
    for by, part in groupby(entries, key=lambda entry: entry.by):
        yield from _looks_by(shop, list(part), by, device, at_us)


def _looks_by(
    shop: Shop, entries: list[Entry], by: str, device: str, at_us: int
) -> list[Outcome]:
    unknown = {entry.name: _unknown(entry) for entry in entries}
    sound = [entry for entry in entries if not unknown[entry.name]]
    outcomes = {name: Outcome(name=name, kept=False, why=why)
                for name, why in unknown.items() if why}
    if sound:
        outcomes |= {one.name: one for one in _sound_looks(shop, sound, by, device, at_us)}
    return [outcomes[entry.name] for entry in entries]


def _unknown(entry: Entry) -> str:
    known = {name for one in INSPECTIONS.fields for name in _written(one.name)} | {"defects"}
    wrong = sorted(set(entry.fields) - known)
    return f"a look has no {wrong[0]!r}" if wrong else ""


def _written(name: str) -> list[str]:
    """The names a field can have in a file: one for each unit."""
    one = INSPECTIONS.by_name[name]
    return [f"{one.base}_{unit.suffix}" for unit in one.units] or [name]


def _sound_looks(
    shop: Shop, entries: list[Entry], by: str, device: str, at_us: int
) -> Iterator[Outcome]:
    raw = _table(entries)
    parsed = parse(raw, INSPECTIONS.name, zone=shop.zone, known=known_codes(shop.store),
                   new_codes=False, now_us=at_us)
    added = add_inspections(shop.store, parsed.frame, parsed.findings, by=by, at_us=at_us,
                            source=f"bench {device}".strip())
    conflict = {int(parsed.row_of[at]): int(at) for at in np.flatnonzero(added.conflict)}
    for at, entry in enumerate(entries):
        if at in parsed.rejects:
            yield Outcome(name=entry.name, kept=False, why=parsed.rejects[at][1])
        elif at in conflict and entry.attempt > 1:
            yield _pressed_again(shop, entry, parsed, conflict[at], at_us)
        elif at in conflict:
            yield Outcome(name=entry.name, kept=False, taken=True,
                          why="another piece has this number")
        else:
            yield Outcome(name=entry.name, kept=True, version=1)


def _pressed_again(
    shop: Shop, entry: Entry, parsed: Parsed, at: int, at_us: int
) -> Outcome:
    """A look after pressing again that has been recorded before: it belongs to its piece, so it
    never gets another number. Where it was taken back it is recorded anew."""
    row = {field.name: plain_value(parsed.frame[field.name].iat[at]) if field.name in parsed.frame
           else None for field in INSPECTIONS.fields}
    mine = parsed.findings[(parsed.findings["row"] == at).to_numpy()]
    findings = [{str(name): plain_value(value) for name, value in one.items()}
                for one in mine.to_dict("records")]
    try:
        version = renew_inspection(
            shop.store, identity={name: row[name] for name in INSPECTIONS.identity}, row=row,
            findings=findings, why=ANEW, by=entry.by, at_us=at_us)
    except StoreError:
        raise
    except QcError as error:
        return Outcome(name=entry.name, kept=False, why=str(error))
    return Outcome(name=entry.name, kept=True, version=version)


def _table(entries: list[Entry]) -> RawTable:
    rows = [dict(entry.fields) | {
        "piece_id": entry.piece_id, "attempt": str(entry.attempt), "stage": entry.stage,
        "location": entry.location or "",
    } for entry in entries]
    columns = tuple(sorted({"defects", *(name for row in rows for name in row)}))
    return RawTable(
        columns=columns, separator=",", lines=np.arange(len(rows), dtype=np.int64),
        cells=tuple(object_array([row.get(name, "") for row in rows]) for name in columns))


def _one(shop: Shop, entry: Entry, at_us: int) -> Outcome:
    try:
        version = (_change(shop, entry, at_us) if entry.action == "change"
                   else _take_back(shop, entry, at_us))
    except StoreError:
        raise
    except QcError as error:
        return Outcome(name=entry.name, kept=False, why=str(error))
    return Outcome(name=entry.name, kept=True, version=version)


def _which(entry: Entry) -> WhichLook:
    return WhichLook(piece_id=entry.piece_id, attempt=entry.attempt, location=entry.location,
                     stage=entry.stage)


def _change(shop: Shop, entry: Entry, at_us: int) -> int:
    """A change is made once: where a version since then says what it should, it was this very
    change whose reply was lost."""
    changes, findings = read_changes(
        [f"{name}={value}" for name, value in entry.fields.items()], shop)
    look = find_look(shop, _which(entry))
    identity = {name: look[name] for name in INSPECTIONS.identity}
    seen = _seen(entry, look)
    since = versions_of(shop.store, identity)[seen:]
    if any(_says(version, changes, findings) for version in since):
        return int(look["version"])
    return correct_inspection(
        shop.store, identity=identity, changes=changes, findings=findings, why=CHANGED,
        by=entry.by, at_us=at_us, seen_version=seen)


def _seen(entry: Entry, look: Mapping[str, Any]) -> int:
    """The version a device saw; it counts a change of its own that was refused, so it may think
    itself further than the look is, and then nobody came in between."""
    return min(entry.version, int(look["version"]))


def _says(
    look: Mapping[str, Any], changes: Mapping[str, Any], findings: list[dict[str, Any]] | None
) -> bool:
    return all(look[name] == value for name, value in changes.items()) and (
        findings is None or [_finding(one) for one in findings] ==
        [_finding(one) for one in look["findings"]])


def _finding(one: Mapping[str, Any]) -> tuple[Any, ...]:
    return one["kind"], one.get("zone"), one.get("extent_mm"), one.get("n") or 1


def _take_back(shop: Shop, entry: Entry, at_us: int) -> int:
    try:
        seen = _seen(entry, find_look(shop, _which(entry)))
        look = take_back(shop, _which(entry), why=SLIP, by=entry.by, at_us=at_us,
                         seen_version=seen)
    except NotFound:
        return _taken_back_before(shop, entry)
    return int(look["version"]) + 1


def _taken_back_before(shop: Shop, entry: Entry) -> int:
    newest = versions_of(shop.store, {
        "piece_id": entry.piece_id, "attempt": entry.attempt, "location": entry.location,
        "stage": entry.stage})[-1]
    if not newest["withdrawn"]:
        raise Conflict("the look is there, but could not be taken back")
    return int(newest["version"])
