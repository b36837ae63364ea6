"""Corrections of looks: a new version with who, when and why; the old one stays readable."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from sqlalchemy import Connection, select, update

from qc.domain.kinds import ZONES
from qc.domain.records import FINDINGS, INSPECTIONS, Field
from qc.errors import Conflict, InputError, NotFound
from qc.store.base import Change, Store
from qc.store.codes import codes_in
from qc.store.hashing import look_fingerprints, piece_base
from qc.store.inspections import PIECE_WIDTH, write_findings
from qc.store.judging import stored_rows
from qc.store.schema import findings as findings_table
from qc.store.schema import inspections as table
from qc.store.tallies import update_tallies
from qc.store.writing import write_rows

_FINDING_FIELDS = tuple(field.name for field in FINDINGS.fields)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draft:
    """The version to be: its fields and findings, and the versions it follows."""

    row: dict[str, Any]
    findings: list[dict[str, Any]]
    before: list[dict[str, Any]]


def correct_inspection(
    store: Store, *, identity: Mapping[str, Any], changes: Mapping[str, Any],
    findings: Sequence[Mapping[str, Any]] | None, why: str, by: str, at_us: int,
    seen_version: int | None,
) -> int:
    """Put a new version in place of a look; returns its version number.

    Parameters
    ----------
    identity : piece_id, attempt, location and stage of the look.
    changes : new values in stored units by field; None empties a field.
    findings : the findings it has now (kind, zone, extent_mm, n), or None to keep them.
    seen_version : the version the person had before them; None corrects whatever is newest.

    Raises
    ------
    NotFound
        No such look.
    Conflict
        Somebody made a newer version than the one seen.
    InputError
        No reason, nothing changed, or a value the record cannot take.
    """
    if not why.strip():
        raise InputError("a correction needs a reason; say why")
    with store.changing(by=by, at_us=at_us, what="correct inspection") as change:
        before = _versions(change.connection, identity)
        _check_seen(before, identity, seen_version)
        draft = _draft(before, changes, findings)
        _check_draft(change.connection, draft)
        return _write(change, draft, why.strip())


def withdraw_inspection(
    store: Store, *, identity: Mapping[str, Any], why: str, by: str, at_us: int,
    seen_version: int | None,
) -> int:
    """Take a look back: it counts no more, and stays readable; returns its last version's number.

    Notes
    -----
    The last version is written superseded from its first moment, so that it stands at no time; it
    says who took the look back, when and why. The same look sent again stays taken back.

    Raises
    ------
    NotFound
        No such look.
    Conflict
        Somebody made a newer version than the one seen, or took it back already.
    InputError
        No reason.
    """
    if not why.strip():
        raise InputError("taking a look back needs a reason; say why")
    with store.changing(by=by, at_us=at_us, what="withdraw inspection") as change:
        before = _versions(change.connection, identity)
        _check_seen(before, identity, seen_version)
        revision = _replace(change, before[-1], row=None, findings=[], why=why.strip())
        change.note(piece_id=before[-1]["piece_id"], version=revision, why=why.strip())
        return revision


def renew_inspection(
    store: Store, *, identity: Mapping[str, Any], row: Mapping[str, Any],
    findings: Sequence[Mapping[str, Any]], why: str, by: str, at_us: int,
) -> int:
    """Record a look anew that was taken back; returns the new version's number.

    Parameters
    ----------
    row : every field of the look, in stored units. findings : as for `correct_inspection`.

    Raises
    ------
    NotFound
        There never was such a look.
    Conflict
        It stands: somebody recorded it.
    InputError
        A value the record cannot take.
    """
    with store.changing(by=by, at_us=at_us, what="renew inspection") as change:
        before = _versions(change.connection, identity)
        if not before:
            raise NotFound(f"there is no look at {described(identity)}")
        if before[-1]["superseded_at"] is None:
            raise Conflict(f"{described(identity)} was recorded already by "
                           f"{before[-1]['changed_by']}")
        told = [{name: finding.get(name) for name in _FINDING_FIELDS} for finding in findings]
        draft = _Draft(row=dict(row), findings=told, before=before)
        _check_draft(change.connection, draft)
        return _write(change, draft, why)


def versions_of(store: Store, identity: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Every version of a look, oldest first: its fields, ``findings``, version, changed_at,
    changed_by, why, and whether it is the one by which the look was taken back (``withdrawn``).

    Raises
    ------
    NotFound
        No such look.
    """
    with store.reading() as connection:
        found = _versions(connection, identity)
    if not found:
        raise NotFound(f"there is no look at {described(identity)}")
    return [_shown(version) | {"withdrawn": _is_withdrawal(version, version is found[-1])}
            for version in found]


