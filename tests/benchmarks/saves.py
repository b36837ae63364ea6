"""Twenty stations saving one look each at the same moment, beside twenty bare commits.

Ours is what the bench page asks for: a look judged against what is stored, written with its
findings, tallies and audit row, acknowledged when it is on the disk. The bare way is one INSERT of
one row and its COMMIT, in a database with the same pragmas, twenty threads at once with a
connection each, waiting for each other as SQLite makes them wait. Both in turns, without HTTP; the
figure is the median time of a save over that of a bare commit. Wanted: at most 3.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from qc.desk.shop import open_shop
from qc.store import Store
from qc.store.checking import check_store
from qc.store.connection import PRAGMAS
from qc.store.inspections import add_inspections
from tests.benchmarks.measuring import heading, say, verdict
from tests.qc.store.made import CODES, T0, findings_of, look, random_looks

WANTED = 3.0
STATIONS = 20
HISTORY = 20_000
_LATER_US = T0 + 10**12


def all_at_once(jobs: list[Callable[[], object]]) -> list[float]:
    """Seconds each job took, all begun at the same moment, a thread each."""
    taken, start = [0.0] * len(jobs), threading.Barrier(len(jobs))

    def work(number: int) -> None:
        start.wait()
        begun = time.perf_counter()
        jobs[number]()
        taken[number] = time.perf_counter() - begun

    threads = [threading.Thread(target=work, args=(number,)) for number in range(len(jobs))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return taken


def save_one(store: Store, number: int) -> None:
    """One look of a bench; every tenth with a finding. It must be acknowledged as loaded."""
    found = findings_of(*([(0, "scorch", "top", 2.5, 1)] if number % 10 == 0 else []))
    row = look(f"bench-{number}", pressed_at=T0 + number, inspected_at=T0 + number + 60_000_000)
    added = add_inspections(store, pd.DataFrame([row]), found, by=f"station {number % STATIONS}",
                            at_us=_LATER_US + number, source=None)
    if added.n_loaded != 1:
        raise RuntimeError(f"look {number} was not saved")


def bare_connections(place: Path) -> list[sqlite3.Connection]:
    connections = []
    for _ in range(STATIONS):
        connection = sqlite3.connect(place, isolation_level=None, check_same_thread=False)
        for pragma in PRAGMAS:
            connection.execute(pragma)
        connections.append(connection)
    connections[0].execute("CREATE TABLE bare (number INTEGER PRIMARY KEY, said TEXT)")
    return connections


def commit_one(connection: sqlite3.Connection) -> None:
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("INSERT INTO bare (said) VALUES (?)", ("x" * 300,))
    connection.execute("COMMIT")


def measure(n_rounds: int, n_history: int = HISTORY) -> float:
    """Median seconds of our save over the median of a bare commit."""
    ours: list[float] = []
    bare: list[float] = []
    alone: list[float] = []
    with tempfile.TemporaryDirectory() as made:
        shop = open_shop(str(Path(made) / "shop.db"), create=True)
        looks, findings = random_looks(n_history, np.random.default_rng(1))
        add_inspections(shop.store, looks, findings, by="benchmark", at_us=_LATER_US, source=None,
                        new_codes=CODES)
        connections = bare_connections(Path(made) / "bare.db")
        numbers = iter(range(10**9))

        def one() -> Callable[[], object]:
            number = next(numbers)
            return lambda: save_one(shop.store, number)

        all_at_once([one() for _ in range(STATIONS)])  # the first round opens connections
        for _ in range(n_rounds):
            bare += all_at_once([lambda c=c: commit_one(c) for c in connections])
            ours += all_at_once([one() for _ in range(STATIONS)])
            alone += all_at_once([one()])
        faults = check_store(shop.store)
        shop.store.close()
        for connection in connections:
            connection.close()
    if faults:
        raise RuntimeError(f"the store is not sound afterwards: {faults}")
    ms = {name: 1000 * statistics.median(taken)
          for name, taken in (("ours", ours), ("bare", bare), ("alone", alone))}
    say(f"  {STATIONS} at once, {n_rounds} rounds, medians: ours {ms['ours']:.1f} ms (slowest "
        f"{1000 * max(ours):.0f}), bare {ms['bare']:.1f} ms (slowest {1000 * max(bare):.0f}); "
        f"one station alone {ms['alone']:.1f} ms")
    return ms["ours"] / ms["bare"]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=30)
    wanted = parser.parse_args()
    heading("Twenty saves at once beside twenty bare commits", "tests.benchmarks.saves")
    ratio = measure(wanted.rounds)
    return 0 if verdict("times a bare commit", ratio, at_most=WANTED) else 1


if __name__ == "__main__":
    raise SystemExit(main())
