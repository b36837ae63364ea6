"""Two ways of doing one job, timed in turns in one run; only their ratio is worth keeping."""

from __future__ import annotations

import gc
import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """Median seconds of ours and of the plain way, and of the ratio ours / plain by turn."""

    ours_s: float
    plain_s: float
    ratio: float
    ratio_low: float
    ratio_high: float
    n_turns: int


def seconds(job: Callable[[], object]) -> float:
    """How long one run takes, after a clean-up so that no one pays for another's rubbish."""
    gc.collect()
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def side_by_side(
    ours: Callable[[], object], plain: Callable[[], object], *, n_turns: int
) -> SideBySide:
    """Time both in turns, so that a machine that slows down slows both."""
    pairs = [(seconds(ours), seconds(plain)) for _ in range(n_turns)]
    ratios = sorted(mine / theirs for mine, theirs in pairs)
    return SideBySide(
        ours_s=statistics.median(mine for mine, _ in pairs),
        plain_s=statistics.median(theirs for _, theirs in pairs),
        ratio=statistics.median(ratios), ratio_low=ratios[0], ratio_high=ratios[-1],
        n_turns=n_turns,
    )


def say(line: str = "") -> None:
    """One line of the report."""
    sys.stdout.write(f"{line}\n")


def heading(title: str, module: str) -> None:
    """What is measured, and the command that does it again."""
    say(title)
    say(f"  again by: python -m {module} {' '.join(sys.argv[1:])}".rstrip())
    say(f"  on: Python {platform.python_version()}, {platform.system()} {platform.machine()}")


def verdict(name: str, value: float, *, at_least: float | None = None,
            at_most: float | None = None) -> bool:
    """Print a figure beside what is wanted of it."""
    if at_least is not None:
        met, wanted = value >= at_least, f"at least {at_least:g}"
    elif at_most is not None:
        met, wanted = value <= at_most, f"at most {at_most:g}"
    else:
        raise ValueError("verdict needs at_least or at_most")
    say(f"  {name}: {value:.3g} (wanted {wanted}): {'met' if met else 'NOT MET'}")
    return met
