"""The newest look of each press by index, against a plain look through all of them."""

from __future__ import annotations

import numpy as np

from qc.store import Store
from qc.store.corrections import correct_inspection
from qc.store.inspections import add_inspections, read_looks
from qc.store.newest import (
    corrected_since,
    newest_change_us,
    newest_inspected_us,
    newest_looks,
)
from tests.qc.store.made import CODES, LOADED, T0, add, look, random_looks

NOW = LOADED + 10**12


def test_the_newest_look_of_each_press_is_found(store: Store) -> None:
    looks, findings = random_looks(300, np.random.default_rng(4))
    looks["press"] = np.random.default_rng(5).choice(["P1", "P10", "p2", "Ä", "="], 300)
    add_inspections(store, looks, findings, by="a", at_us=LOADED, source=None, new_codes=CODES)
    for as_of_us in (NOW, int(looks["inspected_at"].median())):
        known = read_looks(store, as_of_us=as_of_us).sort_values("inspected_at", kind="stable")
        last = known.drop_duplicates("press", keep="last").set_index("press")
        found = newest_looks(store, as_of_us=as_of_us, columns=("piece_id",), since_us=0)
        named = {press: row["piece_id"] for press, row in found.items()}
        assert named == last["piece_id"].to_dict()
    assert newest_inspected_us(store) == read_looks(store, as_of_us=NOW)["inspected_at"].max()


def test_of_two_at_one_moment_the_one_recorded_later(store: Store) -> None:
    add(store, [look("a"), look("b")])
    found = newest_looks(store, as_of_us=NOW, columns=("piece_id",), since_us=0)
    assert found["P1"]["piece_id"] == "b"


def test_a_correction_counts_from_when_it_was_made(store: Store) -> None:
    add(store, [look("a"), look("b", inspected_at=T0 + 10**9)])
    identity = {"piece_id": "b", "attempt": 1, "location": "left_chest", "stage": "final"}
    correct_inspection(store, identity=identity, changes={"press": "P2"}, findings=None, why="typo",
                       by="bo", at_us=LOADED + 9, seen_version=1)
    now = newest_looks(store, as_of_us=NOW, columns=("piece_id",), since_us=0)
    assert {press: row["piece_id"] for press, row in now.items()} == {"P1": "a", "P2": "b"}
    before = newest_looks(store, as_of_us=LOADED + 8, columns=("piece_id",), since_us=0)
    assert {press: row["piece_id"] for press, row in before.items()} == {"P1": "b"}
    assert corrected_since(store, LOADED + 8) and not corrected_since(store, LOADED + 9)
    assert newest_change_us(store) == LOADED + 9


def test_a_late_look_at_an_old_piece_is_not_what_a_press_runs(store: Store) -> None:
    add(store, [look("new"), look("old", pressed_at=T0 - 10**12, stage="wash",
                                  inspected_at=T0 + 10**9)])
    assert newest_looks(store, as_of_us=NOW, columns=("piece_id",), since_us=T0)["P1"] == {
        "piece_id": "new"}
    assert newest_looks(store, as_of_us=NOW, columns=("piece_id",), since_us=T0 + 1) == {}


def test_what_a_press_runs_is_told_by_the_first_look_at_the_piece_pressed_last(
    store: Store
) -> None:
    later = T0 + 10**9
    add(store, [
        look("first"), look("last", pressed_at=T0 + 10**6, inspected_at=T0 + 10**7),
        look("lay about", inspected_at=later),  # pressed before, looked at after
        look("first", stage="wash", inspected_at=later + 1),
        look("first", stage="after_24h", inspected_at=later + 2),
        look("again", pressed_at=T0 + 10**6 + 1, attempt=2, inspected_at=later + 3)])

    def found(*, fresh: bool) -> str:
        newest = newest_looks(store, as_of_us=NOW, columns=("piece_id",), since_us=0, fresh=fresh)
        return str(newest["P1"]["piece_id"])

    assert found(fresh=True) == "last" and found(fresh=False) == "again"


def test_a_new_store_has_none(store: Store) -> None:
    assert newest_looks(store, as_of_us=NOW, columns=("piece_id",), since_us=0) == {}
    assert newest_inspected_us(store) is None
    assert newest_change_us(store) is None
    assert not corrected_since(store, 0)
