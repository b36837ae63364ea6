"""Frozen baselines and agreed changes: added, never altered, read as of a moment."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text

from qc.domain.baselines import AgreedChange, BaselineDecision
from qc.errors import InputError
from qc.store import Store, audit
from qc.store.audit import read_audit, verify_audit
from qc.store.baselines import (
    freeze_baseline,
    read_agreed_changes,
    read_baselines,
    tell_agreed_change,
)
from qc.store.checking import check_store


def freeze(store: Store, **more: Any) -> None:
    given: dict[str, Any] = {"from_us": 10, "until_us": 20, "why": "a calm month", "by": "ann",
                             "at_us": 30, "evidence": {"n_pieces": 900, "é": [1.5, None]}}
    freeze_baseline(store, **given | more)


def tell(store: Store, **more: Any) -> None:
    given: dict[str, Any] = {"changed_us": 40, "why": "new film", "by": "bo", "at_us": 50}
    tell_agreed_change(store, **given | more)


def test_a_new_store_has_none(store: Store) -> None:
    assert read_baselines(store) == ()
    assert read_agreed_changes(store) == ()
    assert check_store(store) == []


def test_what_was_frozen_is_read_back_with_its_figures(store: Store) -> None:
    freeze(store)
    freeze(store, from_us=25, until_us=None, at_us=60, by=" bo ", why=" new film ")
    first, second = read_baselines(store)
    assert first.decision == BaselineDecision(decided_at_us=30, from_us=10, until_us=20, by="ann",
                                              why="a calm month")
    assert first.evidence == {"n_pieces": 900, "é": [1.5, None]}
    assert second.decision == BaselineDecision(decided_at_us=60, from_us=25, until_us=None,
                                               by="bo", why="new film")
    assert (first.number, second.number) == (1, 2)


@pytest.mark.parametrize(("as_of_us", "n"), [(29, 0), (30, 1), (59, 1), (60, 2)])
def test_looking_back_nothing_decided_later_counts(store: Store, as_of_us: int, n: int) -> None:
    freeze(store)
    freeze(store, at_us=60)
    assert len(read_baselines(store, as_of_us=as_of_us)) == n


def test_a_clock_set_back_does_not_change_their_order(store: Store) -> None:
    freeze(store, at_us=60)
    freeze(store, at_us=40)
    assert [one.decision.decided_at_us for one in read_baselines(store)] == [60, 60]


def test_an_agreed_change_is_read_back_as_of_when_it_was_told(store: Store) -> None:
    tell(store)
    assert read_agreed_changes(store, as_of_us=49) == ()
    assert read_agreed_changes(store, as_of_us=50) == (
        AgreedChange(at_us=40, by="bo", why="new film"),)


def test_the_log_tells_who_and_why(store: Store) -> None:
    freeze(store)
    tell(store)
    log = read_audit(store)
    assert log["what"].tolist() == ["freeze baseline", "tell agreed change"]
    assert log["changed_by"].tolist() == ["ann", "bo"]
    assert "a calm month" in log["detail"][0]
    assert verify_audit(store) == []


@pytest.mark.parametrize(("wrong", "words"), [
    ({"by": " "}, "needs a name"), ({"why": ""}, "needs a reason")])
def test_nobody_or_no_reason_is_refused(store: Store, wrong: dict[str, str], words: str) -> None:
    for change in (freeze, tell):
        with pytest.raises(InputError, match=words):
            change(store, **wrong)
    assert store.change_number() == 0


def test_without_its_audit_row_nothing_is_kept(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("no log")

    monkeypatch.setattr(audit, "append", fail)
    for change in (freeze, tell):
        with pytest.raises(RuntimeError, match="no log"):
            change(store)
    assert read_baselines(store) == ()
    assert read_agreed_changes(store) == ()


@pytest.mark.parametrize(("damage", "row"), [
    ("UPDATE baselines SET from_us = 11 WHERE number = 1", "baselines: row 1"),
    ("DELETE FROM agreed_changes", "agreed_changes: row 1"),
    ("UPDATE agreed_changes SET why = 'no reason'", "agreed_changes: row 1"),
])
def test_a_row_altered_behind_the_log_is_found(store: Store, damage: str, row: str) -> None:
    freeze(store)
    tell(store)
    assert check_store(store) == []
    with store.engine.begin() as connection:
        connection.execute(text(damage))
    assert check_store(store) == [f"{row} is not as the audit log saw it written"]
