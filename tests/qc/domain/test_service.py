"""Service orders: what can follow what."""

from __future__ import annotations

from typing import Any

import pytest

from qc.domain.service import ServiceOrder, ServiceStep, check_service_step, orders_of
from qc.errors import Conflict, InputError

OPENING = {"press": "P1", "platen": "upper", "reason": "person", "words": "cold",
           "evidence": [["State", "out"]]}


def step(kind: str, number: int = 2, order_id: str = "S1", **said: Any) -> ServiceStep:
    return ServiceStep(number=number, order_id=order_id, step=kind, by="Ann", at_us=number,
                       said=said)


def order(*more: ServiceStep) -> ServiceOrder:
    return ServiceOrder(steps=(step("open", 1, **OPENING), *more))


def test_an_order_says_what_it_is_about() -> None:
    made = order(step("owner", name="Rui"), step("due", 3, due_us=99), step("owner", 4, name="Bo"))
    assert (made.press, made.platen, made.words) == ("P1", "upper", "cold")
    assert (made.owner, made.due_us, made.flag_id) == ("Bo", 99, None)
    assert made.evidence == (("State", "out"),)
    assert made.is_open


@pytest.mark.parametrize("name", ["close", "cancel"])
def test_what_is_over_takes_notes_alone(name: str) -> None:
    over = order(step(name, words="bad probe"))
    assert not over.is_open
    check_service_step(over, "note", {"words": "seen later"})
    with pytest.raises(Conflict, match="open a new one"):
        check_service_step(over, "done", {"words": "new element"})


@pytest.mark.parametrize(("name", "said", "told"), [
    ("paint", {}, "no step 'paint'"), ("done", {}, "needs a text"),
    ("cancel", {"words": "  "}, "needs a text"), ("owner", {"name": "x" * 2001}, "at most 2000"),
    ("due", {"due_us": None}, "needs a time"),
])
def test_a_step_without_what_it_needs_is_refused(
    name: str, said: dict[str, Any], told: str
) -> None:
    with pytest.raises(InputError, match=told):
        check_service_step(order(), name, said)


def test_steps_are_gathered_by_order() -> None:
    found = orders_of([step("open", 1, **OPENING), step("open", 2, "S2", **OPENING),
                       step("note", 3, words="x")])
    assert {key: len(one.steps) for key, one in found.items()} == {"S1": 2, "S2": 1}
