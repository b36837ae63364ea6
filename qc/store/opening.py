"""Opening a store: found, made, brought up to date, or refused in one clear line."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import URL, Connection, Engine, inspect, text

from qc.errors import StoreError
from qc.store.base import Store
from qc.store.connection import is_folder, location, make_engine, speaking, store_url
from qc.store.schema import HEAD

_SQLITE_HEADER = b"SQLite format 3\x00"


def open_store(place: str, *, create: bool = False) -> Store:
    """Open the store at a SQLite path or database URL, bringing its tables up to date.

    Raises
    ------
    StoreError
        Nothing there (unless ``create``), a folder, not a database, somebody else's database,
        written by a newer program, unreachable, or damaged.
    """
    url = store_url(place)
    where = location(url)
    if url.get_backend_name() == "sqlite":
        _check_file(url, where, create=create)
    engine = make_engine(url)
    try:
        with speaking(where):
            _bring_up_to_date(engine, where, create=create)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, where)


def _check_file(url: URL, where: str, *, create: bool) -> None:
    path = Path(where)
    if is_folder(url):
        raise StoreError(f"{where} is a folder; name a file in it, for example {path / 'shop.db'}")
    if not path.exists():
        if not create:
            raise StoreError(
                f"there is no store at {where}; qc settings shop_name NAME --store {where} makes "
                f"an empty one, qc load FILE --store {where} one of files, qc demo one to try"
            )
        if not path.absolute().parent.is_dir():
            raise StoreError(f"{path.absolute().parent} is not a folder; make it first")
        return
    try:
        with path.open("rb") as file:
            start = file.read(len(_SQLITE_HEADER))
    except OSError as error:
        raise StoreError(f"{where} cannot be read: {error.strerror}") from None
    if start == b"" and create:
        return
    if start != _SQLITE_HEADER:
        raise StoreError(f"{where} is not a store (not a SQLite file); name another file")


def _bring_up_to_date(engine: Engine, where: str, *, create: bool) -> None:
    with engine.connect() as connection:
        version = _version(connection)
        tables = [] if version else inspect(connection).get_table_names()
    if version == HEAD:
        return
    if version is None and tables:
        raise StoreError(f"{where} is a database of another program ({tables[0]}, ...); "
                         "name another file or an empty database")
    if version is None and not create:
        raise StoreError(f"{where} is empty, not a store; qc load FILE --store {where} fills one")
    from qc.store.migrating import known_versions, upgrade

    if version is not None and version not in known_versions():
        raise StoreError(f"{where} was written by a newer version of the program "
                         f"(store version {version}, known up to {HEAD}); update the program")
    upgrade(engine, counted=version)


def _version(connection: Connection) -> str | None:
    if connection.dialect.name == "sqlite":
        found = connection.execute(
            text("SELECT 1 FROM sqlite_master WHERE name = 'alembic_version'")
        ).first()
    else:
        found = connection.scalar(text("SELECT to_regclass('alembic_version')"))
    if not found:
        return None
    return connection.scalar(text("SELECT version_num FROM alembic_version"))


