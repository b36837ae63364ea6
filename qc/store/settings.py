"""Shop settings: read with their defaults, changed with an audit row."""

from __future__ import annotations

from sqlalchemy import delete, insert, select

from qc.config import SETTINGS, checked_value, zone_of
from qc.store.base import Store
from qc.store.coarser import recount_days
from qc.store.schema import settings


def read_settings(store: Store) -> dict[str, str]:
    """Every setting with its value; the default where none was set."""
    with store.reading() as connection:
        kept = {row.name: row.value for row in connection.execute(select(settings))}
    return {known.name: kept.get(known.name, known.default) for known in SETTINGS}


def change_setting(store: Store, *, name: str, value: str, by: str, at_us: int) -> None:
    """Set one setting; InputError if there is none of this name or it cannot take the value."""
    checked_value(name, value)
    with store.changing(by=by, at_us=at_us, what="change setting") as change:
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
