"""Frozen limits of streams: added, never altered, read as of a moment, each with its audit row."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text

from qc.domain.stream_baselines import StreamBaseline
from qc.errors import InputError
from qc.store import Store, audit
from qc.store.audit import read_audit
from qc.store.checking import check_store
from qc.store.stream_baselines import FREEZE, freeze_stream, read_stream_baselines

ONE = {"subject": "defects", "of": "scorch", "by": "press", "level": "P1", "step": "day",
       "platen": ""}
OTHER = ONE | {"level": "P2"}


def freeze(store: Store, **more: Any) -> StreamBaseline:
    given: dict[str, Any] = {
        "stream": ONE, "kind": "mix", "period_us": (10, 20), "why": "a calm month", "by": "ann",
        "at_us": 30, "known": {"ratio": 1.25, "rates": [["é", None, "back", 0.5]]},
        "evidence": {"n_points": 24, "fit": True}}
    return freeze_stream(store, **given | more)


def test_what_was_frozen_is_read_back_for_its_stream_alone(store: Store) -> None:
    made = freeze(store)
    freeze(store, stream=OTHER, by=" bo ", why=" new film ", at_us=40)
    later = freeze(store, kind="p", known={"centre": 0.02}, at_us=50)
    assert read_stream_baselines(store, ONE) == (made, later)
    (other,) = read_stream_baselines(store, OTHER)
    assert (other.number, other.by, other.why) == (2, "bo", "new film")
    assert made.known["rates"] == [["é", None, "back", 0.5]] and made.period == (10, 20)
    assert check_store(store) == []


def test_looking_back_nothing_decided_later_counts(store: Store) -> None:
    freeze(store)
    freeze(store, at_us=60)
    assert [len(read_stream_baselines(store, ONE, as_of_us=at)) for at in (29, 30, 59, 60)] == [
        0, 1, 1, 2]


def test_a_clock_set_back_does_not_change_their_order(store: Store) -> None:
    freeze(store, at_us=60)
    assert freeze(store, at_us=10).decided_at_us == 60


@pytest.mark.parametrize(("given", "said"), [
    ({"by": " "}, "need a name"), ({"why": ""}, "need a reason"),
])
def test_nobody_and_no_reason_are_refused(store: Store, given: dict, said: str) -> None:
    with pytest.raises(InputError, match=said):
        freeze(store, **given)
    assert read_stream_baselines(store, ONE) == ()


def test_no_limits_without_their_audit_row(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise RuntimeError("the audit cannot be written")

    monkeypatch.setattr(audit, "append", fail)
    with pytest.raises(RuntimeError):
        freeze(store)
    assert read_stream_baselines(store, ONE) == ()


def test_a_row_that_was_changed_is_found(store: Store) -> None:
    freeze(store)
    assert FREEZE in set(read_audit(store)["what"])
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE stream_baselines SET known = '{\"ratio\": 9}'"))
    assert check_store(store) == [
        "stream_baselines: row 1 is not as the audit log saw it written"]
