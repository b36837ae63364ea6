"""What must survive: a process killed at any moment, and many stations saving at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
import time
from pathlib import Path

from qc.errors import Conflict
from qc.store import Store, open_store
from qc.store.checking import check_store
from qc.store.corrections import correct_inspection, versions_of
from qc.store.inspections import read_looks
from qc.store.tallies import read_piece_tally
from tests.qc.store.made import LOADED, add, look

LATER = LOADED * 2
ROOT = Path(__file__).parents[3]
IDENTITY = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}


def start(code: str, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(code), *arguments], text=True, cwd=ROOT,
        stdout=subprocess.PIPE, env=os.environ | {"PYTHONPATH": str(ROOT)},
    )


def kill(process: subprocess.Popen[str]) -> None:
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert process.stdout is not None
    process.stdout.close()


def test_a_load_killed_before_its_end_leaves_nothing(store: Store, place: str) -> None:
    add(store, [look("a")])
    loading = start("""
        import sys, time
        import numpy as np
        from qc.store import audit, open_store
        from qc.store.inspections import add_inspections
        from tests.qc.store.made import LOADED, random_looks

        def hang(*_, **__):  # records and tallies are written; only the audit row is missing
            print("written", flush=True)
            time.sleep(600)

        audit.append = hang
        looks, findings = random_looks(20_000, np.random.default_rng(1))
        add_inspections(open_store(sys.argv[1]), looks, findings, by="x", at_us=LOADED, source=None,
                        new_codes={"presses": ["P9"]})
    """, place)
    assert loading.stdout is not None
    assert loading.stdout.readline() == "written\n"
    kill(loading)
    again = open_store(place)
    assert read_looks(again, as_of_us=LATER)["piece_id"].tolist() == ["a"]
    assert read_piece_tally(again)["n"].sum() == 1
    assert check_store(again) == []
    assert add(again, [look("b")]).n_loaded == 1  # and the store is free to go on
    again.close()


def test_what_was_acknowledged_before_a_kill_is_there(tmp_path: Path) -> None:
    place = str(tmp_path / "shop.db")
    open_store(place, create=True).close()
    for round_ in range(3):
        saving = start("""
            import sys
            from qc.store import open_store
            from tests.qc.store.made import add, look
            store = open_store(sys.argv[1])
            for at in range(100_000):
                add(store, [look(f"r{sys.argv[2]}-{at}")], new_codes=None)
                print(at, flush=True)
        """, place, str(round_))
        assert saving.stdout is not None
        saving.stdout.readline()
        time.sleep(0.2 + 0.13 * round_)
        saving.send_signal(signal.SIGKILL)
        told = 1 + len(saving.stdout.read().splitlines())
        kill(saving)
        again = open_store(place)
        pieces = read_looks(again, as_of_us=LATER)["piece_id"].astype(str)
        kept = int(pieces.str.startswith(f"r{round_}-").sum())
        assert told <= kept <= told + 1
        assert check_store(again) == []
        again.close()


def test_eight_stations_saving_at_once_lose_nothing(store: Store, place: str) -> None:
    add(store, [look("first")])
    failures: list[BaseException] = []

    def station(number: int) -> None:
        own = open_store(place)
        try:
            for at in range(15):
                add(own, [look(f"s{number}-{at}")], new_codes=None)
        except BaseException as error:
            failures.append(error)
        finally:
            own.close()

    threads = [threading.Thread(target=station, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert len(read_looks(store, as_of_us=LATER)) == 1 + 8 * 15
    assert read_piece_tally(store)["n"].sum() == 1 + 8 * 15
    assert store.change_number() == 1 + 8 * 15
    assert check_store(store) == []


def test_processes_saving_the_same_rows_keep_each_once(tmp_path: Path) -> None:
    place = str(tmp_path / "shop.db")
    code = """
        import sys
        from qc.store import open_store
        from tests.qc.store.made import add, look
        store = open_store(sys.argv[1], create=True)  # also the first to come makes the store
        for at in range(20):
            add(store, [look(f"p{at}")])
    """
    running = [start(code, place) for _ in range(4)]
    assert [process.wait() for process in running] == [0] * 4
    for process in running:
        assert process.stdout is not None
        process.stdout.close()
    done = open_store(place)
    assert len(read_looks(done, as_of_us=LATER)) == 20
    assert check_store(done) == []
    done.close()


def test_of_two_people_correcting_one_record_one_is_told(store: Store) -> None:
    add(store, [look("a")])
    outcomes: list[str] = []
    together = threading.Barrier(2)

    def person(name: str) -> None:
        together.wait()
        try:
            correct_inspection(store, identity=IDENTITY, changes={"note": name}, findings=None,
                               why="seen", by=name, at_us=LATER, seen_version=1)
            outcomes.append("kept")
        except Conflict:
            outcomes.append("told")

    threads = [threading.Thread(target=person, args=(name,)) for name in ("ann", "bo")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["kept", "told"]
    assert len(versions_of(store, IDENTITY)) == 2
    assert check_store(store) == []
