"""How often planted faults are flagged, and how often nothing is flagged that is not there.

    python -m tests.benchmarks.planted [--shops 20] [--kinds drifting_platen,...] [--seed 1]

For each kind of fault of `demo_data.shops.RANDOM_FAULTS`, and for shops without one, random shops
are made, loaded through `qc load`'s own door and scanned as of their end. Printed: shops in
which the fault was flagged, with the right factor and level first, the median delay in days,
how often the 90 % interval held the true start, and the false flags a week.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from demo_data.shop import SimulatedShop, simulate
from demo_data.shops import RANDOM_FAULTS, random_spec
from demo_data.truth import Planted
from qc.desk.flags import current_flags
from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import change_setting, open_shop
from qc.domain.flags import Flag
from qc.domain.instants import DAY_US

WEEK_US = 7 * DAY_US


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    flagged: bool
    right: bool
    delay_days: float | None
    held: bool
    n_false: int
    weeks: float


def flags_of(shop: SimulatedShop) -> tuple[Flag, ...]:
    """Load the shop's files into a new store and scan it as of its end."""
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for kind, frame in shop.frames.items():
            path = Path(folder) / f"{kind}.csv"
            frame.to_csv(path, index=False)
            paths.append(str(path))
        store = open_shop(f"{folder}/shop.db", create=True)
        for name, value in shop.settings.items():
            store = change_setting(store, name=name, value=value, by="bench", at_us=shop.end_us)
        load_files(store, LoadRequest(paths=tuple(paths)), by="bench", at_us=shop.end_us)
        found = current_flags(store, as_of_us=shop.end_us).flags
        store.store.close()
        return found


def concerns(flag: Flag, fault: Planted) -> bool:
    """Is this flag about what the fault shows in, while it lasts?"""
    said = {flag.characteristic, *flag.also}
    overlaps = flag.ended_at_us is None or flag.ended_at_us >= fault.start_us
    return bool(said & set(fault.shows_in)) and overlaps


def names(flag: Flag, fault: Planted) -> bool:
    return (flag.factor.name, flag.factor.level) == (fault.factor, fault.level)


def judged(shop: SimulatedShop) -> Result:
    """Hold the flags of a shop against its truth."""
    flags = flags_of(shop)
    faults = [fault for fault in shop.truth if fault.expect_flag]
    right = [flag for flag in flags for fault in faults if names(flag, fault)
             and concerns(flag, fault)]
    about = [flag for flag in flags for fault in faults if concerns(flag, fault)
             and flag.signalled_at_us >= fault.start_us]
    first = min(right, key=lambda flag: flag.signalled_at_us, default=None)
    start = faults[0].start_us if faults else 0
    return Result(
        flagged=bool(right or about), right=bool(right),
        delay_days=None if first is None else (first.signalled_at_us - start) / DAY_US,
        held=first is not None
        and first.changed_between_us[0] <= start <= first.changed_between_us[1],
        n_false=len([flag for flag in flags if flag not in right]),
        weeks=(shop.end_us - shop.start_us) / WEEK_US,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=20)
    parser.add_argument("--kinds", default="," + ",".join(RANDOM_FAULTS))
    parser.add_argument("--seed", type=int, default=1)
    wanted = parser.parse_args()
    print(f"{'fault':24}{'shops':>6}{'flagged':>9}{'right':>7}{'delay d':>9}{'held':>6}"
          f"{'false/week':>12}")
    for kind in wanted.kinds.split(","):
        results = []
        for number in range(wanted.shops):
            seed = wanted.seed * 1000 + number
            spec = random_spec(np.random.default_rng(seed), fault=kind)
            results.append(judged(simulate(spec, seed)))
            sys.stderr.write(f"\r{kind or 'no fault'} {number + 1}/{wanted.shops} ")
        _show(kind or "no fault", results)


def _show(kind: str, results: list[Result]) -> None:
    delays = [r.delay_days for r in results if r.delay_days is not None]
    delay = f"{np.median(delays):.1f}" if delays else "-"
    weeks = sum(r.weeks for r in results)
    print(f"\r{kind:24}{len(results):6}{sum(r.flagged for r in results):9}"
          f"{sum(r.right for r in results):7}{delay:>9}{sum(r.held for r in results):6}"
          f"{sum(r.n_false for r in results) / weeks:12.2f}", flush=True)


if __name__ == "__main__":
    main()
