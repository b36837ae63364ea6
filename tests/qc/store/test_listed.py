"""Lists with who wrote them, a shop's own kinds, changes of settings, people: on both databases."""

from __future__ import annotations

import pandas as pd
import pytest

from qc.store import Store, people
from qc.store.codes import add_kind, own_kinds
from qc.store.inspections import add_inspections
from qc.store.people import authors_named, inspectors_named, operators_named
from qc.store.records import add_records, count_listed, keys_alike, read_listed
from qc.store.settings import change_setting, setting_changes
from tests.qc.store.made import LOADED


def put(store: Store, name: str | None, at_us: int, by: str = "ann") -> None:
    add_records(store, "presses", pd.DataFrame([{"press": "P1", "name": name}]), by=by, at_us=at_us,
                source=None)


def test_versions_come_with_who_and_when_as_of_a_moment(store: Store) -> None:
    add_records(store, "platen_readings", pd.DataFrame(), by="x", at_us=LOADED, source=None,
                new_codes={"presses": ["P1", "P2"]})
    put(store, "old", LOADED + 1)
    put(store, "new", LOADED + 2, by="rui")

    def told(**asked: object) -> list[tuple[object, ...]]:
        return [(one.values["press"], one.values["name"], one.revision, one.by, one.at_us,
                 one.is_newest) for one in read_listed(store, "presses", **asked)]

    new = ("P1", "new", 2, "rui", LOADED + 2, True)
    code = ("P2", None, 0, "x", LOADED, True)
    assert told() == [code, new]
    assert told(having={"press": "P1"}, every_version=True) == [
        ("P1", "old", 1, "ann", LOADED + 1, False), new]
    assert told(as_of_us=LOADED + 1, having={"press": "P1"}) == [
        ("P1", "old", 1, "ann", LOADED + 1, True)]
    assert told(having={"press": "P9"}) == []


def test_keys_are_counted_once_and_found_whatever_their_capitals(store: Store) -> None:
    add_records(store, "platen_readings", pd.DataFrame(), by="x", at_us=LOADED, source=None,
                new_codes={"presses": ["P1", "p2"], "fabrics": ["tee"], "transfers": ["film"]})
    put(store, "old", LOADED + 1)
    put(store, "new", LOADED + 2)
    for version in ("1", "2"):
        add_records(store, "recipes", pd.DataFrame([{"fabric": "tee", "transfer": "film",
                                                     "version": version}]),
                    by="ann", at_us=LOADED, source=None)
    assert count_listed(store, "presses", ["press"]) == 2
    assert count_listed(store, "recipes", ["fabric", "transfer"]) == 1
    assert keys_alike(store, "presses", {"press": "p1"}) == {("P1",): 2}
    assert keys_alike(store, "presses", {"press": "P2"}) == {("p2",): 0}
    assert keys_alike(store, "recipes", {"fabric": "TEE", "transfer": "film"}) == {
        ("tee", "film"): 1}
    assert keys_alike(store, "presses", {"press": "P3"}) == {}


def test_a_kind_is_added_once(store: Store) -> None:
    assert add_kind(store, "glue_spots", by="ann", at_us=LOADED)
    number = store.change_number()
    assert not add_kind(store, "glue_spots", by="rui", at_us=LOADED + 1)
    assert not add_kind(store, "scorch", by="rui", at_us=LOADED + 1)
    assert store.change_number() == number
    assert [(one.code, one.by, one.at_us) for one in own_kinds(store)] == [
        ("glue_spots", "ann", LOADED)]


def test_changes_of_settings_are_read_back_newest_first(store: Store) -> None:
    for at, value in enumerate(("Lane", "Yard")):
        change_setting(store, name="shop_name", value=value, by="ann", at_us=LOADED + at)
    assert [(one.before, one.after, one.at_us) for one in setting_changes(store)] == [
        ("Lane", "Yard", LOADED + 1), (None, "Lane", LOADED)]
    assert len(setting_changes(store, as_of_us=LOADED)) == 1


def test_people_are_counted_over_the_newest_rows_alone(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert operators_named(store) == inspectors_named(store) == authors_named(store) == ()
    looks = pd.DataFrame([
        {"piece_id": f"A{at}", "attempt": 1, "inspected_at": LOADED - 10 + at,
         "pressed_at": LOADED - 10 + at, "stage": "final", "press": "P1", "fabric": "f",
         "transfer": "t", "operator": "Bo", "inspector": "Zoe" if at < 2 else "Ada",
         "disposition": "pass", "pieces": 5} for at in range(6)])
    none = pd.DataFrame({"row": pd.Series(dtype=int), "kind": [], "zone": [], "extent_mm": [],
                         "n": pd.Series(dtype=int)})
    add_inspections(store, looks, none, by="ann", at_us=LOADED, source=None,
                    new_codes={"presses": ["P1"], "fabrics": ["f"], "transfers": ["t"]})
    assert [(one.name, one.n) for one in operators_named(store)] == [("Bo", 30)]  # pieces
    assert [(one.name, one.n) for one in inspectors_named(store)] == [("Ada", 4), ("Zoe", 2)]
    monkeypatch.setattr(people, "NEWEST", 3)
    assert [(one.name, one.n, one.last_us) for one in inspectors_named(store)] == [
        ("Ada", 3, LOADED - 5)]
    assert [(one.name, one.n) for one in authors_named(store)] == [("ann", 1)]
