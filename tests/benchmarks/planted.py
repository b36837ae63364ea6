"""How often planted faults are flagged, and how often something is flagged that is not there.

    python -m tests.benchmarks.planted --out planted.jsonl [--shops 200] [--kinds step,...]
        [--seed 1] [--workers 2] [--through direct|load] [--enough 15] [--without job,...]
    python -m tests.benchmarks.planted --table planted.jsonl [more.jsonl ...]

For each kind of fault of `demo_data.random_shops.RANDOM_FAULTS`, and for shops without one (kind
"none"), random shops are simulated, scanned as of their end and judged by the rules of
`tests.benchmarks.judging`. Each shop is one JSON line of --out, written as soon as it is done; a
run that was stopped goes on where it was when started again with the same --out. --table prints
the figures of such files as Markdown: shares with 95 % Wilson intervals, false flags a week with
the exact Poisson interval. Delays are medians, to the first flag about a fault: in days, in
pieces of the fault's own level pressed meanwhile, and in defects that the usual rate would have
given there. With --enough a fault ends as soon as the usual rate would have given so many
defects: the smallest faults that are to be found. With --without the shops are the same, but keep
no such columns.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import replace
from pathlib import Path
from typing import Any

from tests.benchmarks.planted_table import read_lines, table

SEEDS_APART, KINDS_APART = 100_000, 1000
Task = tuple[str, int, str, float | None, str]
Line = dict[str, Any]

MAKE = ("n_pieces", "days", "zone", "job_cv", "level_sd", "lot_sd", "home_share", "blocks",
        "missing", "measured_per_hour", "unrecorded")
"""What is kept of a shop's make, to see where failures gather."""


def judge_one(task: Task) -> Line:
    """Simulate, scan and judge one shop: (kind, seed, way, enough, without)."""
    # imported here: in a worker, after its number of threads is set
    import numpy as np

    from demo_data.random_shops import random_spec
    from demo_data.shop import simulate
    from tests.benchmarks.direct import WAYS
    from tests.benchmarks.judging import honest_of, judged

    kind, seed, way, enough, without = task
    begun = time.perf_counter()
    try:
        fault = "" if kind == "none" else kind
        spec = random_spec(np.random.default_rng(seed), fault=fault, enough=enough)
        shop = simulate(spec, seed)
        kept = shop.frames["inspections"].drop(
            columns=without.split(",") if without else [], errors="ignore")
        shown = replace(shop, frames=shop.frames | {"inspections": kept})
        verdict = judged(shop, WAYS[way](shown), honest_of(spec))
    except Exception as error:
        raise RuntimeError(f"the shop of kind {kind}, seed {seed}: {error}") from error
    make = {name: getattr(spec, name) for name in MAKE} | {"presses": len(spec.presses)}
    return {"kind": kind, "seed": seed, "through": way, "enough": enough, "without": without,
            "make": make, **verdict, "seconds": round(time.perf_counter() - begun, 2)}


def tasks(
    kinds: Iterable[str], n_shops: int, seed: int, *, way: str, enough: float | None,
    without: str = "",
) -> list[Task]:
    """All shops, in turns of the kinds, so that a run stopped early has some of each; no two have
    the same seed."""
    known = all_kinds()
    return [(kind, seed * SEEDS_APART + known.index(kind) * KINDS_APART + number, way, enough,
             without) for number in range(n_shops) for kind in kinds]


def not_done(wanted: Iterable[Task], out: Path) -> list[Task]:
    """The tasks without a line in the file; ValueError if its lines were made another way."""
    lines = list(read_lines([out])) if out.exists() else []
    wanted = list(wanted)
    made = {(line["through"], line["enough"], line.get("without", "")) for line in lines}
    if other := made - {t[2:] for t in wanted}:
        raise ValueError(f"{out} was made with --through, --enough and --without"
                         f" {sorted(other, key=str)}; name another --out")
    done = {(line["kind"], line["seed"]) for line in lines}
    return [task for task in wanted if task[:2] not in done]


def run(
    todo: list[Task], out: Path, n_workers: int, one: Callable[[Task], Line]
) -> None:
    """Judge all shops by ``one`` and append a line for each."""
    begun = time.monotonic()
    _end_last_line(out)
    with out.open("a", encoding="utf-8") as file:
        for n_done, line in enumerate(_results(todo, n_workers, one), start=1):
            file.write(json.dumps(line) + "\n")
            file.flush()
            _say_progress(n_done, len(todo), time.monotonic() - begun, line)


def _results(
    todo: list[Task], n_workers: int, one: Callable[[Task], Line]
) -> Iterator[Line]:
    if n_workers == 1:
        yield from map(one, todo)
        return
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ[name] = "1"
    with ProcessPoolExecutor(n_workers, multiprocessing.get_context("spawn")) as pool:
        waiting: list[Future[Line]] = [pool.submit(one, task) for task in todo]
        try:
            for future in as_completed(waiting):
                yield future.result()
        finally:
            pool.shutdown(cancel_futures=True)


def _end_last_line(out: Path) -> None:
    """A line cut off by a killed run must not spoil the next one."""
    if out.exists() and (text := out.read_bytes()) and not text.endswith(b"\n"):
        with out.open("a", encoding="utf-8") as file:
            file.write("\n")


def _say_progress(n_done: int, n: int, took_s: float, line: Line) -> None:
    left_s = took_s / n_done * (n - n_done)
    sys.stderr.write(
        f"\r{n_done}/{n} shops, {took_s / n_done:.1f} s each, {left_s / 60:.0f} min left"
        f" ({line['kind']}, seed {line['seed']})    ")
    if n_done == n:
        sys.stderr.write("\n")


def all_kinds() -> list[str]:
    from demo_data.random_shops import RANDOM_FAULTS

    return ["none", *RANDOM_FAULTS]


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, default=Path("planted.jsonl"))
    parser.add_argument("--table", type=Path, nargs="+", metavar="FILE")
    parser.add_argument("--shops", type=int, default=200)
    parser.add_argument("--kinds", default=None, help="joined by commas; default: all, and none")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--through", choices=("direct", "load"), default="direct")
    parser.add_argument("--enough", type=float, default=None)
    parser.add_argument("--without", default="", help="columns, joined by commas")
    wanted = parser.parse_args(arguments)
    if wanted.table:
        sys.stdout.write(table(read_lines(wanted.table)) + "\n")
        return 0
    kinds = all_kinds() if wanted.kinds is None else wanted.kinds.split(",")
    if unknown := set(kinds) - set(all_kinds()):
        parser.error(f"--kinds {', '.join(sorted(unknown))}: known are {', '.join(all_kinds())}")
    if not 1 <= wanted.shops <= KINDS_APART:
        parser.error(f"--shops is {wanted.shops}; it may be 1 to {KINDS_APART}")
    every = tasks(
        kinds, wanted.shops, wanted.seed, way=wanted.through, enough=wanted.enough,
        without=wanted.without)
    try:
        todo = not_done(every, wanted.out)
    except ValueError as error:
        parser.error(str(error))
    run(todo, wanted.out, wanted.workers, judge_one)
    sys.stdout.write(table(read_lines([wanted.out])) + "\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
