"""Service orders in the store."""

from __future__ import annotations

import pytest
from sqlalchemy import update

from qc.errors import Conflict, InputError, NotFound
from qc.store import Store
from qc.store.audit import verify_audit
from qc.store.cases import evidence_number
from qc.store.checking import check_store
from qc.store.schema import service_steps
from qc.store.service import open_order, read_orders, take_service_step

SAID = {"press": "P1", "platen": "upper", "reason": "person", "words": "cold; é",
        "evidence": [["State", "out"]]}


def test_orders_get_numbers_and_keep_their_steps(store: Store) -> None:
    first = open_order(store, SAID, by="ann", at_us=10)
    second = open_order(store, SAID | {"platen": "lower"}, by="bo", at_us=20)
    take_service_step(store, "S1", "owner", {"name": "Rui"}, by="ann", at_us=30)
    assert (first.order_id, second.order_id) == ("S1", "S2")
    found = read_orders(store)
    assert found["S1"].owner == "Rui"
    assert found["S1"].words == "cold; é"
    assert read_orders(store, as_of_us=15).keys() == {"S1"}
    assert verify_audit(store) == []
    assert check_store(store) == []


def test_a_platen_has_one_open_order(store: Store) -> None:
    open_order(store, SAID, by="ann", at_us=10)
    with pytest.raises(Conflict, match="S1 already"):
        open_order(store, SAID, by="bo", at_us=20)
    take_service_step(store, "S1", "cancel", {"words": "wrong press"}, by="ann", at_us=30)
    assert open_order(store, SAID, by="bo", at_us=40).order_id == "S2"


def test_a_step_said_twice_is_kept_once(store: Store) -> None:
    open_order(store, SAID, by="ann", at_us=10)
    for at_us in (20, 30):
        take_service_step(store, "S1", "done", {"words": "new relay"}, by="ann", at_us=at_us)
    assert [step.step for step in read_orders(store)["S1"].steps] == ["open", "done"]


def test_a_step_that_is_refused_leaves_nothing(store: Store) -> None:
    open_order(store, SAID, by="ann", at_us=10)

    def never(order: object) -> None:
        raise Conflict("not yet")

    with pytest.raises(Conflict, match="not yet"):
        take_service_step(store, "S1", "close", {}, by="ann", at_us=20, check=never)
    with pytest.raises(InputError, match="needs a name"):
        take_service_step(store, "S1", "note", {"words": "x"}, by=" ", at_us=20)
    with pytest.raises(NotFound, match="S9"):
        take_service_step(store, "S9", "note", {"words": "x"}, by="ann", at_us=20)
    assert len(read_orders(store)["S1"].steps) == 1


def test_steps_touch_no_evidence(store: Store) -> None:
    before = evidence_number(store)
    open_order(store, SAID, by="ann", at_us=10)
    assert evidence_number(store) == before


def test_a_changed_row_is_found(store: Store) -> None:
    open_order(store, SAID, by="ann", at_us=10)
    with store.changing(by="eve", at_us=20, what="meddle") as change:
        change.connection.execute(update(service_steps).values(taken_by="bo"))
        change.note()
    assert any("service_steps: row 1" in line for line in check_store(store))
