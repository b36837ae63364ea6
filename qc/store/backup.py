"""Backups: a whole copy taken while the shop works on, and a note of where they are."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from qc.errors import InputError, StoreError
from qc.store.backup_notes import note_file
from qc.store.base import Store
from qc.store.bulk import driver


def back_up(store: Store, path: str) -> Path:
    """Copy the store into a new SQLite file, check the copy, and note it beside the store.

    Raises
    ------
    InputError
        The file exists, or its folder does not.
    StoreError
        The store is a database server's (its own tools back it up), or the copy is not sound.
    """
    if not store.is_sqlite:
        raise StoreError(f"{store.location} is kept by a database server; "
                         "back it up with the server's own tool, for example pg_dump")
    target = Path(path).absolute()
    if target.exists():
        raise InputError(f"{path} exists already; name a new file")
    if not target.parent.is_dir():
        raise InputError(f"{target.parent} is not a folder; make it first")
    part = target.with_name(target.name + ".part")
    try:
        _copy(store, part)
        part.rename(target)  # under its own name only once it is whole
    finally:
        part.unlink(missing_ok=True)
    with note_file(store.location).open("a", encoding="utf-8") as notes:
        notes.write(f"{target}\n")
    return target


def _copy(store: Store, part: Path) -> None:
    with store.reading() as connection:
        source = driver(connection)
        target = sqlite3.connect(part)
        try:
            source.backup(target, pages=4096)
            said = target.execute("PRAGMA integrity_check").fetchone()[0]
        finally:
            target.close()
    if said != "ok":
        raise StoreError(f"the copy of {store.location} is not sound ({said}); no backup was made")
