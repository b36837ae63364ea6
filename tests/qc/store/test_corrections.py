"""Corrections: a new version, the old one readable, nobody's work overwritten unseen."""

from __future__ import annotations

from typing import Any

import pytest

from qc.errors import Conflict, InputError, NotFound
from qc.store import Store
from qc.store.checking import check_store
from qc.store.corrections import (
    correct_inspection,
    looks_at,
    looks_taken_back,
    versions_of,
    withdraw_inspection,
)
from qc.store.inspections import read_findings, read_looks
from qc.store.kept import KeptLooks
from qc.store.tallies import read_defect_tally, read_piece_tally
from tests.qc.store.made import LOADED, add, findings_of, look

LATER = LOADED + 1000
IDENTITY = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}


def correct(store: Store, *, at_us: int = LATER, seen: int | None = 1, why: str = "misread",
            findings: list[dict[str, Any]] | None = None, **changes: Any) -> int:
    return correct_inspection(store, identity=IDENTITY, changes=changes, findings=findings,
                              why=why, by="bo", at_us=at_us, seen_version=seen)


@pytest.fixture
def filled(store: Store) -> Store:
    add(store, [look("a"), look("b", location=None)], findings_of((0, "scorch", "top", 2.0, 1)))
    return store


def test_a_correction_is_a_new_version_with_who_when_and_why(filled: Store) -> None:
    assert correct(filled, temperature_c=155.0) == 2
    first, second = versions_of(filled, IDENTITY)
    assert (first["temperature_c"], first["version"], first["why"]) == (160.0, 1, None)
    assert (second["temperature_c"], second["version"]) == (155.0, 2)
    assert (second["changed_by"], second["changed_at"], second["why"]) == ("bo", LATER, "misread")
    assert second["findings"] == first["findings"]
    assert check_store(filled) == []


def test_looking_back_sees_the_version_of_then(filled: Store) -> None:
    correct(filled, temperature_c=155.0, findings=[{"kind": "bubble"}])
    correct(filled, at_us=LATER + 10, seen=2, temperature_c=150.0)

    def seen_at(moment: int) -> tuple[list[float], list[str]]:
        looks = read_looks(filled, as_of_us=moment)
        found = read_findings(filled, as_of_us=moment)
        return looks["temperature_c"].tolist(), found["kind"].tolist()

    assert seen_at(LATER - 1) == ([160.0, 160.0], ["scorch"])
    assert seen_at(LATER) == ([160.0, 155.0], ["bubble"])
    assert seen_at(LATER + 10) == ([160.0, 150.0], ["bubble"])
    # before any version was made the first one stands: the look happened, it was typed in later
    assert seen_at(LOADED - 1) == ([160.0, 160.0], ["scorch"])


def test_a_clock_set_back_does_not_tangle_versions(filled: Store) -> None:
    correct(filled, temperature_c=155.0, at_us=LATER)
    correct(filled, temperature_c=150.0, at_us=LATER - 500, seen=2)
    for moment in (LATER - 501, LATER - 1, LATER, LATER + 1):
        looks = read_looks(filled, as_of_us=moment)
        assert sorted(looks["piece_id"]) == ["a", "b"], moment
    assert read_looks(filled, as_of_us=LATER)["temperature_c"].tolist() == [160.0, 150.0]


def test_the_second_of_two_people_is_told(filled: Store) -> None:
    correct(filled, temperature_c=155.0)
    with pytest.raises(Conflict, match=r"changed by bo in between \(version 2, you saw 1\)"):
        correct(filled, temperature_c=150.0)
    assert len(versions_of(filled, IDENTITY)) == 2


def test_the_original_file_again_is_already_there_after_a_correction(filled: Store) -> None:
    correct(filled, temperature_c=155.0)
    again = add(filled, [look("a"), look("b", location=None)],
                findings_of((0, "scorch", "top", 2.0, 1)))
    assert again.already_there.all()


@pytest.mark.parametrize(("changes", "words"), [
    ({"piece_id": "z"}, "says which look it is and cannot be corrected"),
    ({"colour": "red"}, "a look has no 'colour'"),
    ({"temperature_c": 160.0}, "nothing would change"),
    ({"temperature_c": 900.0}, "temperature_c is 900; allowed: 0 to 400"),
    ({"press": "P9"}, "press 'P9' is not on the list of presses"),
    ({"press": None}, "press cannot be empty"),
    ({"disposition": "burn"}, "disposition is 'burn'; allowed: pass, press_again"),
    ({"defective": 5}, "defective is 5, more than its 1 pieces"),
    ({"pieces": 3}, "a block of pieces with defects needs defective"),
    ({"pressed_at": 10**17}, "pressed_at is later than inspected_at"),
])
def test_what_a_look_cannot_take_is_said(
    filled: Store, changes: dict[str, Any], words: str
) -> None:
    before = filled.change_number()
    with pytest.raises(InputError, match=words):
        correct(filled, **changes)
    assert filled.change_number() == before
    assert len(versions_of(filled, IDENTITY)) == 1


