"""Measured streams: how often a planted shift is found, and how often one that is not there.

    python -m tests.benchmarks.measured [--shops 200] [--kinds operator:dx+dy,...] [--years 20]

Invented shops of the size of a small one (75 days, 20,000 pieces, five placements an hour at each
press, settings of every piece) are simulated straight as readings. Printed for each kind of shift:
found, right factor and level first of those, the start inside its 90 % interval, the size inside
its 95 % interval, days until the signal, and flags about anything else. Then honest shops over
many years: false flags a week beside the part of the alarm budget that measured streams may spend.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import chi2

from qc.domain.instants import DAY_US
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import Evidence
from qc.monitor.findings import Finding
from qc.monitor.measured import MEASURED_SHARE
from qc.monitor.measured_findings import N_GROUPS, measured_findings
from qc.monitor.readings import streams_together
from qc.stats.comparing.intervals import wilson_interval
from tests.benchmarks.measuring import heading, say
from tests.qc.monitor.measured_shop import (
    PLACEMENT,
    WITHIN,
    MeasuredShop,
    evidence_of,
    measured,
    measurements,
)

BUDGET = AlarmBudget(false_flags_per_week=0.25)
SETTINGS = ("temperature_c", "dwell_s", "pressure_kpa")
FOREVER = 2**62


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """A shift to plant: how far each characteristic moves, at one level of a factor."""

    factor: str
    moves: dict[str, float]
    days: float | None = None


def _two_sigma(*names: str) -> dict[str, float]:
    """Two sigmas of a single piece in all, shared out over the directions."""
    each = 2.0 / np.sqrt(len(names))
    return {name: each * WITHIN[name] * np.sqrt(1.25) for name in names}


PLANTS = {
    "operator:dx": Plant(factor="operator", moves=_two_sigma("dx_mm")),
    "operator:dx+dy": Plant(factor="operator", moves=_two_sigma("dx_mm", "dy_mm")),
    "press:dy": Plant(factor="press", moves=_two_sigma("dy_mm")),
    "press:rotation": Plant(factor="press", moves=_two_sigma("rotation_deg")),
    "location:dy": Plant(factor="location", moves=_two_sigma("dy_mm")),
    "size:dy": Plant(factor="size", moves=_two_sigma("dy_mm")),
    "shop:dx": Plant(factor="shop", moves=_two_sigma("dx_mm")),
    "episode:dx": Plant(factor="operator", moves=_two_sigma("dx_mm"), days=12),
    "press:dwell": Plant(factor="press", moves={"dwell_s": -3.0}),
    "operator:dwell": Plant(factor="operator", moves={"dwell_s": -3.0}),
    "press:temperature": Plant(factor="press", moves={"temperature_c": -5.0}),
    "operator:temperature": Plant(factor="operator", moves={"temperature_c": -5.0}),
    "press:pressure": Plant(factor="press", moves={"pressure_kpa": -60.0}),
    "fabric:temperature": Plant(factor="fabric", moves={"temperature_c": 5.0}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    found: bool
    right: bool
    start_held: bool
    size_held: bool
    end_near: bool
    delay_days: float
    n_other: int
    said: str


def judged(plant: Plant, shop: MeasuredShop, seed: int) -> Outcome:
    """One shop with the shift, held against the truth."""
    rng = np.random.default_rng(seed)
    names = PLACEMENT if next(iter(plant.moves)) in PLACEMENT else SETTINGS
    shop = replace(shop, every_piece=names is SETTINGS)
    evidence = evidence_of(shop, rng)
    values = measured(evidence, names, shop, rng)
    level, start, end, mask = _where(plant, evidence, rng)
    for name, amount in plant.moves.items():
        values[name][mask] += amount
    found = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
    about = [
        f for f in found
        if {f.characteristic, *f.also} & set(plant.moves) and f.signalled_at_us >= start
        and (f.ended_at_us is None or f.ended_at_us >= start)
    ]
    right = [f for f in about if (f.factor.name, f.factor.level) == (plant.factor, level)]
    best = min(right, key=lambda f: f.signalled_at_us, default=None)
    end_near = best is not None and plant.days is not None and best.ended_at_us is not None \
        and abs(best.ended_at_us - end) <= 3 * DAY_US
    return Outcome(
        found=bool(about), right=bool(right), n_other=len(found) - len(right[:1]),
        start_held=best is not None and best.low_us <= start <= best.high_us,
        size_held=best is not None and _size_held(best, plant), end_near=end_near,
        delay_days=(min(f.signalled_at_us for f in about) - start) / DAY_US if about else np.nan,
        said="; ".join(f"{f.factor.name}={f.factor.level} {f.characteristic}" for f in found),
    )


def _where(
    plant: Plant, evidence: Evidence, rng: np.random.Generator
) -> tuple[str | None, int, int, np.ndarray]:
    coded = evidence.factors[plant.factor]
    level = int(rng.integers(0, len(coded.levels)))
    first, last = int(evidence.pressed_us.min()), int(evidence.pressed_us.max())
    start = first + int(rng.uniform(0.40, 0.55) * (last - first))
    end = 2**62 if plant.days is None else start + int(plant.days * DAY_US)
    mask = (coded.codes == level) & (evidence.pressed_us >= start) & (evidence.pressed_us < end)
    name = None if plant.factor == "shop" else coded.levels[level]
    return name, start, end, mask


def _size_held(finding: Finding, plant: Plant) -> bool:
    said = {name: (low, high) for name, _, low, high in finding.shift}
    return all(
        name in said and said[name][0] <= amount <= said[name][1]
        for name, amount in plant.moves.items()
    )


def _power(kind: str, n_shops: int, shop: MeasuredShop, seed: int, *, loud: bool) -> None:
    outcomes = []
    for number in range(n_shops):
        outcomes.append(judged(PLANTS[kind], shop, seed * 10_000 + number))
        sys.stderr.write(f"\r{kind} {number + 1}/{n_shops} ")
        if loud and not (outcomes[-1].right and outcomes[-1].n_other == 0):
            say(f"  {number}: {outcomes[-1].said}")
    found = [o for o in outcomes if o.found]
    right = [o for o in found if o.right]
    low = wilson_interval(len(found), len(outcomes)).low
    held = sum(o.start_held for o in right) / max(len(right), 1)
    size = sum(o.size_held for o in right) / max(len(right), 1)
    delay = float(np.median([o.delay_days for o in found])) if found else np.nan
    ended = sum(o.end_near for o in right) / max(len(right), 1)
    sys.stderr.write("\r")
    say(f"{kind:22}{len(found) / len(outcomes):8.3f}{low:8.3f}"
        f"{len(right) / max(len(found), 1):8.3f}{held:8.3f}{size:8.3f}{delay:8.2f}{ended:8.2f}"
        f"{sum(o.n_other for o in outcomes) / len(outcomes):8.3f}")


def _honest(years: int, shop: MeasuredShop, seed: int) -> None:
    """False flags of shops without a fault, a quarter of a year at a time.

    A shop has settings or placement; its weeks count by the part of the groups it has.
    """
    weeks, n_flags = 0.0, 0
    for number in range(years * 4):
        rng = np.random.default_rng(seed * 10_000 + 5000 + number)
        one = replace(shop, days=91, every_piece=number % 2 == 0)
        evidence = evidence_of(one, rng)
        names = SETTINGS if one.every_piece else PLACEMENT
        values = measured(evidence, names, one, rng)
        found = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
        groups = len(streams_together(measurements(values)))
        weeks, n_flags = weeks + 13 * groups / N_GROUPS, n_flags + len(found)
        for f in found:
            say(f"  {number}: {f.factor.name}={f.factor.level} {f.shift}")
        sys.stderr.write(f"\rhonest {number + 1}/{years * 4} ")
    sys.stderr.write("\r")
    high = float(chi2.ppf(0.975, 2 * (n_flags + 1))) / 2 / weeks  # Garwood (1936)
    say(f"no fault, {weeks:.0f} weeks of all measured streams: {n_flags / weeks:.4f} false flags "
        f"a week, at most {high:.4f}; may spend {BUDGET.false_flags_per_week * MEASURED_SHARE:.4f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=200)
    parser.add_argument("--kinds", default=",".join(PLANTS))
    parser.add_argument("--years", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--slips", type=float, default=0.0)
    parser.add_argument("--tails", type=float, default=None)
    parser.add_argument("--levels", type=float, default=0.0)
    parser.add_argument("--loud", action="store_true")
    wanted = parser.parse_args()
    heading("Measured streams", "tests.benchmarks.measured")
    shop = MeasuredShop(slips=wanted.slips, tails=wanted.tails, level_sd=wanted.levels)
    say(f"{'shift':22}{'found':>8}{'(low)':>8}{'right':>8}{'start':>8}{'size':>8}{'days':>8}"
        f"{'ended':>8}{'others':>8}")
    for kind in filter(None, wanted.kinds.split(",")):
        _power(kind, wanted.shops, shop, wanted.seed, loud=wanted.loud)
    if wanted.years:
        _honest(wanted.years, shop, wanted.seed)


if __name__ == "__main__":
    main()
