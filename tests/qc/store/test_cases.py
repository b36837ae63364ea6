"""Cases in the store: added to, never rewritten; whole or not at all; holding pieces in bulk."""

from __future__ import annotations

import threading
from typing import Any

import numpy as np
import pytest
from sqlalchemy import text, update

from qc.domain.baselines import AgreedChange
from qc.domain.cases import CaseFile
from qc.domain.flags import Flag
from qc.errors import Conflict, InputError
from qc.store import Store, audit
from qc.store.cases import (
    NewStep,
    add_step,
    agreed_changes,
    check_cases,
    closed_flags,
    contain,
    read_cases,
    read_steps,
)
from qc.store.checking import check_store
from qc.store.corrections import correct_inspection, versions_of
from qc.store.inspections import read_findings, read_looks
from qc.store.schema import case_steps
from tests.qc.domain.cases_made import SAID, flag
from tests.qc.store.made import LOADED, add, findings_of, look, random_looks

LATER = LOADED + 1000


def take(store: Store, step: str, *, by: str = "ann", at_us: int = LATER, seen: int | None = None,
         of: Flag | None = None, said: dict[str, Any] | None = None) -> CaseFile:
    new = NewStep(flag=of or flag(), step=step, said=SAID[step] if said is None else said,
                  seen=seen)
    return add_step(store, new, by=by, at_us=at_us)


def numbers_of(store: Store, *pieces: str) -> np.ndarray:
    looks = read_looks(store, as_of_us=LATER)
    return looks.index[looks["piece_id"].isin(pieces)].to_numpy()


def hold(store: Store, looks: np.ndarray, at_us: int = LATER, by: str = "ann") -> CaseFile:
    return contain(store, NewStep(flag=flag(), step="contain", said={}), looks, by=by, at_us=at_us)


def test_the_first_step_opens_the_case_with_the_flag_as_it_stood(store: Store) -> None:
    made = take(store, "acknowledge")
    assert [step.step for step in made.steps] == ["open", "acknowledge"]
    assert made.flag == flag()
    take(store, "note", by="bo", of=flag(message="seen anew, it reads otherwise"))
    kept = read_cases(store)["f1"]
    assert kept.flag == flag() and [step.by for step in kept.steps] == ["ann", "ann", "bo"]
    assert check_store(store) == []


def test_looking_back_sees_the_case_of_then(store: Store) -> None:
    for at, step in enumerate(("cause", "action", "close", "reopen")):
        take(store, step, at_us=LATER + at)
    assert closed_flags(store, as_of_us=LATER + 1) == {}
    assert closed_flags(store, as_of_us=LATER + 2) == {"f1": LATER + 2}
    assert closed_flags(store, as_of_us=LATER + 3) == {}
    assert read_cases(store, as_of_us=LATER - 1) == {}


def test_said_twice_is_kept_once(store: Store) -> None:
    take(store, "owner", seen=0)
    number = store.change_number()
    again = take(store, "owner", seen=0)
    assert again.owner == "Bo" and store.change_number() == number
    assert len(read_steps(store)) == 2


def test_the_second_of_two_people_sees_the_firsts_step_and_loses_nothing(store: Store) -> None:
    seen = take(store, "acknowledge").last
    take(store, "owner", by="bo", seen=seen)
    with pytest.raises(Conflict, match=r"in between \(bo gave it to Bo\)"):
        take(store, "note", by="cy", seen=seen)
    now = read_cases(store)["f1"]
    take(store, "note", by="cy", seen=now.last)
    assert [step.by for step in read_steps(store)] == ["ann", "ann", "bo", "cy"]


