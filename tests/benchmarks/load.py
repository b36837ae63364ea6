"""Loading an inspections file, beside the plainest way to get the same rows into SQLite.

Ours reads, checks every field, judges sameness, writes looks, findings, tallies and the audit
row. The plain way is `pandas.read_csv` and one bare `executemany` into a table with the store's
own indexes, in a database set to the same durability. Wanted: at least 0.5 of its rows a second.
"""

from __future__ import annotations

import argparse
import sqlite3
import tempfile
from pathlib import Path

import pandas as pd

from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import open_shop
from tests.benchmarks.measuring import heading, say, side_by_side, verdict
from tests.benchmarks.rows import write_inspections

WANTED = 0.5
_LATER_US = 1_900_000_000_000_000


def _store_indexes(folder: Path) -> list[str]:
    """The columns of every index that the store keeps on its looks, its own keys included, but not
    one that holds corrected looks alone: a load makes none."""
    place = str(folder / "empty.db")
    open_shop(place, create=True).store.close()
    with sqlite3.connect(place) as database:
        kept = database.execute("PRAGMA index_list(inspections)").fetchall()
        names = [name for _, name, _, _, partial in kept if not partial]
        return [
            ", ".join(row[2] for row in database.execute(f"PRAGMA index_info({name})"))
            for name in names
        ]


def load_ours(file: Path, place: Path) -> None:
    shop = open_shop(str(place), create=True)
    request = LoadRequest(paths=(str(file),), new_codes=True)
    report = load_files(shop, request, by="benchmark", at_us=_LATER_US)
    shop.store.close()
    if report.exit_code != 0:
        raise RuntimeError(f"the file did not load whole: {report}")


def load_plain(file: Path, place: Path, indexes: list[str]) -> None:
    rows = pd.read_csv(file, keep_default_na=False)
    rows.insert(0, "revision", 1)
    for key in ("content", "identity", "number"):   # stand-ins of the same size and spread
        rows.insert(0, key, pd.util.hash_pandas_object(rows["piece_id"]).astype("int64"))
    rows["number"] = range(len(rows))
    database = sqlite3.connect(place)
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = FULL")
    columns = ", ".join(f'"{name}"' for name in rows.columns[1:])
    database.execute(f"CREATE TABLE inspections (number INTEGER PRIMARY KEY, {columns})")
    for index, names in enumerate(indexes):
        database.execute(f"CREATE INDEX i{index} ON inspections ({names})")
    marks = ", ".join("?" * len(rows.columns))
    with database:
        database.executemany(
            f"INSERT INTO inspections VALUES ({marks})",
            zip(*(rows[name].tolist() for name in rows.columns), strict=True),
        )
    database.close()


def measure(n_rows: int, n_turns: int) -> float:
    """Rows a second of ours as a share of the plain way's."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        file = write_inspections(folder / "inspections.csv", n_rows, seed=20260105)
        indexes = _store_indexes(folder)
        places = (folder / f"{number}.db" for number in range(2 * n_turns))
        figures = side_by_side(
            lambda: load_ours(file, next(places)),
            lambda: load_plain(file, next(places), indexes),
            n_turns=n_turns,
        )
    say(f"  {n_rows:,} rows; ours {figures.ours_s:.2f} s ({n_rows / figures.ours_s:,.0f} rows/s), "
        f"plain {figures.plain_s:.2f} s ({n_rows / figures.plain_s:,.0f} rows/s), "
        f"{n_turns} turns, indexes on {indexes}")
    return 1 / figures.ratio


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=200_000)
    parser.add_argument("--turns", type=int, default=3)
    wanted = parser.parse_args()
    heading("Loading beside read_csv and executemany", "tests.benchmarks.load")
    share = measure(wanted.rows, wanted.turns)
    return 0 if verdict("share of the plain way's rows a second", share, at_least=WANTED) else 1


if __name__ == "__main__":
    raise SystemExit(main())