def _is_withdrawal(version: Mapping[str, Any], is_last: bool) -> bool:
    """Whether by this version the look was taken back; it may have been recorded anew since."""
    ended = version["superseded_at"]
    return ended is not None and (is_last or (
        version["revision"] > 1 and ended == version["changed_at"] and not version["findings"]))


def looks_at(store: Store, piece_id: str) -> list[dict[str, Any]]:
    """The newest version of each look at a piece, at all its places, in order of time."""
    query = select(table).where(table.c.piece_id == piece_id, table.c.superseded_at.is_(None))
    with store.reading() as connection:
        rows = connection.execute(query.order_by(table.c.inspected_at, table.c.number)).mappings()
        return [_shown(dict(row) | {"findings": _findings(connection, row["number"])})
                for row in rows.all()]


def looks_taken_back(store: Store, piece_id: str) -> list[dict[str, Any]]:
    """The looks at a piece that were taken back, in order of time: the version that says who took
    it back, when and why, with the findings that were last recorded.

    They stand at no time, so that `looks_at` and all counting leave them out.
    """
    query = select(table).where(table.c.piece_id == piece_id).order_by(table.c.revision)
    with store.reading() as connection:
        newest: dict[tuple[Any, ...], tuple[Any, Any]] = {}
        for row in connection.execute(query).mappings().all():
            key = tuple(row[name] for name in INSPECTIONS.identity)
            newest[key] = (newest.get(key, (None, row))[1], row)
        gone = [(before, last) for before, last in newest.values()
                if last["superseded_at"] is not None]
        found = [_shown(dict(last) | {"findings": _findings(connection, before["number"])})
                 for before, last in gone]
    return sorted(found, key=lambda look: int(look["inspected_at"]))


def described(identity: Mapping[str, Any]) -> str:
    """A look's identity in words."""
    place = identity.get("location") or "no location"
    return f"piece {identity['piece_id']}, attempt {identity['attempt']}, {place}, " \
           f"stage {identity['stage']}"


def _shown(version: Mapping[str, Any]) -> dict[str, Any]:
    fields = {field.name: version[field.name] for field in INSPECTIONS.fields}
    return fields | {
        "findings": version["findings"], "version": version["revision"],
        "changed_at": version["changed_at"], "changed_by": version["changed_by"],
        "why": version["why"],
    }


def _versions(connection: Connection, identity: Mapping[str, Any]) -> list[dict[str, Any]]:
    mine = [table.c[name].is_(identity.get(name)) if identity.get(name) is None
            else table.c[name] == identity[name] for name in INSPECTIONS.identity]
    low = piece_base(look_fingerprints(_frame([dict(identity)]), _frame([])).identity)
    near = table.c.identity.between(int(low[0]), int(low[0]) + PIECE_WIDTH)
    rows = connection.execute(select(table).where(near, *mine).order_by(table.c.revision))
    return [dict(row) | {"findings": _findings(connection, row["number"])}
            for row in rows.mappings().all()]


def _findings(connection: Connection, number: int) -> list[dict[str, Any]]:
    columns = [findings_table.c[name] for name in _FINDING_FIELDS]
    mine = select(*columns).where(findings_table.c.look == number)
    rows = connection.execute(mine.order_by(findings_table.c.position)).mappings()
    return [dict(row) for row in rows]


def _check_seen(
    before: list[dict[str, Any]], identity: Mapping[str, Any], seen_version: int | None
) -> None:
    if not before:
        raise NotFound(f"there is no look at {described(identity)}")
    newest = before[-1]
    if newest["superseded_at"] is not None:
        raise Conflict(f"{described(identity)} was taken back by {newest['changed_by']}; "
                       "record the piece again")
    if seen_version is not None and seen_version != newest["revision"]:
        raise Conflict(
            f"{described(identity)} was changed by {newest['changed_by']} in between "
            f"(version {newest['revision']}, you saw {seen_version}); look again, then correct it"
        )


def _draft(
    before: list[dict[str, Any]], changes: Mapping[str, Any],
    findings: Sequence[Mapping[str, Any]] | None,
) -> _Draft:
    newest = before[-1]
    fixed = [name for name in changes if name in INSPECTIONS.identity]
    unknown = [name for name in changes if name not in INSPECTIONS.by_name]
    if fixed:
        raise InputError(f"{fixed[0]} says which look it is and cannot be corrected; "
                         "load the right one and set this one's disposition or note")
    if unknown:
        raise InputError(f"a look has no {unknown[0]!r}; it has: "
                         + ", ".join(INSPECTIONS.by_name))
    row = {field.name: newest[field.name] for field in INSPECTIONS.fields} | dict(changes)
    if findings is None:
        told = newest["findings"]
    else:
        told = [{name: finding.get(name) for name in _FINDING_FIELDS} for finding in findings]
    for finding in told:
        finding["n"] = finding["n"] or 1
    same = all(row[name] == newest[name] for name in row)
    if same and told == newest["findings"]:
        raise InputError("nothing would change; the look already says so")
    return _Draft(row=row, findings=told, before=before)


