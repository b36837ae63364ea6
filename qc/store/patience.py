"""Questions that may take too long: the database is told to give up in time."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from qc.errors import InputError

_STEPS = 20_000
"""SQLite looks at the clock after so many steps of its program: about every millisecond."""
_WORDS = "this takes the store longer than {:g} s; narrow it, for instance to a period"


class TooSlow(InputError):
    """The database was told to give up; a narrower question is answered in time."""


@contextmanager
def at_most(connection: Connection, seconds: float) -> Iterator[None]:
    """Everything asked inside is given up after so many seconds, with `TooSlow`."""
    bounded = _sqlite if connection.dialect.name == "sqlite" else _postgres
    try:
        with bounded(connection, seconds):
            yield
    except Exception as error:
        if not _gave_up(error):
            raise
        raise TooSlow(_WORDS.format(seconds)) from error


@contextmanager
def _sqlite(connection: Connection, seconds: float) -> Iterator[None]:
    driver = connection.connection.driver_connection
    until = time.monotonic() + seconds
    driver.set_progress_handler(lambda: time.monotonic() > until, _STEPS)  # type: ignore[union-attr]
    try:
        yield
    finally:
        driver.set_progress_handler(None, 0)  # type: ignore[union-attr]


@contextmanager
def _postgres(connection: Connection, seconds: float) -> Iterator[None]:
    connection.exec_driver_sql(f"SET LOCAL statement_timeout = {max(round(1000 * seconds), 1)}")
    yield
    connection.exec_driver_sql("SET LOCAL statement_timeout = 0")


def _gave_up(error: Exception) -> bool:
    """Whether it was our own giving up."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    psycopg = sys.modules.get("psycopg")
    canceled = psycopg is not None and isinstance(cause, psycopg.errors.QueryCanceled)
    return canceled or str(cause) == "interrupted"
