"""The results of `tests.benchmarks.planted` as a table."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from qc.stats.comparing.intervals import rate_interval, wilson_interval

HEADINGS = (
    "kind", "shops", "faults", "moderate", "flagged", "right factor and level", "held",
    "delay, days", "delay, pieces", "delay, usual defects", "doubled a shop",
    "parts a shop", "false flags a week", "flagged, not moderate", "no luck", "flagged of these",
)
NO_LUCK = 1e-5
"""A fault less likely by luck than this, to one who knows where and when, can be shown at all:
about what one stream may spend in a slot of an ordinary shop."""

Line = dict[str, Any]


def read_lines(paths: Iterable[Path]) -> Iterator[Line]:
    """Results from files; a line cut off by a killed run is left out."""
    for path in paths:
        for text in path.read_text(encoding="utf-8").splitlines():
            try:
                yield json.loads(text)
            except json.JSONDecodeError:
                continue


def table(lines: Iterable[Line]) -> str:
    """A Markdown table, one row for each kind of fault in the order they come."""
    by_kind: dict[str, dict[int, Line]] = {}
    for line in lines:
        by_kind.setdefault(line["kind"], {})[line["seed"]] = line
    rows = [row_of(kind, list(of.values())) for kind, of in by_kind.items()]
    return "\n".join(
        "| " + " | ".join(row) + " |" for row in (HEADINGS, ["---"] * len(HEADINGS), *rows))


def row_of(kind: str, lines: Sequence[Line]) -> list[str]:
    """The cells of one kind."""
    faults = [fault for line in lines for fault in line["faults"]]
    moderate = [fault for fault in faults if fault["moderate"]]
    others = [fault for fault in faults if not fault["moderate"]]
    flagged = [fault for fault in moderate if fault["flagged"]]
    right = [fault for fault in flagged if fault["right"]]
    known = [fault for fault in moderate if fault.get("luck") is not None]
    no_luck = [fault for fault in known if fault["luck"] < NO_LUCK]
    false = sum(len(line["false"]) for line in lines)
    doubled, parts = (sum(len(line[name]) for line in lines) / len(lines)
                      for name in ("doubled", "parts"))
    return [
        kind, str(len(lines)), str(len(faults)), str(len(moderate)),
        share(len(flagged), len(moderate)), share(len(right), len(flagged)),
        share(sum(fault["held"] for fault in right), len(right)),
        median(flagged, "delay_days", 1), median(flagged, "delay_pieces", 0),
        median(flagged, "delay_expected", 1), f"{doubled:.2f}", f"{parts:.2f}",
        weekly(false, sum(line["weeks"] for line in lines)),
        f"{sum(fault['flagged'] for fault in others)} of {len(others)}" if others else "-",
        share(len(no_luck), len(known)),
        share(sum(fault["flagged"] for fault in no_luck), len(no_luck)),
    ]


def share(n: int, of: int) -> str:
    """A count with its share and 95 % Wilson interval."""
    if of == 0:
        return "-"
    found = wilson_interval(n, of)
    return f"{n} of {of} = {n / of:.1%} ({found.low:.1%} to {found.high:.1%})"


def weekly(n: int, weeks: float) -> str:
    """Flags a week with the exact 95 % Poisson interval."""
    found = rate_interval(n, weeks)
    return f"{n} in {weeks:.0f} = {n / weeks:.3f} ({found.low:.3f} to {found.high:.3f})"


def median(faults: Sequence[Line], name: str, places: int) -> str:
    values = [fault[name] for fault in faults if fault[name] is not None]
    return f"{np.median(values):.{places}f}" if values else "-"
