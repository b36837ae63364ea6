"""Small saves done together: the same as one after the other, each told what became of its own."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from qc.errors import InputError, StoreError
from qc.store import Store, open_store
from qc.store.audit import read_audit
from qc.store.checking import check_store
from qc.store.inspections import _saved, add_inspections, read_findings, read_looks
from qc.store.judging import Added
from qc.store.tallies import read_defect_tally, read_piece_tally
from qc.store.together import MOST_AT_ONCE, Together
from qc.store.uniting import Save, united
from tests.qc.store.made import LOADED, NO_FINDINGS, add, findings_of, look, random_looks

NOW = LOADED + 10**12


def at_once(jobs: Sequence[Callable[[], Any]]) -> list[Any]:
    """What each job gave or raised, all begun together."""
    found: list[Any] = [None] * len(jobs)
    start = threading.Barrier(len(jobs))

    def work(number: int) -> None:
        start.wait()
        try:
            found[number] = jobs[number]()
        except Exception as error:
            found[number] = error

    threads = [threading.Thread(target=work, args=(number,)) for number in range(len(jobs))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return found


def parts(n_parts: int, seed: int) -> list[Save]:
    """Random looks in small saves of different people; some come twice, some contradict."""
    rng = np.random.default_rng(seed)
    saves = []
    for number in range(n_parts):
        looks, findings = random_looks(int(rng.integers(1, 6)), rng, n_pieces=40)
        saves.append(Save(looks=looks, findings=findings, by=f"person {number % 3}",
                          at_us=LOADED + number, source=None, new_codes=None))
    return [*saves, *saves[::4]]


def one_by_one(store: Store, saves: Sequence[Save]) -> list[Added]:
    return [_saved(store, [save])[0] for save in saves]


def rows(frame: pd.DataFrame) -> list[str]:
    return sorted(map(repr, frame.astype(object).itertuples(index=False, name=None)))


def same(first: pd.DataFrame, second: pd.DataFrame) -> bool:
    return bool(first.astype(object).where(first.notna(), None).equals(
        second.astype(object).where(second.notna(), None)))


@pytest.mark.parametrize("seed", range(3))
def test_saved_together_is_as_saved_one_by_one(
    store: Store, tmp_path: Path, seed: int
) -> None:
    other, saves = open_store(str(tmp_path / "other.db"), create=True), parts(30, seed)
    apart = one_by_one(other, saves)
    joined = _saved(store, saves)
    for mine, theirs in zip(joined, apart, strict=True):
        assert mine.n_loaded == theirs.n_loaded
        assert mine.already_there.tolist() == theirs.already_there.tolist()
        assert mine.conflict.tolist() == theirs.conflict.tolist()
    assert same(read_looks(store, as_of_us=NOW), read_looks(other, as_of_us=NOW))
    assert same(read_findings(store, as_of_us=NOW), read_findings(other, as_of_us=NOW))
    assert rows(read_piece_tally(store)) == rows(read_piece_tally(other))
    assert rows(read_defect_tally(store)) == rows(read_defect_tally(other))
    assert read_audit(store).equals(read_audit(other))  # to the last link of the chain
    assert check_store(store) == check_store(other) == []
    other.close()


def test_twenty_stations_at_once_are_all_told_and_all_there(store: Store) -> None:
    jobs = [lambda n=n: add(store, [look(f"p{n}")], new_codes=None, by=f"b{n}", at_us=LOADED + n)
            for n in range(20)]
    assert [added.n_loaded for added in at_once(jobs)] == [1] * 20
    assert sorted(read_looks(store, as_of_us=NOW)["piece_id"]) == sorted(f"p{n}" for n in range(20))
    audit = read_audit(store)
    assert sorted(audit["changed_by"]) == sorted(f"b{n}" for n in range(20))
    assert check_store(store) == []


def test_the_same_save_sent_twice_at_once_is_kept_once(store: Store) -> None:
    jobs = [lambda: add(store, [look("a")], new_codes=None)] * 8
    found = at_once(jobs)
    assert sum(added.n_loaded for added in found) == 1
    assert sum(added.already_there[0] for added in found) == 7
    assert store.change_number() == 1


def test_a_save_that_cannot_be_takes_no_other_with_it(store: Store) -> None:
    jobs = [lambda n=n: add(store, [look(f"p{n}", press=None if n == 3 else "P1")],
                            new_codes=None) for n in range(10)]
    found = at_once(jobs)
    assert isinstance(found[3], InputError)
    assert "every row needs press" in str(found[3])
    assert [added.n_loaded for n, added in enumerate(found) if n != 3] == [1] * 9
    assert check_store(store) == []


def test_nothing_is_kept_or_acknowledged_when_the_audit_row_fails(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    from qc.store import audit

    def refuse(*_: object, **__: object) -> None:
        raise RuntimeError("no ink")

    monkeypatch.setattr(audit, "append", refuse)
    jobs = [lambda n=n: add(store, [look(f"p{n}")], new_codes=None) for n in range(5)]
    assert all("no ink" in str(error) for error in at_once(jobs))
    assert read_looks(store, as_of_us=NOW).empty
    assert read_piece_tally(store).empty


def test_those_who_wait_go_together_and_each_gets_its_own() -> None:
    queue, sizes, held = Together(), [], threading.Event()

    def run(jobs: Sequence[int]) -> list[int]:
        held.wait(10)
        sizes.append(len(jobs))
        return [10 * job for job in jobs]

    threads = []
    found: dict[int, int] = {}
    for number in range(MOST_AT_ONCE + 50):
        threads.append(threading.Thread(
            target=lambda n=number: found.update({n: queue.save(n, run)})))
        threads[-1].start()
    held.set()
    for thread in threads:
        thread.join()
    assert found == {number: 10 * number for number in range(MOST_AT_ONCE + 50)}
    assert sum(sizes) == MOST_AT_ONCE + 50
    assert len(sizes) < 10
    assert max(sizes) <= MOST_AT_ONCE


def test_trouble_with_the_store_reaches_everyone_and_the_queue_goes_on() -> None:
    queue = Together()

    def broken(_: Sequence[int]) -> list[int]:
        raise StoreError("the disk is full")

    found = at_once([lambda n=n: queue.save(n, broken) for n in range(6)])
    assert all(str(error) == "the disk is full" for error in found)
    assert queue.save(1, list) == 1


def test_united_rows_are_typed_by_field_whatever_they_came_as() -> None:
    as_float = pd.DataFrame([look("a", defective=2.0, temperature_c=160)])
    as_gap = pd.DataFrame([look("b", defective=pd.NA, temperature_c=None, note="x")])
    as_category = pd.DataFrame([look("c")]).astype({"press": "category"}).drop(columns="note")
    saves = [Save(looks=looks, findings=found, by="a", at_us=1, source=None, new_codes=None)
             for looks, found in ((as_float, NO_FINDINGS), (as_gap, findings_of(
                 (0, "scorch", None, 2, 1))), (as_category, NO_FINDINGS))]
    looks, findings, owner = united(saves)
    assert looks["defective"].dtype == "Int64"
    assert looks["defective"].isna().tolist() == [False, True, True]
    assert looks["temperature_c"].dtype == np.float64
    assert looks["note"].isna().tolist() == [True, False, True]
    assert looks["press"].tolist() == ["P1"] * 3
    assert findings[["row", "kind", "n"]].to_dict("records") == [
        {"row": 1, "kind": "scorch", "n": 1}]
    assert owner.tolist() == [0, 1, 2]


def test_a_save_of_no_rows_changes_nothing(store: Store) -> None:
    empty = pd.DataFrame([look("a")]).iloc[:0]
    added = add_inspections(store, empty, NO_FINDINGS, by="a", at_us=LOADED, source=None)
    assert added.n_loaded == 0
    assert store.change_number() == 0
