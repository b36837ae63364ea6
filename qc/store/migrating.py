"""Bringing a store's tables to the newest version, all or nothing."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Engine, text

from qc.errors import StoreError

FOLDER = Path(__file__).parent / "migrations"


def configuration() -> Config:
    """Alembic's configuration, made here so that no file needs to be found at run time."""
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    return config


@cache
def known_versions() -> frozenset[str]:
    """The versions this program can bring up to date."""
    scripts = ScriptDirectory.from_config(configuration())
    return frozenset(script.revision for script in scripts.walk_revisions())


COUNTED_SINCE = "0006"
"""Tallies of an earlier version are counted anew: they lack what is counted since."""


def upgrade(engine: Engine, version: str = "head", *, counted: str | None = None) -> None:
    """Migrate in one transaction: a store is at a version or it is not.

    ``counted``: the version its tallies are of; None where there is nothing to count.
    """
    config = configuration()
    with engine.connect() as plain:
        connection = plain.execution_options(writing=True, migrating=True)
        with connection.begin():
            config.attributes["connection"] = connection
            command.upgrade(config, version)
            if counted is not None and counted < COUNTED_SINCE:
                from qc.store.tallies import recount

                recount(connection)
            if engine.dialect.name == "sqlite":
                broken = connection.execute(text("PRAGMA foreign_key_check")).first()
                if broken:
                    raise StoreError(f"the upgrade would lose a reference in {broken[0]}; undone")
    engine.dispose()  # the next connection has foreign keys on again
