"""How long `qc --help` takes beside an interpreter that does nothing.

Wanted: at most half a second more than the interpreter itself.
"""

from __future__ import annotations

import subprocess
import sys

from tests.benchmarks.measuring import heading, say, side_by_side, verdict

N_TURNS = 15
WANTED_S = 0.5


def _start(code: str, *arguments: str) -> None:
    subprocess.run(
        [sys.executable, "-c", code, *arguments], check=True, capture_output=True
    )


def main() -> int:
    heading("Start of the program: qc --help beside python -c pass", "tests.benchmarks.startup")
    _start("from qc.cli import main; main()", "--help")   # compiles the modules once
    figures = side_by_side(
        lambda: _start("from qc.cli import main; main()", "--help"),
        lambda: _start("pass"),
        n_turns=N_TURNS,
    )
    say(f"  qc --help {figures.ours_s:.3f} s, bare interpreter {figures.plain_s:.3f} s")
    say(f"  ratio {figures.ratio:.1f} ({figures.ratio_low:.1f} to {figures.ratio_high:.1f}, "
        f"{figures.n_turns} turns)")
    met = verdict("seconds spent on qc's own imports", figures.ours_s - figures.plain_s,
                  at_most=WANTED_S)
    return 0 if met else 1


if __name__ == "__main__":
    raise SystemExit(main())
