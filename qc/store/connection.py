"""Connections: how each database is set up, and its errors in words a person can act on."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError

from qc.errors import InputError, StoreError
from qc.store.backup_notes import last_backup

BUSY_S = 60
PRAGMAS = (
    f"PRAGMA busy_timeout = {BUSY_S * 1000}",
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",  # an acknowledged record survives a power cut
    "PRAGMA foreign_keys = ON",
    "PRAGMA cache_size = -65536",  # KiB; holds the identity index of a few million rows
    "PRAGMA temp_store = MEMORY",
)


def store_url(place: str) -> URL:
    """The database URL of a place: a URL as it is, anything else a SQLite file."""
    if "://" not in place:
        return URL.create("sqlite", database=place)
    try:
        url = make_url(place)
    except ArgumentError:
        raise InputError(f"{place!r} is not a database URL") from None
    if url.get_backend_name() not in {"sqlite", "postgresql"}:
        raise InputError(f"{_shown(url)} is not supported; use a SQLite file or postgresql://")
    return url


def location(url: URL) -> str:
    """How the store is named to people; without a password."""
    return url.database or "" if url.get_backend_name() == "sqlite" else _shown(url)


def make_engine(url: URL) -> Engine:
    """An engine whose transactions are what they say, DDL included."""
    if url.get_backend_name() == "sqlite":
        engine = create_engine(url, connect_args={"timeout": BUSY_S})
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return engine
    return create_engine(url, pool_pre_ping=True, connect_args={"connect_timeout": 10})


def _set_up_sqlite(dbapi_connection: Any, _record: object) -> None:
    dbapi_connection.isolation_level = None  # the driver's own BEGIN would leave DDL outside
    for pragma in PRAGMAS:
        dbapi_connection.execute(pragma)


def _begin_sqlite(connection: Connection) -> None:
    options = connection.get_execution_options()
    if options.get("migrating"):  # a table made anew must not take its children with it
        connection.exec_driver_sql("PRAGMA foreign_keys = OFF")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("writing") else "BEGIN")


@contextmanager
def speaking(where: str) -> Iterator[None]:
    """Turn a database's trouble into one clear StoreError; a fault of our own stays what it is."""
    try:
        yield
    except Exception as error:
        said = _trouble(error)
        if said is None:
            raise
        raise StoreError(_words(where, said)) from error


def _trouble(error: Exception) -> str | None:
    """What the database said, if the trouble is its own."""
    if isinstance(error, DBAPIError):
        return _trouble(error.orig) if isinstance(error.orig, Exception) else str(error)
    psycopg = sys.modules.get("psycopg")  # only where PostgreSQL is in use
    if psycopg is not None and isinstance(error, psycopg.OperationalError | psycopg.InternalError):
        return str(error).strip()
    ours = sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.DataError
    if isinstance(error, sqlite3.DatabaseError) and not isinstance(error, ours):
        return str(error)
    return None


def _words(where: str, said: str) -> str:
    line = " ".join(said.split())
    if "malformed" in line or "not a database" in line or "disk I/O" in line:
        return damaged(where, line)
    if "database is locked" in line:
        return f"{where} is busy: another program has held it for over {BUSY_S} s; try again"
    if "full" in line:
        return f"{where} cannot grow, the disk is full; nothing of this change was kept"
    if "readonly" in line or "unable to open" in line:
        return f"{where} cannot be opened for writing ({line}); check the folder's permissions"
    return f"{where} did not answer as expected: {line}"


def damaged(where: str, said: str) -> str:
    """What to say of a damaged store: how it shows, and the way to the last good backup."""
    kept = last_backup(where)
    way = (
        f"put the last good backup in its place: copy {kept} to {where}" if kept
        else "no backup is on record (qc backup FILE makes one); keep the file and ask for help"
    )
    return f"{where} is damaged ({said}); {way}"


def _shown(url: URL) -> str:
    return url.render_as_string(hide_password=True)


def is_folder(url: URL) -> bool:
    return url.database is not None and Path(url.database).is_dir()
