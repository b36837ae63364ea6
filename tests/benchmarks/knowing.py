"""What a watcher who knows more than anybody can would spend to flag the planted faults.

    python -m tests.benchmarks.knowing --out knowing.jsonl [--shops 200] [--seed 1] [--workers 2]
    python -m tests.benchmarks.knowing --table knowing.jsonl --planted planted.jsonl [more ...]

Of every look this watcher knows how hard the work was, and of every shop how much jobs, lots and
levels honestly differ: what is estimated otherwise. It watches for one kind of fault at a time,
knows that episodes last twelve days, looks once a week, and only where the usual rate has given 15
defects since a day it tries: less has no need to be found. Its measure is the luck of
`tests.benchmarks.judging`, the likelihood of so many defects for somebody who knows where and when.

In shops without a fault, every level and kind of defect that ever falls below a luck is one false
flag: so many a week is what watching at this luck costs. In the shops of the planted benchmark it
is even told where and when the fault was, and flags it if its luck is below. The luck at which the
lower end of the 95 % Wilson interval of those flagged reaches 85 %, and its price, are what the
table says; the prices add up, since a shop is watched for all kinds at once.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from scipy.stats import nbinom

from qc.domain.instants import DAY_US
from qc.stats.comparing.intervals import wilson_interval
from tests.benchmarks.judging import ONLY_THEMSELVES, WEEK_US, Honest, Work
from tests.benchmarks.planted import SEEDS_APART, Task, not_done, run
from tests.benchmarks.planted_table import read_lines
from tests.demo_data.counting import kind_counts

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

LEAST = 15.0
EPISODE_DAYS = 12
WANTED = 0.85
BUDGET = 0.25
REMEMBERED = 0.05
"""Lucks above are not kept: nobody could afford to flag at them."""
WATCHED = {
    "short_episode": "press", "press_fault": "press", "fabric_fault": "fabric",
    "transfer_fault": "transfer", "location_fault": "location", "operator_fault": "operator",
    "weak_transfer_lot": "transfer_lot", "bad_garment_lot": "garment_lot",
}
"""By kind of fault, the factor whose levels are watched."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Level:
    """Sums of one level up to the beginning of each day: ``seen`` and ``usual`` defects, (days +
    1,), and by what clumps them its groups and their usual defects, (groups, days + 1)."""

    factor: str
    begun: int
    seen: Floats
    usual: Floats
    groups: dict[str, tuple[Ints, Floats]]


