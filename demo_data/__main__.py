"""Make a shop of your own to try settings on, with a fault you know planted in it.

    python -m demo_data --fault press_fault --seed 7 --out tried
    python -m demo_data --list

Writes one CSV for each kind of record into a new folder, as `qc load` reads them, and truth.json
with what is planted: factor and level, since when and until when, which kinds of defect it shows
in, how many the usual rate gives the touched pieces and how many more the fault is expected to
give. Prints the same in words, and the two commands that load the files and ask for the flags.

The same options give the same files. --seed decides everything about the shop that is not said:
presses, people, fabrics, lots, rates from half to twice the usual ones, how jobs and lots vary,
breaks, time zone, what is left empty, whether pieces are written down one by one or by the stack.
"Same" includes the date: a shop ends on a date of its own, or, where that is still to come by this
computer's clock, the day before today; --until fixes it.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from demo_data.files import write_files
from demo_data.random_shops import DESCRIPTIONS, RANDOM_FAULTS, random_spec
from demo_data.shop import SimulatedShop, simulate
from demo_data.spec import ShopSpec
from demo_data.truth import Planted
from qc.domain.instants import iso
from qc.domain.kinds import defect_kinds

NO_FAULT = "none"

DIALS: dict[str, tuple[str, str]] = {
    "--job-spread": ("job_cv", "how much a rate varies from job to job: standard deviation over"
                               " mean, 0.3 is ordinary"),
    "--level-spread": ("level_sd", "how much presses and people differ honestly: standard"
                                   " deviation of the log rate"),
    "--lot-spread": ("lot_sd", "the same for lots"),
    "--stacks": ("blocks", "share of the jobs written down by the stack, 0 to 1"),
    "--missing": ("missing", "times the usual share of fields left empty; 0 for none"),
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Write the files, say what is in them; the exit code."""
    parser = _parser()
    wanted = parser.parse_args(arguments)
    if wanted.list:
        for kind, words in DESCRIPTIONS.items():
            _say(f"{kind:24}{words}")
        return 0
    if wanted.out is None:
        parser.error("--out names the new folder the files go to")
    if wanted.out.exists() and any(wanted.out.iterdir()):
        parser.error(f"--out is {wanted.out}, which has files in it already; name a new folder")
    shop = simulate(spec_of(wanted), wanted.seed)
    write_files(shop, wanted.out)
    for line in told(shop, wanted.out):
        _say(line)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m demo_data", description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--list", action="store_true", help="the kinds of fault, and stop")
    parser.add_argument("--fault", default=NO_FAULT, choices=[NO_FAULT, *RANDOM_FAULTS],
                        metavar="KIND", help="what to plant; see --list (default: nothing)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, metavar="FOLDER")
    parser.add_argument("--presses", type=_number(1, 40, whole=True))
    parser.add_argument("--pieces", type=_number(500, 2_000_000, whole=True))
    parser.add_argument("--days", type=_number(20, 700, whole=True))
    parser.add_argument("--until", type=date.fromisoformat, metavar="DATE",
                        help="the shop's last day")
    parser.add_argument("--ratio", type=_number(0, 50),
                        help="times the usual rate, in place of the kind's own")
    parser.add_argument("--enough", type=_number(0.1, 1e6),
                        help="end the fault when the usual rate would have given so many defects")
    for option, (name, words) in DIALS.items():
        high = 1 if name == "blocks" else 40
        parser.add_argument(option, dest=name, type=_number(0, high), help=words)
    return parser


def _number(low: float, high: float, *, whole: bool = False) -> Any:
    def number(text: str) -> float:
        value = int(text) if whole else float(text)
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text} is not between {low:g} and {high:g}")
        return value

    return number


def spec_of(wanted: argparse.Namespace) -> ShopSpec:
    """The shop that the options ask for."""
    spec = random_spec(
        np.random.default_rng(wanted.seed), fault=wanted.fault.replace(NO_FAULT, ""),
        n_pieces=wanted.pieces, days=wanted.days, n_presses=wanted.presses, enough=wanted.enough)
    dials = {name: getattr(wanted, name) for name, _ in DIALS.values()}
    dials = {name: value for name, value in dials.items() if value is not None}
    until = wanted.until or min(spec.until, date.today() - timedelta(days=1))
    faults = spec.faults
    if wanted.ratio is not None:
        faults = tuple(replace(fault, ratio=wanted.ratio) for fault in faults)
    return replace(spec, until=until, faults=faults, **dials)


def told(shop: SimulatedShop, folder: Path) -> list[str]:
    """What the shop is, what is planted, and how to go on."""
    zone = ZoneInfo(shop.zone)
    counts = {kind: len(shop.frames[kind]) for kind in ("presses", "inspections")}
    lines = [f"{shop.name}: {counts['presses']} presses, {counts['inspections']:,} rows of looks,"
             f" {iso(shop.start_us, zone)[:10]} to {iso(shop.end_us, zone)[:10]} ({shop.zone})"]
    lines += [_planted_words(one, zone) for one in shop.truth] or ["planted: nothing"]
    store = folder / "shop.db"
    return [
        *lines, f"files and truth.json are in {folder}; to load them and ask:",
        f"  qc load {folder}/*.csv --store {store} --timezone {shop.zone}",
        f"  qc flags --store {store} --as-of {iso(shop.end_us, zone)}",
    ]


def _planted_words(one: Planted, zone: ZoneInfo) -> str:
    where = f"{one.factor.replace('_', ' ')} {one.level}" if one.level else "the whole shop"
    until = "the end" if one.end_us is None else iso(one.end_us, zone)[:16]
    said = f"planted: {one.kind}, {where}, from {iso(one.start_us, zone)[:16]} to {until};"
    if not one.expect_flag:
        return f"{said} {one.note} ({one.n_pieces:,} pieces)"
    said += f" {one.n_pieces:,} pieces; shows in {', '.join(one.shows_in)}"
    if one.characteristic in defect_kinds():
        said += f"; {one.usual:.0f} {one.characteristic} usual there, {one.extra:.0f} more planted"
    else:
        said += f"; {one.characteristic}: {one.size:.3g}"
    return f"{said} ({one.note})" if one.note else said


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")


if __name__ == "__main__":
    raise SystemExit(main())
