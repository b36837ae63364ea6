"""Shop settings: read with their defaults, changed with an audit row."""

from __future__ import annotations

import json
from dataclasses import dataclass

from sqlalchemy import delete, insert, select

from qc.config import SETTINGS, checked_value, zone_of
from qc.store.base import Store
from qc.store.coarser import recount_days
from qc.store.schema import audit, settings

WHAT = "change setting"
"""The name of a change in the audit log."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingChange:
    """One change of a setting; ``before`` None: it had its default."""

    name: str
    before: str | None
    after: str
    by: str
    at_us: int


def read_settings(store: Store) -> dict[str, str]:
    """Every setting with its value; the default where none was set."""
    with store.reading() as connection:
        kept = {row.name: row.value for row in connection.execute(select(settings))}
    return {known.name: kept.get(known.name, known.default) for known in SETTINGS}


def is_set(store: Store, name: str) -> bool:
    """Whether somebody has set it, if only to its default."""
    with store.reading() as connection:
        return connection.scalar(select(settings.c.name).where(settings.c.name == name)) is not None


def change_setting(store: Store, *, name: str, value: str, by: str, at_us: int) -> None:
    """Set one setting; InputError if there is none of this name or it cannot take the value."""
    checked_value(name, value)
    with store.changing(by=by, at_us=at_us, what=WHAT) as change:
        mine = settings.c.name == name
        before = change.connection.scalar(select(settings.c.value).where(mine))
        if before == value:
            change.drop()
            return
        change.connection.execute(delete(settings).where(mine))
        change.connection.execute(insert(settings), {"name": name, "value": value})
        if name == "timezone":
            recount_days(change.connection, zone_of(value))
        change.note(name=name, before=before, after=value)


def setting_changes(store: Store, *, as_of_us: int | None = None) -> tuple[SettingChange, ...]:
    """Every change of a setting up to a moment, newest first, from the audit log."""
    query = select(audit).where(audit.c.what == WHAT).order_by(audit.c.number.desc())
    if as_of_us is not None:
        query = query.where(audit.c.changed_at <= int(as_of_us))
    with store.reading() as connection:
        rows = connection.execute(query).mappings().all()
    return tuple(
        SettingChange(by=row["changed_by"], at_us=row["changed_at"], **json.loads(row["detail"]))
        for row in rows)
