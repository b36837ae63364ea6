"""What is no longer used leaves the lists people choose from, and nothing else."""

from __future__ import annotations

import pandas as pd
import pytest
from sqlalchemy import update

from dashboard.pages.bench.messages import in_use_only
from qc.desk.bench import bench_lists
from qc.desk.in_use import bring_back, retire, retired
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.lists import form_fields, listed
from qc.desk.own_kinds import add_own_kind
from qc.desk.presses import press_health
from qc.desk.shop import Shop
from qc.errors import InputError, NotFound
from qc.store import Store
from qc.store.audit import read_audit
from qc.store.checking import check_store
from qc.store.records import add_records
from qc.store.schema import list_steps
from qc.store.settings import read_settings

NOW = 1_780_000_000_000_000


@pytest.fixture
def shop(store: Store) -> Shop:
    made = Shop(store, read_settings(store))
    for kind, texts in (("presses", {"press": "P1"}), ("presses", {"press": "P2"}),
                        ("fabrics", {"fabric": "tee"}), ("fabrics", {"fabric": "rib"}),
                        ("transfers", {"transfer": "film"}), ("placements", {"location": "back"}),
                        ("jobs", {"job": "J1", "fabric": "rib"})):
        keep_record(made, RecordWritten(kind=kind, texts=texts), by="Ann", at_us=NOW)
    add_own_kind(made, "glue spots", by="Ann", at_us=NOW)
    return made


def test_put_away_and_taken_up_again_with_who_and_when(shop: Shop) -> None:
    assert retire(shop, "presses", "P2", by=" Rui ", at_us=NOW + 1)
    assert not retire(shop, "presses", "P2", by="Bea", at_us=NOW + 2)
    (one,) = retired(shop)["presses"].values()
    assert (one.code, one.by, one.at_us) == ("P2", "Rui", NOW + 1)
    assert retired(shop, as_of_us=NOW)["presses"] == {}
    assert bring_back(shop, "presses", "P2", by="Bea", at_us=NOW + 3)
    assert retired(shop)["presses"] == {} and retired(shop, as_of_us=NOW + 2)["presses"]
    assert read_audit(shop.store)["what"].tolist().count("list step") == 2
    assert check_store(shop.store) == []


def test_it_leaves_the_choices_and_stays_in_the_lists_and_answers(shop: Shop) -> None:
    for kind, code in (("presses", "P2"), ("fabrics", "rib"), ("transfers", "film"),
                       ("placements", "back"), ("kinds", "glue_spots")):
        retire(shop, kind, code, by="Rui", at_us=NOW + 1)
    lists = in_use_only(bench_lists(shop, as_of_us=NOW + 2), retired(shop))
    assert (list(lists.presses), list(lists.fabrics), lists.transfers) == (["P1"], ["tee"], {})
    assert "back" not in lists.places and "glue_spots" not in lists.kinds
    assert "scorch" in lists.kinds
    new = {one.field.name: one for one in form_fields(shop, "jobs", None, as_of_us=NOW + 2)}
    assert new["fabric"].options == ("tee",) and new["location"].options == ()
    # a job that has it keeps it: what stands in a field must be one of its choices
    old = {one.field.name: one for one in form_fields(shop, "jobs", ("J1",), as_of_us=NOW + 2)}
    assert old["fabric"].options == ("rib", "tee") and old["fabric"].text == "rib"
    assert [one.key for one in listed(shop, "fabrics", as_of_us=NOW + 2)] == [("rib",), ("tee",)]
    assert {one.press for one in press_health(shop, as_of_us=NOW + 2)} == {"P1", "P2"}


def test_a_list_loaded_again_does_not_bring_it_back(shop: Shop) -> None:
    retire(shop, "presses", "P2", by="Rui", at_us=NOW + 1)
    again = pd.DataFrame({"press": ["P1", "P2"], "name": ["Left", "Right"]})
    add_records(shop.store, "presses", again, by="Ann", at_us=NOW + 2, source="presses.csv")
    assert list(retired(shop)["presses"]) == ["P2"]


def test_what_cannot_be_put_away(shop: Shop) -> None:
    for kind, code in (("presses", "P9"), ("kinds", "scorch"), ("kinds", "nothing")):
        with pytest.raises(NotFound):
            retire(shop, kind, code, by="Rui", at_us=NOW)
    with pytest.raises(InputError, match="cannot be put away"):
        retire(shop, "recipes", "tee", by="Rui", at_us=NOW)
    with pytest.raises(InputError, match="needs a name"):
        retire(shop, "presses", "P1", by=" ", at_us=NOW)


def test_a_step_that_was_tampered_with_is_told(shop: Shop) -> None:
    retire(shop, "presses", "P2", by="Rui", at_us=NOW + 1)
    with shop.store.engine.begin() as connection:
        connection.execute(update(list_steps).values(taken_by="Bea"))
    assert any("list_steps: row 1" in line for line in check_store(shop.store))