def _check_draft(connection: Connection, draft: _Draft) -> None:
    known = codes_in(connection)
    problems = [problem for field in INSPECTIONS.fields
                for problem in _field_problems(field, draft.row[field.name], known)]
    for finding in draft.findings:
        if finding["kind"] not in known["kinds"]:
            problems.append(f"{finding['kind']!r} is not on the list of defect kinds")
        if finding["zone"] is not None and finding["zone"] not in ZONES:
            problems.append(f"zone is {finding['zone']!r}; allowed: {', '.join(ZONES)}")
    problems += _count_problems(draft)
    if problems:
        raise InputError(problems)


def _field_problems(field: Field, value: Any, known: dict[str, frozenset[str]]) -> list[str]:
    if value is None:
        needed = field.required or field.default is not None
        needed = needed or field.name in ("pressed_at", "disposition")
        return [f"{field.name} cannot be empty"] if needed else []
    if field.choices and value not in field.choices:
        return [f"{field.name} is {value!r}; allowed: {', '.join(field.choices)}"]
    if field.listed and value not in known[field.listed]:
        return [f"{field.name} {value!r} is not on the list of {field.listed}"]
    too_low = field.low is not None and value < field.low
    too_high = field.high is not None and value > field.high
    if too_low or too_high:
        return [f"{field.name} is {value:g}; allowed: {field.low:g} to {field.high:g}"]
    return []


def _count_problems(draft: _Draft) -> list[str]:
    pieces, defective = draft.row["pieces"], draft.row["defective"]
    problems = []
    if draft.row["pressed_at"] is not None and draft.row["pressed_at"] > draft.row["inspected_at"]:
        problems.append("pressed_at is later than inspected_at")
    if defective is not None and defective > pieces:
        problems.append(f"defective is {defective}, more than its {pieces} pieces")
    if pieces > 1 and draft.findings and defective is None:
        problems.append("a block of pieces with defects needs defective")
    if pieces > 1 and any(finding["n"] > pieces for finding in draft.findings):
        problems.append(f"a defect is counted on more than its {pieces} pieces")
    return problems


def _write(change: Change, draft: _Draft, why: str) -> int:
    revision = _replace(change, draft.before[-1], row=draft.row, findings=draft.findings, why=why)
    change.note(piece_id=draft.row["piece_id"], version=revision, why=why)
    return revision


def _replace(
    change: Change, newest: Mapping[str, Any], *, row: dict[str, Any] | None,
    findings: list[dict[str, Any]], why: str,
) -> int:
    """Put a version in place of the newest one; without a ``row`` it stands at no time."""
    revision, stood = int(newest["revision"]) + 1, newest["superseded_at"] is None
    # a clock set back must not put a version before the one it follows
    change.at_us = max(change.at_us, int(newest["changed_at"]))
    last = row or {field.name: newest[field.name] for field in INSPECTIONS.fields}
    looks, found = _frame([last]), _frame(findings)
    prints = look_fingerprints(looks, found.assign(row=0))
    standing = stored_rows(change.connection, table, piece_base(prints.identity), PIECE_WIDTH)
    standing = standing[standing["superseded_at"].isna()]
    if stood:
        change.connection.execute(update(table).where(
            table.c.number == newest["number"]).values(superseded_at=change.at_us))
    numbers = write_rows(change, INSPECTIONS, looks, prints, revision=revision, why=why)
    looks.index = pd.Index(numbers, name="look")
    found = found.assign(look=int(numbers[0]))
    write_findings(change, found)
    if row is None:
        change.connection.execute(update(table).where(table.c.number == int(numbers[0])).values(
            superseded_at=change.at_us))
        looks = looks.iloc[:0]
    update_tallies(
        change, before=standing["number"].to_numpy(dtype=np.int64),
        gone=np.array([newest["number"]] if stood else [], dtype=np.int64), looks=looks,
        findings=found,
    )
    return revision


def _frame(rows: list[dict[str, Any]]) -> pd.DataFrame:
    if not rows or "kind" in rows[0]:
        return pd.DataFrame(rows, columns=list(_FINDING_FIELDS)).assign(row=0)
    return pd.DataFrame(rows)
