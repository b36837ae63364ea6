"""Pages of looks, and their count, in a large store beside a small one: they must not slow down.

Both stores hold looks made by the database itself, in order of time. Each question is asked of both
in turns. Wanted: at most 1.3 times as long in the large one, for the usual questions.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
from collections.abc import Callable
from pathlib import Path

from qc.desk.looks import COUNT_S, LooksAsked, look_page, looks_counted
from qc.desk.shop import Shop, open_shop
from tests.benchmarks.measuring import heading, say, side_by_side, verdict

WANTED = 1.3
FAR_US = 10**16
STEP = 500_000
_LOOKS = """
WITH RECURSIVE k(i) AS (SELECT :first UNION ALL SELECT i + 1 FROM k WHERE i < :last)
INSERT INTO inspections (number, identity, content, revision, changed_at, changed_by, piece_id,
  attempt, inspected_at, pressed_at, stage, press, fabric, transfer, location, size, job,
  garment_lot, transfer_lot, operator, temperature_c, dwell_s, disposition, pieces)
SELECT i, i * 1024 + 9, i, 1, 1700000000000000, 'load', 'P-' || i, 1,
  1600000300000000 + i * 20000000, 1600000000000000 + i * 20000000, 'final', 'press-' || (i % 9),
  'fabric-' || (i % 7), 'transfer-' || (i % 5), CASE i % 3 WHEN 0 THEN 'chest' ELSE 'back' END,
  CASE i % 4 WHEN 0 THEN 'S' ELSE 'M' END, 'J-' || (i / 240), 'G-' || (i / 1700),
  'L-' || (i / 3100), 'person-' || (i * 7919 % 11), 150.0, 12.0, 'pass', 1 FROM k"""
_FINDINGS = """
INSERT INTO findings (look, position, kind, zone, n)
SELECT number, 1, CASE WHEN number % 66 = 0 THEN 'scorch' ELSE 'lifted_edge' END,
  CASE number % 2 WHEN 0 THEN 'top_left' END, 1
FROM inspections WHERE number BETWEEN :first AND :last AND number % 33 = 0"""


def filled(place: Path, n_looks: int) -> Shop:
    """A store of so many looks."""
    open_shop(str(place), create=True).store.close()
    database = sqlite3.connect(place)
    database.execute("PRAGMA synchronous = OFF")
    for first in range(1, n_looks + 1, STEP):
        part = {"first": first, "last": min(n_looks, first + STEP - 1)}
        database.execute(_LOOKS, part)
        database.execute(_FINDINGS, part)
        database.commit()
    database.close()
    return open_shop(str(place))


def questions(n_looks: int) -> dict[str, tuple[LooksAsked, int]]:
    """What is asked, and from which row on."""
    half = n_looks // 2
    return {
        "newest looks": (LooksAsked(), 0), "row 9,900": (LooksAsked(), 9_900),
        "oldest first": (LooksAsked(newest_first=False), 0),
        "one press": (LooksAsked(levels=(("press", "press-3"),)), 0),
        "one job": (LooksAsked(levels=(("job", f"J-{half // 240}"),)), 0),
        "one lot": (LooksAsked(levels=(("transfer_lot", f"L-{half // 3100}"),)), 0),
        "one piece": (LooksAsked(levels=(("piece", f"P-{half}"),)), 0),
        "any defect": (LooksAsked(levels=(("defect", "any"),)), 0),
        "a kind at a place": (LooksAsked(levels=(("defect", "scorch"), ("zone", "top_left"))), 0),
        "a person's shift": (LooksAsked(levels=(("operator", "person-4"), ("shift", "14:00"))), 0),
    }


def measure(large: Shop, small: Shop, sizes: tuple[int, int], n_turns: int) -> list[float]:
    """Time in the large store over that in the small one, by question."""
    ratios = []
    few = questions(sizes[1])
    for name, (asked, start) in questions(sizes[0]).items():
        other, _ = few[name]
        figures = side_by_side(_page(large, asked, start), _page(small, other, start),
                               n_turns=n_turns)
        counts = side_by_side(_count(large, asked), _count(small, other), n_turns=n_turns)
        ratios.append(figures.ratio)
        say(f"  {name:18} page {1000 * figures.ours_s:6.1f} ms, {figures.ratio:5.2f} times;"
            f" count {1000 * counts.ours_s:6.1f} ms, {counts.ratio:5.2f} times")
    return ratios


def _page(shop: Shop, asked: LooksAsked, start: int) -> Callable[[], object]:
    return lambda: look_page(shop, asked, as_of_us=FAR_US, start=start, n=100)


def _count(shop: Shop, asked: LooksAsked) -> Callable[[], object]:
    return lambda: looks_counted(shop, asked, as_of_us=FAR_US)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--looks", type=int, default=10_000_000)
    parser.add_argument("--small", type=int, default=100_000)
    parser.add_argument("--turns", type=int, default=9)
    wanted = parser.parse_args()
    heading("Pages of looks in a large store beside a small one", "tests.benchmarks.looks")
    with tempfile.TemporaryDirectory() as made:
        large, small = (filled(Path(made) / f"{n}.db", n) for n in (wanted.looks, wanted.small))
        say(f"  {wanted.looks:,} looks beside {wanted.small:,}; counting stops after {COUNT_S} s")
        ratios = measure(large, small, (wanted.looks, wanted.small), wanted.turns)
        large.store.close()
        small.store.close()
    median = statistics.median(ratios)
    say(f"  the slowest question: {max(ratios):.2f} times")
    return 0 if verdict("times the small store, median of questions", median,
                        at_most=WANTED) else 1


if __name__ == "__main__":
    raise SystemExit(main())
