"""`qc flags` in seconds on the demo shop, and on growing shops beside pandas group-bys.

The plain way is, for each family of streams (a factor), one group-by of the pieces by level and
day and one of the defects by level, day and kind, over the same columns already in memory. Ours
counts the pieces once and goes the whole way from frames to flags. Reading the store is timed by
itself. Wanted: the demo shop within 10 s.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

import pandas as pd

from demo_data import demo_shop
from demo_data.building import build_store
from qc.desk import evidence
from qc.desk.flags import current_flags
from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import Shop, open_shop
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import PIECE_FACTORS, gather
from qc.monitor.scan import scan
from qc.store.inspections import read_findings, read_looks
from tests.benchmarks.measuring import heading, say, seconds, side_by_side, verdict
from tests.benchmarks.rows import write_inspections

WANTED_S = 10.0
FAMILIES = tuple(name for name in PIECE_FACTORS if name in evidence.LOOK_COLUMNS)
_LATER_US = 1_900_000_000_000_000
_SEED = 20260105


def load(folder: Path, files: list[str]) -> Shop:
    """A shop of its own with these files in it."""
    shop = open_shop(str(folder / "shop.db"), create=True)
    request = LoadRequest(paths=tuple(files), new_codes=True)
    report = load_files(shop, request, by="benchmark", at_us=_LATER_US)
    if report.exit_code > 1:
        raise RuntimeError(f"the files did not load: {report}")
    return shop


def group_bys(looks: pd.DataFrame, findings: pd.DataFrame) -> int:
    """Pieces by level and day, defects by level, day and kind, for each family; how many groups."""
    wide = findings.join(looks[[*FAMILIES, "pressed_at"]], on="look")
    day, fault_day = (frame["pressed_at"].to_numpy() // DAY_US for frame in (looks, wide))
    return sum(
        len(looks.groupby([name, day], observed=True)["pieces"].sum())
        + len(wide.groupby([name, fault_day, "kind"], observed=True)["n"].sum())
        for name in FAMILIES
    )


def measure_demo() -> float:
    """Seconds that `qc flags` takes on the demo shop, after its imports."""
    with tempfile.TemporaryDirectory() as made:
        demo, place = demo_shop(), Path(made) / "demo.db"
        build_store(demo, place, by="benchmark")
        shop = open_shop(str(place))
        begun_cpu = time.process_time()
        took = seconds(lambda: current_flags(shop, as_of_us=demo.end_us))
        cpu_s = time.process_time() - begun_cpu
        found = current_flags(shop, as_of_us=demo.end_us)
        shop.store.close()
    say(f"  demo shop: {found.n_pieces:,} pieces, {found.n_streams} streams, "
        f"{len(found.flags)} flags in {took:.2f} s ({cpu_s:.2f} s of processor time)")
    return took


def measure_shop(n_rows: int, n_turns: int) -> float:
    """Ratio of frames to flags over the group-bys, on a shop of so many rows."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        shop = load(folder, [str(write_inspections(folder / "i.csv", n_rows, seed=_SEED))])
        start = time.perf_counter()
        looks = read_looks(shop.store, as_of_us=_LATER_US, columns=list(evidence.LOOK_COLUMNS))
        findings = read_findings(shop.store, as_of_us=_LATER_US)
        read_s = time.perf_counter() - start
        figures = side_by_side(
            lambda: _flags_of(shop, looks, findings), lambda: group_bys(looks, findings),
            n_turns=n_turns,
        )
        shop.store.close()
    say(f"  {n_rows:,} rows: read {read_s:.2f} s; frames to flags {figures.ours_s:.2f} s, "
        f"group-bys {figures.plain_s:.3f} s, ratio {figures.ratio:.1f}")
    return figures.ratio


def _flags_of(shop: Shop, looks: pd.DataFrame, findings: pd.DataFrame) -> object:
    counted = count_once(looks, findings)
    arrays = gather(counted)
    measured = evidence.measurements_of(shop, counted, arrays, as_of_us=_LATER_US)
    budget = AlarmBudget(false_flags_per_week=0.25)
    return scan(arrays, measured, (), budget, as_of_us=_LATER_US, zone=shop.zone)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="*", default=[30_000, 100_000, 300_000])
    parser.add_argument("--turns", type=int, default=3)
    wanted = parser.parse_args()
    heading("Flags beside group-bys", "tests.benchmarks.flags")
    took = measure_demo()
    for n_rows in wanted.rows:
        measure_shop(n_rows, wanted.turns)
    return 0 if verdict("seconds on the demo shop", took, at_most=WANTED_S) else 1


if __name__ == "__main__":
    raise SystemExit(main())