class Watcher:
    """Sums of one kind of defect of a shop by day."""

    def __init__(self, work: Work, honest: Honest, kind: str, start_us: int) -> None:
        rows = work.rows
        self.work, self.honest = work, honest
        self.day = ((work.pressed_us - start_us) // DAY_US).astype(np.int64)
        self.n_days = int(self.day.max()) + 1
        self.defects = np.asarray(kind_counts(rows, kind), dtype=np.float64)
        self.expected = work.usual[kind].to_numpy(dtype=np.float64)
        everything = np.ones(len(rows), dtype=bool)
        self.seen, self.usual = (self._summed(value, everything)
                                 for value in (self.defects, self.expected))
        spread = {"job": honest.job, "transfer_lot": honest.lot, "garment_lot": honest.lot}
        self.clumps = {
            name: (sd**2, pd.factorize(rows[name].where(rows[name].notna(), rows["job"]))[0])
            for name, sd in spread.items() if name in rows}
        self.whole = {name: self._grouped(group, everything)
                      for name, (_, group) in self.clumps.items()}

    def level(self, factor: str, level: str) -> Level:
        """The sums of a level."""
        mine = self.work.levels[factor] == level
        groups = {}
        for name, (_, group) in self.clumps.items():
            if name != factor:
                its, within = np.unique(group[mine], return_inverse=True)
                groups[name] = its, self._grouped(within, mine)
        return Level(factor=factor, begun=int(self.day[mine].min()), groups=groups,
                     seen=self._summed(self.defects, mine), usual=self._summed(self.expected, mine))

    def lucks(self, of: Level, looked: int, until: Ints) -> Floats:
        """Luck of each stretch from a day to before ``until`` of it, (days,), as known before day
        ``looked``; 1 where the usual rate gave less than `LEAST`."""
        first = np.arange(self.n_days)
        n, mean = _between(of.seen, first, until), _between(of.usual, first, until)
        alone = of.factor in ONLY_THEMSELVES
        if alone:
            n_others, mean_others = of.seen[first], of.usual[first]
        else:
            n_others, mean_others = self.seen[looked] - n, self.usual[looked] - mean
        variance = 1.0 / (n_others + 1) + self._level_variance(of.factor)
        with np.errstate(divide="ignore", invalid="ignore"):
            for name, (its, own) in of.groups.items():
                inside = _between(own, first, until)
                if alone:
                    others = (own[:, first] ** 2).sum(axis=0)
                else:  # what its groups have elsewhere, and all that other groups have
                    total = self.whole[name][:, looked]
                    others = ((total[its][:, None] - inside) ** 2).sum(axis=0) + (
                        (total**2).sum() - (total[its] ** 2).sum())
                variance = variance + self.clumps[name][0] * (
                    (inside**2).sum(axis=0) / mean**2 + others / mean_others**2)
            rate = mean * (n_others + 1) / mean_others
            luck = nbinom.sf(n - 1, 1.0 / variance, 1.0 / (1.0 + variance * rate))
        return np.where((mean >= LEAST) & (mean_others > 0), luck, 1.0)

    def least(self, fault: str, of: Level) -> float:
        """The smallest luck that is ever come upon in a level, watched for one kind of fault."""
        first = np.arange(self.n_days)
        best = 1.0
        for looked in dict.fromkeys([*range(7, self.n_days, 7), self.n_days]):
            if fault == "short_episode":
                ended = first + EPISODE_DAYS
                until = np.where(ended <= looked, ended, first)
            elif of.factor.endswith("_lot"):  # bad from its first piece
                until = np.where(first == of.begun, max(looked, of.begun), first)
            else:
                until = np.maximum(first, looked)
            if _between(of.usual, first, until).max() >= LEAST:
                best = min(best, float(self.lucks(of, looked, until).min()))
        return best

    def _level_variance(self, factor: str) -> float:
        if factor in ONLY_THEMSELVES:
            return 0.0
        return (self.honest.lot if factor.endswith("_lot") else self.honest.level) ** 2

    def _summed(self, value: Floats, of: npt.NDArray[np.bool_]) -> Floats:
        return np.concatenate([[0.0], np.bincount(self.day[of], value[of], self.n_days).cumsum()])

    def _grouped(self, group: Ints, of: npt.NDArray[np.bool_]) -> Floats:
        """Usual defects of some looks by their groups, (groups, days + 1)."""
        n = int(group.max()) + 1
        flat = np.bincount(group * self.n_days + self.day[of], self.expected[of], n * self.n_days)
        return np.concatenate([np.zeros((n, 1)), flat.reshape(n, -1).cumsum(axis=1)], axis=1)


def _between(total: Floats, first: Ints, until: Ints) -> Floats:
    return total[..., until] - total[..., first]


def watch_one(task: Task) -> dict[str, Any]:
    """One shop without a fault: by kind of fault watched for, the lucks come upon."""
    from demo_data.random_shops import random_spec
    from demo_data.shop import simulate
    from tests.benchmarks.judging import honest_of, work_of

    kind, seed, way, enough, _ = task
    spec = random_spec(np.random.default_rng(seed), fault="")
    shop = simulate(spec, seed)
    honest, work = honest_of(spec), work_of(shop)
    found: dict[str, list[float]] = {fault: [] for fault in WATCHED}
    for characteristic in work.usual:
        if work.usual[characteristic].sum() < LEAST:
            continue
        watcher = Watcher(work, honest, str(characteristic), shop.start_us)
        for factor in dict.fromkeys(WATCHED.values()):
            for name in pd.Series(work.levels.get(factor, [])).dropna().unique():
                of = watcher.level(factor, str(name))
                for fault in (one for one, its in WATCHED.items() if its == factor):
                    luck = watcher.least(fault, of)
                    found[fault] += [luck] if luck < REMEMBERED else []
    return {"kind": kind, "seed": seed, "through": way, "enough": enough,
            "weeks": (shop.end_us - shop.start_us) / WEEK_US, "lucks": found}


def prices(watched: Iterable[dict[str, Any]], planted: Iterable[dict[str, Any]]) -> str:
    """The table: by kind of fault the luck that is needed and its false flags a week."""
    watched = list(watched)
    weeks = sum(line["weeks"] for line in watched)
    lucks: dict[str, list[float]] = {fault: [] for fault in WATCHED}
    for line in planted:
        if line["kind"] in lucks:
            lucks[line["kind"]] += [one["luck"] for one in line["faults"] if one["moderate"]]
    out, total = [f"{len(watched)} shops without a fault, {weeks:.0f} weeks", ""], 0.0
    out += ["| watched for | faults | to be flagged | at a luck of | false flags a week |",
            "| --- | --- | --- | --- | --- |"]
    for fault, these in lucks.items():
        n = len(these)
        if not n:
            continue
        need = next(k for k in range(n + 1) if wilson_interval(k, n).low >= WANTED)
        at = sorted(these)[need - 1]
        price = sum(luck <= at for line in watched for luck in line["lucks"][fault]) / weeks
        total += price
        out.append(f"| {fault} | {n} | {need} | {at:.2g} | {price:.3f} |")
    return "\n".join([*out, "", f"together {total:.2f} a week, of a budget of {BUDGET}"])


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=Path("knowing.jsonl"))
    parser.add_argument("--table", type=Path, metavar="FILE")
    parser.add_argument("--planted", type=Path, nargs="+", metavar="FILE")
    parser.add_argument("--shops", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    wanted = parser.parse_args(arguments)
    if wanted.table:
        sys.stdout.write(prices(read_lines([wanted.table]), read_lines(wanted.planted)) + "\n")
        return 0
    every = [("none", wanted.seed * SEEDS_APART + number, "knowing", None, "")
             for number in range(wanted.shops)]
    run(not_done(every, wanted.out), wanted.out, wanted.workers, watch_one)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
