"""The audit log: in the same transaction, chained, and tampering shows."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

import pandas as pd
import pytest
from sqlalchemy import select, text

from qc.store import Store, audit
from qc.store.audit import read_audit, verify_audit
from qc.store.checking import check_records, check_store
from qc.store.corrections import correct_inspection
from qc.store.records import add_records
from qc.store.schema import metadata
from qc.store.settings import change_setting
from qc.store.tallies import rebuild_tallies
from tests.qc.store.made import LOADED, add, findings_of, look

NOW = LOADED + 10
IDENTITY = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}


@pytest.fixture
def filled(store: Store) -> Store:
    for at, name in enumerate("abc"):
        add(store, [look(name), look(name, stage="wash")],
            findings_of((0, "scorch", "top", 2.0, 1)), at_us=LOADED + at)
    change_setting(store, name="timezone", value="Europe/Lisbon", by="ann", at_us=NOW)
    return store


def test_every_change_leaves_a_row_with_who_when_what_and_where_from(filled: Store) -> None:
    log = read_audit(filled)
    assert log["number"].tolist() == [1, 2, 3, 4]
    assert log["what"].tolist() == ["load inspections"] * 3 + ["change setting"]
    assert set(log["changed_by"]) == {"ann"}
    assert log["changed_at"].tolist() == [LOADED, LOADED + 1, LOADED + 2, NOW]
    assert log["source"].tolist()[:3] == ["test.csv"] * 3
    assert '"after":"Europe/Lisbon"' in log["detail"].iloc[3]
    assert filled.change_number() == 4


def test_the_chain_is_sha256_of_what_was_written_and_the_link_before(sqlite_store: Store) -> None:
    # FIPS 180-4 by the standard library, over a body spelled out here by hand
    change_setting(sqlite_store, name="shop_name", value="Näht", by="ann", at_us=5)
    row = read_audit(sqlite_store).iloc[0]
    body = ('[1,5,"ann","change setting",null,'
            '"{\\"after\\":\\"Näht\\",\\"before\\":null,\\"name\\":\\"shop_name\\"}",""]')
    assert row["chain"] == sha256(body.encode()).hexdigest()


@pytest.mark.parametrize("sql", [
    "UPDATE audit SET changed_by = 'nobody' WHERE number = 2",
    "UPDATE audit SET detail = '{}' WHERE number = 1",
    "DELETE FROM audit WHERE number = 2",
    "DELETE FROM audit WHERE number = 1",
])
def test_a_changed_log_shows(filled: Store, sql: str) -> None:
    assert verify_audit(filled) == []
    _tamper(filled, sql)
    assert verify_audit(filled) != []


@pytest.mark.parametrize(("sql", "words"), [
    ("UPDATE inspections SET temperature_c = 150 WHERE number = 3", "1 rows were altered"),
    ("UPDATE inspections SET note = '' WHERE number = 3", "1 rows were altered"),
    ("UPDATE findings SET kind = 'bubble' WHERE look = 1", "1 rows were altered"),
    ("DELETE FROM findings WHERE look = 1", "1 rows were altered"),
    ("UPDATE inspections SET content = content + 1 WHERE number = 2", "1 rows were altered"),
    ("DELETE FROM inspections WHERE number = 2", "tells of 6 rows, the store holds 5"),
    ("DELETE FROM audit WHERE number >= 3", "tells of 4 rows, the store holds 6"),
])
def test_a_changed_record_shows(filled: Store, sql: str, words: str) -> None:
    assert check_records(filled) == []
    _tamper(filled, sql)
    assert any(words in line for line in check_records(filled))


def _tamper(store: Store, sql: str) -> None:
    with store.engine.begin() as connection:
        connection.execute(text(sql))


def everything(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of all tables."""
    with store.reading() as connection:
        return {table.name: [tuple(row) for row in connection.execute(
            select(table).order_by(*table.primary_key.columns))]
            for table in metadata.sorted_tables}


def _refuse(*_: Any, **__: Any) -> None:
    raise OSError("the audit log cannot be written")


@pytest.mark.parametrize("change", ["load", "list", "correct", "setting", "rebuild"])
def test_when_the_audit_row_cannot_be_written_nothing_has_changed(
    filled: Store, monkeypatch: pytest.MonkeyPatch, change: str
) -> None:
    changes = {
        "load": lambda: add(filled, [look("z", press="P8")], new_codes={"presses": ["P8"]}),
        "list": lambda: add_records(filled, "presses", _presses(), by="a", at_us=NOW, source=None),
        "correct": lambda: correct_inspection(
            filled, identity=IDENTITY, changes={"press": "P2"}, findings=[], why="x", by="bo",
            at_us=NOW, seen_version=1),
        "setting": lambda: change_setting(filled, name="shop_name", value="x", by="a", at_us=NOW),
        "rebuild": lambda: rebuild_tallies(filled, by="a", at_us=NOW),
    }
    before = everything(filled)
    with monkeypatch.context() as broken:
        broken.setattr(audit, "append", _refuse)
        with pytest.raises(OSError, match="cannot be written"):
            changes[change]()
    assert everything(filled) == before
    changes[change]()  # with the log back, the same change goes through
    assert everything(filled) != before
    assert check_store(filled) == []


def _presses() -> pd.DataFrame:
    return pd.DataFrame({"press": ["P1"], "name": ["by the door"]})