@pytest.mark.parametrize(("finding", "words"), [
    ({"kind": "mystery"}, "'mystery' is not on the list of defect kinds"),
    ({"kind": "scorch", "zone": "moon"}, "zone is 'moon'; allowed: top_left"),
])
def test_findings_are_checked_too(filled: Store, finding: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        correct(filled, findings=[finding])


def test_no_reason_no_correction(filled: Store) -> None:
    with pytest.raises(InputError, match="needs a reason"):
        correct(filled, temperature_c=155.0, why="  ")


def test_a_look_that_is_not_there(filled: Store) -> None:
    nowhere = IDENTITY | {"attempt": 3}
    with pytest.raises(NotFound, match="no look at piece a, attempt 3, left_chest, stage final"):
        versions_of(filled, nowhere)
    with pytest.raises(NotFound):
        correct_inspection(filled, identity=nowhere, changes={"note": "x"}, findings=None,
                           why="x", by="bo", at_us=LATER, seen_version=None)


def test_a_look_without_a_location(filled: Store) -> None:
    identity = {"piece_id": "b", "attempt": 1, "location": None, "stage": "final"}
    correct_inspection(filled, identity=identity, changes={"note": "seen twice"}, findings=None,
                       why="note", by="bo", at_us=LATER, seen_version=1)
    assert [one["note"] for one in looks_at(filled, "b")] == ["seen twice"]


def withdraw(store: Store, *, at_us: int = LATER, seen: int | None = 1, why: str = "slip") -> int:
    return withdraw_inspection(store, identity=IDENTITY, why=why, by="bo", at_us=at_us,
                               seen_version=seen)


def test_a_look_taken_back_counts_no_more_and_stays_readable(filled: Store) -> None:
    assert withdraw(filled) == 2
    assert read_looks(filled, as_of_us=LATER)["piece_id"].tolist() == ["b"]
    assert read_looks(filled, as_of_us=LATER - 1)["piece_id"].tolist() == ["a", "b"]
    assert read_piece_tally(filled)["n"].sum() == 1 and len(read_defect_tally(filled)) == 0
    first, last = versions_of(filled, IDENTITY)
    assert (first["withdrawn"], last["withdrawn"]) == (False, True)
    assert (last["changed_by"], last["changed_at"], last["why"]) == ("bo", LATER, "slip")
    assert looks_at(filled, "a") == []
    assert check_store(filled) == []


def test_looks_taken_back_are_found_again_with_what_they_had_found(filled: Store) -> None:
    assert looks_taken_back(filled, "a") == []
    withdraw(filled)
    (gone,) = looks_taken_back(filled, "a")
    assert {name: gone[name] for name in IDENTITY} == IDENTITY
    assert (gone["changed_by"], gone["why"], gone["version"]) == ("bo", "slip", 2)
    assert [one["kind"] for one in gone["findings"]] == ["scorch"]
    assert looks_taken_back(filled, "b") == [] and len(looks_at(filled, "b")) == 1


def test_the_same_look_sent_again_stays_taken_back(filled: Store) -> None:
    withdraw(filled)
    again = add(filled, [look("a")], findings_of((0, "scorch", "top", 2.0, 1)))
    assert again.n_loaded == 0 and again.already_there.tolist() == [True]
    other = add(filled, [look("a", temperature_c=111.0)], findings_of())
    assert other.conflict.tolist() == [True]
    assert read_looks(filled, as_of_us=LATER)["piece_id"].tolist() == ["b"]


def test_what_was_taken_back_is_neither_corrected_nor_taken_back_again(filled: Store) -> None:
    withdraw(filled)
    with pytest.raises(Conflict, match="was taken back by bo; record the piece again"):
        correct(filled, seen=None, temperature_c=150.0)
    with pytest.raises(Conflict, match="was taken back by bo"):
        withdraw(filled, seen=2)
    assert check_store(filled) == []


def test_taking_back_needs_a_reason_and_the_newest_version(filled: Store) -> None:
    with pytest.raises(InputError, match="needs a reason"):
        withdraw(filled, why=" ")
    correct(filled, temperature_c=155.0)
    with pytest.raises(Conflict, match="changed by bo in between"):
        withdraw(filled)
    assert withdraw(filled, seen=2, at_us=LATER - 5) == 3  # a clock set back
    assert read_looks(filled, as_of_us=LATER)["piece_id"].tolist() == ["b"]
    assert check_store(filled) == []


def test_a_kept_reading_notices_what_was_taken_back(filled: Store) -> None:
    kept = KeptLooks(("piece_id",))
    for _ in range(2):
        assert kept.read(filled, as_of_us=LATER)[0]["piece_id"].tolist() == ["a", "b"]
    withdraw(filled)
    looks, findings = kept.read(filled, as_of_us=LATER)
    assert looks["piece_id"].tolist() == ["b"] and len(findings) == 0
