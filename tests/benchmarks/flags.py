"""`qc flags` in seconds on the demo shop, and on growing shops beside pandas group-bys.

The plain way is, for each family of streams (a factor, or its zones), one group-by of the pieces by
level and day, one of the defects by level, day and kind, and of what is measured its mean and
spread, over the same columns already in memory. Ours counts the pieces once and goes the whole way
from frames to flags. Reading the store is timed by itself. Wanted: the demo shop within 10 s; on a
million pieces at most ten times the group-bys and 1.5 GB. Then what the flags cost a program that
stays open when some looks have come in, beside a scan from the beginning. Last, what one more slot
costs after little and after much history.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from demo_data import demo_shop
from demo_data.building import build_store
from qc.desk import evidence
from qc.desk.flags import current_flags
from qc.desk.loading import LoadRequest, load_files
from qc.desk.scanning import scanned
from qc.desk.shop import Shop, open_shop
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import PIECE_FACTORS, gather
from qc.monitor.factors import ZONED_FACTORS
from qc.monitor.numbering import Reader
from qc.monitor.readings import CHARACTERISTICS, FACTORS_OF
from qc.monitor.replay import Watch
from qc.monitor.scan import scan
from qc.monitor.slots import SlotFeed
from qc.store.inspections import read_findings, read_looks
from tests.benchmarks.measuring import heading, say, seconds, side_by_side, verdict
from tests.benchmarks.rows import DAYS, START, inspection_rows, write_inspections

WANTED_S = 10.0
WANTED_RATIO = 10.0
WANTED_UPDATE = 1 / 3
WANTED_GROWTH = 2.0
WANTED_MB = 1500.0
FAMILIES = tuple(name for name in PIECE_FACTORS if name in evidence.LOOK_COLUMNS)
_LATER_US = 1_900_000_000_000_000
_SEED = 20260105


def load(folder: Path, files: list[str]) -> Shop:
    """A shop of its own with these files in it."""
    shop = open_shop(str(folder / "shop.db"), create=True)
    add(shop, files)
    return shop


def add(shop: Shop, files: list[str]) -> None:
    """Load files into a shop."""
    request = LoadRequest(paths=tuple(files), new_codes=True)
    report = load_files(shop, request, by="benchmark", at_us=_LATER_US)
    if report.exit_code > 1:
        raise RuntimeError(f"the files did not load: {report}")


def group_bys(looks: pd.DataFrame, findings: pd.DataFrame) -> int:
    """Pieces by level and day, defects by level, day and kind, and means and spreads of what is
    measured by level and day, for each family that is watched: a factor, the shop as a whole, and
    the zones of a press and a station; how many groups."""
    wide = findings.join(looks[[*FAMILIES, "pressed_at"]], on="look")
    day, fault_day = (frame["pressed_at"].to_numpy() // DAY_US for frame in (looks, wide))
    n_groups = len(looks.groupby(day)["pieces"].sum())
    n_groups += len(wide.groupby([fault_day, "kind"], observed=True)["n"].sum())
    for name in FAMILIES:
        n_groups += len(looks.groupby([name, day], observed=True)["pieces"].sum())
        keys = [name, fault_day, "kind"]
        n_groups += len(wide.groupby(keys, observed=True)["n"].sum())
        if name in ZONED_FACTORS:
            n_groups += len(wide.groupby([*keys, "zone"], observed=True)["n"].sum())
    for kind, factors in FACTORS_OF.items():
        columns = [c.name for c in CHARACTERISTICS
                   if c.kind == kind and looks[c.name].notna().any()]
        for name in factors if columns else ():
            if name in FAMILIES:
                by_level = looks.groupby([name, day], observed=True)[columns]
                n_groups += len(by_level.mean()) + len(by_level.std())
    return n_groups


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


def command_mb(store: str) -> float:
    """Peak memory of `qc flags` on a store, a process of its own."""
    command = [sys.executable, "-c", "from qc.cli import main; main()", "flags", "--json"]
    subprocess.run([*command, "--store", store], check=True, stdout=subprocess.DEVNULL)
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def measure_shop(n_rows: int, n_turns: int) -> tuple[float, float]:
    """Ratio of frames to flags over the group-bys, and peak MB, on a shop of so many rows."""
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
        memory_mb = command_mb(shop.store.location)
        shop.store.close()
    say(f"  {n_rows:,} rows: `qc flags` peaks at {memory_mb:.0f} MB; read {read_s:.2f} s; "
        f"frames to flags {figures.ours_s:.2f} s, group-bys {figures.plain_s:.3f} s, "
        f"ratio {figures.ratio:.1f}")
    return figures.ratio, memory_mb


def measure_update(n_rows: int) -> float:
    """Seconds until new looks are in the flags over those of a scan from the beginning."""
    with tempfile.TemporaryDirectory() as made:
        folder, rng = Path(made), np.random.default_rng(_SEED)
        shop = load(folder, [str(write_inspections(folder / "i.csv", n_rows, seed=_SEED))])
        took = []
        for turn in range(5):
            end = pd.Timestamp(START, tz="UTC") + pd.Timedelta(days=DAYS, hours=turn)
            took.append(seconds(lambda at_us=end.value // 1000: scanned(shop, at_us)))
            new = inspection_rows(20, rng).assign(
                pressed_at=end.isoformat(), inspected_at=end.isoformat())
            new["piece_id"] = f"new{turn}-" + new["piece_id"]
            new.to_csv(folder / "new.csv", index=False)
            add(shop, [str(folder / "new.csv")])
        shop.store.close()
    fresh, update = took[0], float(np.median(took[2:]))
    say(f"  {n_rows:,} rows: new looks are in the flags after {update:.2f} s, a scan from the "
        f"beginning takes {fresh:.2f} s")
    return update / fresh


def measure_slots(n_rows: int) -> float:
    """Cost of a slot at the end of a history over that near its beginning, refits included."""
    looks = inspection_looks(n_rows)
    evidence = gather(count_once(*looks))
    watch = Watch(evidence.kinds, AlarmBudget(false_flags_per_week=0.25))
    feed, reader = SlotFeed(evidence), Reader(evidence, watch.state.numbers)
    took = []
    for slot in feed.slots:
        entries = feed.entries(int(slot))
        took.append(seconds(lambda e=entries: watch.take_in(e, reader)))
    early, late = (float(np.sum(part)) for part in (took[120:200], took[-80:]))
    say(f"  a slot of {n_rows // len(took):,} pieces: {1e3 * early / 80:.1f} ms after 120 slots, "
        f"{1e3 * late / 80:.1f} ms after {len(took) - 80}")
    return late / early


def inspection_looks(n_rows: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Looks and findings as the store gives them."""
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        shop = load(folder, [str(write_inspections(folder / "i.csv", n_rows, seed=_SEED))])
        looks = read_looks(shop.store, as_of_us=_LATER_US, columns=list(evidence.LOOK_COLUMNS))
        findings = read_findings(shop.store, as_of_us=_LATER_US)
        shop.store.close()
    return looks, findings


