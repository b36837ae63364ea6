"""How long a hold list as PDF takes beside the same as a workbook, how large it is, and its memory.

    python -m tests.benchmarks.documents [--rows N,N] [--turns N]

Wanted: at most 12 times the workbook, and 0.2 MB of memory a row beyond the first hundred rows.
Memory is read off Linux.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

from qc.domain.instants import HOUR_US
from reports.document import Document
from reports.hold_list import hold_list
from reports.pdf import render_pdf
from reports.xlsx import render_xlsx
from tests.benchmarks.measuring import heading, say, seconds, side_by_side, verdict
from tests.reports.made import T0_US, case, piece

WANTED_RATIO = 12.0
WANTED_MB_A_ROW = 0.2
FEW = 100
DEFECTS = ("", "", "", "lifted_edge", "", "", "lifted_edge@top_left:6;scorch@centre")
STATUS = ("in_house", "in_house", "held", "shipped", "scrapped")


def made(n: int) -> Document:
    """A hold list of so many pieces in jobs of sixty, as a shop's would be."""
    first = piece("")
    pieces = [replace(
        first, piece_id=f"J{at // 60 + 11}-{at:05d}", job=f"J{at // 60 + 11}",
        press=f"P{1 + at % 3}", operator=("Ana", "Rui", "Inês Prado")[at % 3],
        transfer_lot=f"T-20{at % 4}", garment_lot=f"G-11{at % 6}", defects=DEFECTS[at % 7],
        pressed_at_us=T0_US + at * 30_000_000, status=STATUS[at % 5],
        shipped_at_us=T0_US + 30 * HOUR_US if STATUS[at % 5] == "shipped" else None,
    ) for at in range(n)]
    return hold_list(case(*pieces), shop_name="Lantern Yard Prints", zone=ZoneInfo("Europe/Lisbon"),
                     as_of_us=T0_US + 40 * HOUR_US)


def alone(n: int) -> None:
    """In a process of its own: seconds of the first and the second time, bytes, peak MB."""
    document = made(n)
    pages: list[bytes] = []
    times = [seconds(lambda: pages.append(render_pdf(document))) for _ in range(2)]
    # not getrusage, whose peak begins with that of the process that started this one
    peak = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text(encoding="ascii"))
    sys.stdout.write(json.dumps([*times, len(pages[0]), int(peak[1]) / 1024 if peak else 0]))


def _in_a_child(n: int) -> list[float]:
    done = subprocess.run([sys.executable, "-m", __spec__.name, "--alone", str(n)], check=True,
                          capture_output=True, text=True)
    return json.loads(done.stdout)


def measure(n: int, n_turns: int) -> tuple[float, float]:
    """Time over that of the workbook, and MB a row beyond the first hundred."""
    first_s, again_s, size, peak = _in_a_child(n)
    few = _in_a_child(FEW)[-1]
    document = made(n)
    figures = side_by_side(lambda: render_pdf(document), lambda: render_xlsx(document),
                           n_turns=n_turns)
    say(f"  {n:,} pieces: {first_s:.2f} s the first time, {again_s:.2f} s again; "
        f"{size / 1e6:.2f} MB; memory peaks at {peak:.0f} MB ({FEW} pieces: {few:.0f})")
    say(f"  as a workbook {figures.plain_s:.2f} s; ratio {figures.ratio:.1f} "
        f"({figures.ratio_low:.1f} to {figures.ratio_high:.1f}, {n_turns} turns)")
    return figures.ratio, (peak - few) / max(n - FEW, 1)


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rows", default="1000,10000")
    asked.add_argument("--turns", type=int, default=3)
    asked.add_argument("--alone", type=int)
    given = asked.parse_args()
    if given.alone:
        alone(given.alone)
        return 0
    heading("Hold lists as PDF", "tests.benchmarks.documents")
    met = []
    for n in map(int, given.rows.split(",")):
        ratio, mb_a_row = measure(n, given.turns)
        met += [verdict("times the workbook", ratio, at_most=WANTED_RATIO),
                verdict("MB of memory a row", mb_a_row, at_most=WANTED_MB_A_ROW)]
    return 0 if all(met) else 1


if __name__ == "__main__":
    raise SystemExit(main())