def test_many_at_once_are_all_kept(store: Store) -> None:
    def work(name: str) -> None:
        for number in range(5):
            take(store, "note", by=name, said={"words": f"{number}"})

    people = [threading.Thread(target=work, args=(f"p{n}",)) for n in range(4)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    steps = read_steps(store)
    assert len(steps) == 21 and [step.number for step in steps] == list(range(1, 22))
    assert check_store(store) == []


def test_a_clock_set_back_does_not_tangle_steps(store: Store) -> None:
    take(store, "owner", at_us=LATER)
    take(store, "note", at_us=LATER - 500)
    assert [step.at_us for step in read_steps(store)] == [LATER] * 3


def test_what_cannot_follow_leaves_no_trace(store: Store) -> None:
    with pytest.raises(Conflict, match="say its cause and its action first"):
        take(store, "close")
    with pytest.raises(InputError, match="needs a name"):
        take(store, "note", by=" ")
    assert read_steps(store) == () and store.change_number() == 0


def test_a_step_that_is_altered_or_taken_away_shows(store: Store) -> None:
    take(store, "owner")
    with store.engine.begin() as connection:
        connection.execute(update(case_steps).where(case_steps.c.number == 2).values(taken_by="x"))
    assert check_cases(store) == ["case_steps: row 2 is not as the audit log saw it written"]
    with store.engine.begin() as connection:
        connection.execute(text("DELETE FROM case_steps"))
    assert len(check_cases(store)) == 2


def test_changes_that_were_meant_are_told(store: Store) -> None:
    meant = {"source": "agreed_change", "words": "new film from Monday"}
    take(store, "cause", said=meant)
    assert agreed_changes(store) == ()
    take(store, "close", at_us=LATER + 5)
    assert agreed_changes(store, as_of_us=LATER + 5) == (AgreedChange(
        at_us=flag().changed_at_us, by="ann", why="new film from Monday", flag_id="f1"),)
    assert agreed_changes(store, as_of_us=LATER + 4) == ()


@pytest.fixture
def filled(store: Store) -> Store:
    add(store, [look("a"), look("a", stage="wash"), look("b", location=None, disposition="hold"),
                look("c")],
        findings_of((0, "scorch", "top", 2.0, 1), (0, "bubble", None, None, 2)))
    return store


def test_containing_holds_the_looks_by_a_correction_each(filled: Store) -> None:
    made = hold(filled, numbers_of(filled, "a", "b"))
    assert made.newest("contain").said == {"n_held": 2}  # b is on hold already
    looks = read_looks(filled, as_of_us=LATER)
    held = looks.loc[looks["disposition"] == "hold"]
    assert sorted(zip(held["piece_id"], held["stage"], strict=True)) == [
        ("a", "final"), ("a", "wash"), ("b", "final")]
    identity = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}
    first, second = versions_of(filled, identity)
    assert (first["disposition"], second["disposition"]) == ("pass", "hold")
    assert second["why"] == "held by case f1: Edges lift on press P2."
    assert (second["changed_by"], second["changed_at"]) == ("ann", LATER)
    assert second["findings"] == first["findings"] and len(first["findings"]) == 2
    assert read_looks(filled, as_of_us=LATER - 1)["disposition"].tolist().count("hold") == 1
    assert check_store(filled) == []


def test_containing_is_one_transaction_with_its_audit_row(
    filled: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    number, looks = filled.change_number(), numbers_of(filled, "a", "c")

    def fail(*_: object, **__: object) -> int:
        raise OSError("the power went")

    with monkeypatch.context() as broken:
        broken.setattr(audit, "append", fail)
        with pytest.raises(OSError, match="the power went"):
            hold(filled, looks)
    assert filled.change_number() == number and read_steps(filled) == ()
    assert "hold" not in read_looks(filled, as_of_us=LATER).query("piece_id != 'b'")[
        "disposition"].tolist()
    hold(filled, looks)
    assert filled.change_number() == number + 1


def test_what_was_corrected_in_between_is_left_alone(filled: Store) -> None:
    looks = numbers_of(filled, "c")
    identity = {"piece_id": "c", "attempt": 1, "location": "left_chest", "stage": "final"}
    correct_inspection(filled, identity=identity, changes={"disposition": "scrap"}, findings=None,
                       why="burnt", by="bo", at_us=LATER, seen_version=1)
    assert hold(filled, looks).newest("contain").said["n_held"] == 0
    assert versions_of(filled, identity)[-1]["disposition"] == "scrap"


def test_a_clock_set_back_holds_after_the_newest_correction(filled: Store) -> None:
    identity = {"piece_id": "c", "attempt": 1, "location": "left_chest", "stage": "final"}
    correct_inspection(filled, identity=identity, changes={"note": "x"}, findings=None, why="x",
                       by="bo", at_us=LATER, seen_version=1)
    hold(filled, numbers_of(filled, "c"), at_us=LATER - 500)
    assert versions_of(filled, identity)[-1]["changed_at"] == LATER
    assert check_store(filled) == []


def test_holding_many_pieces_of_a_busy_shop_keeps_records_and_tallies_sound(store: Store) -> None:
    looks, findings = random_looks(3000, np.random.default_rng(8), n_pieces=1200)
    add(store, looks.to_dict("records"), findings)
    before = read_findings(store, as_of_us=LATER)
    chosen = read_looks(store, as_of_us=LATER)
    at = chosen.index[chosen["press"] == "P1"].to_numpy()
    made = hold(store, at)
    assert made.newest("contain").said["n_held"] == len(at) > 500
    now = read_looks(store, as_of_us=LATER)
    assert (now["disposition"] == "hold").sum() == len(at) and len(now) == len(chosen)
    after = read_findings(store, as_of_us=LATER)
    counted = [frame.groupby(["kind", "n"]).size().sum() for frame in (before, after)]
    assert counted[0] == counted[1]
    assert check_store(store) == []