def _flags_of(shop: Shop, looks: pd.DataFrame, findings: pd.DataFrame) -> object:
    counted = count_once(looks, findings)
    arrays = gather(counted)
    measured = evidence.measurements_of(shop, counted, arrays, as_of_us=_LATER_US)
    budget = AlarmBudget(false_flags_per_week=0.25)
    return scan(arrays, measured, (), budget, as_of_us=_LATER_US, zone=shop.zone)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, nargs="*", default=[100_000, 1_000_000])
    parser.add_argument("--turns", type=int, default=3)
    wanted = parser.parse_args()
    heading("Flags beside group-bys", "tests.benchmarks.flags")
    took = measure_demo()
    shops = [measure_shop(n_rows, wanted.turns) for n_rows in wanted.rows]
    updates = [measure_update(n_rows) for n_rows in wanted.rows]
    growth = measure_slots(wanted.rows[0])
    passed = [
        verdict("seconds on the demo shop", took, at_most=WANTED_S),
        verdict("times the group-bys, largest shop", shops[-1][0], at_most=WANTED_RATIO),
        verdict("new looks over a scan from the beginning, largest shop", updates[-1],
                at_most=WANTED_UPDATE),
        verdict("a late slot over an early one", growth, at_most=WANTED_GROWTH),
        verdict("peak MB of qc flags, largest shop", shops[-1][1], at_most=WANTED_MB),
    ]
    return 0 if all(passed) else 1


if __name__ == "__main__":
    raise SystemExit(main())
