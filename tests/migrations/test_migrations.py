"""Every earlier version of a store comes to the newest with its data whole."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, inspect, text

from qc.errors import StoreError
from qc.store import Store, open_store
from qc.store.baselines import read_agreed_changes, read_baselines
from qc.store.cases import read_cases, read_steps
from qc.store.checking import check_store
from qc.store.connection import make_engine, store_url
from qc.store.corrections import versions_of
from qc.store.inspections import read_findings, read_looks
from qc.store.migrating import configuration, known_versions, upgrade
from qc.store.records import read_records
from qc.store.retiring import read_retired
from qc.store.schema import HEAD, metadata
from qc.store.settings import read_settings
from qc.store.stream_baselines import read_stream_baselines
from qc.store.tallies import read_piece_tally
from tests.migrations.versions import (
    FLAG,
    FROZEN_STREAM,
    dumped_versions,
    fill,
    restore,
    rows_of,
)
from tests.qc.store.made import LOADED, T0, add, look

LATER = LOADED + 100


def test_there_is_one_newest_version_and_it_is_the_programs() -> None:
    scripts = ScriptDirectory.from_config(configuration())
    assert scripts.get_heads() == [HEAD]


def test_every_version_has_a_filled_store_on_file() -> None:
    assert set(dumped_versions()) == known_versions()


def test_the_tables_migrations_make_are_the_programs(store: Store) -> None:
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []


def test_a_table_the_migrations_forgot_would_be_noticed(sqlite_store: Store) -> None:
    with sqlite_store.engine.begin() as connection:
        connection.execute(text("ALTER TABLE recipes DROP COLUMN cover"))
        found = compare_metadata(MigrationContext.configure(connection), metadata)
    assert [one[0] for one in found] == ["add_column"]


def holds_what_was_filled(store: Store, version: str = HEAD) -> None:
    looks = read_looks(store, as_of_us=LATER)
    assert sorted(looks["piece_id"]) == ["a", "a", "b", "c", "hour"]
    assert looks.loc[looks["piece_id"] == "b", "note"].tolist() == ["=1+1; é"]
    assert read_findings(store, as_of_us=LATER)["kind"].tolist() == [
        "scorch", "bubble", "zap", "wrinkle"]
    assert read_findings(store, as_of_us=LATER)["extent_mm"].tolist()[0] == 2.5
    first, second = versions_of(store, {"piece_id": "c", "attempt": 1, "stage": "final",
                                        "location": "left_chest"})
    assert (first["temperature_c"], second["temperature_c"]) == (160.0, 151.5)
    assert second["why"] == "misread"
    assert read_records(store, "presses")["name"].dropna().tolist() == ["by the door"]
    assert read_records(store, "platen_readings")["reading_c"].tolist() == [157.25]
    assert read_settings(store)["timezone"] == "Europe/Lisbon"
    frozen = [one.decision.why for one in read_baselines(store)]
    assert frozen == (["a calm week"] if version >= "0002" else [])
    assert len(read_agreed_changes(store)) == len(frozen)
    cases = read_cases(store)
    assert [case.flag for case in cases.values()] == ([FLAG] if version >= "0003" else [])
    assert [step.step for step in read_steps(store)] == (
        ["open", "acknowledge", "note"] if version >= "0003" else [])
    assert read_records(store, "jobs")["shipped_at"].tolist() == (
        [T0 + 7200] if version >= "0003" else [])
    probes = read_records(store, "instruments")
    assert [probes["sensor"].dropna().tolist(), probes["contact_c"].dropna().tolist()] == (
        [["pt100_class_a"], [0.7]] if version >= "0004" else [[], []])
    limits = read_stream_baselines(store, FROZEN_STREAM)
    assert [one.known["rates"] for one in limits] == (
        [[["rib", "film", None, 0.02]]] if version >= "0006" else [])
    assert [(one.kind, one.code, one.by) for one in read_retired(store)] == (
        [("kinds", "zap", "bo")] if version >= "0007" else [])
    assert read_piece_tally(store)["n"].sum() == 34  # a twice (final, wash), b, c, a block of 30
    assert check_store(store) == []
    assert add(store, [look("a")]).n_loaded == 0  # known, though without its finding: a conflict
    assert add(store, [look("new")]).n_loaded == 1
    assert check_store(store) == []


def test_the_filled_store_of_today(store: Store) -> None:
    fill(store)
    holds_what_was_filled(store)


@pytest.mark.parametrize("version", dumped_versions())
def test_a_filled_sqlite_store_comes_to_the_newest_version(version: str, tmp_path: Path) -> None:
    restore(version, tmp_path / "old.db")
    store = open_store(str(tmp_path / "old.db"))
    holds_what_was_filled(store, version)
    store.close()


@pytest.mark.postgres
@pytest.mark.parametrize("version", dumped_versions())
def test_a_filled_postgresql_store_comes_to_the_newest_version(
    version: str, postgres_place: str
) -> None:
    engine = make_engine(store_url(postgres_place))
    upgrade(engine, version)
    rows = rows_of(version)
    with engine.begin() as connection:
        for name in _parents_first(connection, rows):
            for row in rows[name]:
                names = ", ".join(f'"{column}"' for column in row)
                marks = ", ".join(f":{column}" for column in row)
                connection.execute(text(f"INSERT INTO {name} ({names}) VALUES ({marks})"), row)
    engine.dispose()
    store = open_store(postgres_place)
    holds_what_was_filled(store, version)
    store.close()


def _parents_first(connection: Any, rows: dict[str, Any]) -> list[str]:
    inspector = inspect(connection)
    return sorted(rows, key=lambda name: len(inspector.get_foreign_keys(name)))


def test_a_migration_that_fails_leaves_the_store_as_it_was(
    place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    from alembic import op

    made: list[str] = []
    create_table = op.create_table

    def fail_late(name: str, *parts: Any, **more: Any) -> Any:
        if len(made) == 8:
            raise StoreError("the power went")
        made.append(name)
        return create_table(name, *parts, **more)

    with monkeypatch.context() as broken:
        broken.setattr(op, "create_table", fail_late)
        with pytest.raises(StoreError, match="the power went"):
            open_store(place, create=True)
    engine = create_engine(store_url(place))
    assert inspect(engine).get_table_names() == []
    engine.dispose()
    open_store(place, create=True).close()
