"""What a person asks of a chart: names of columns, and options."""

from __future__ import annotations

import re
from dataclasses import dataclass

from qc.errors import InputError
from qc.stats.charts.baselines import Excluded

WRITTEN = {"weight": "lambda", "head_start": "head-start", "for_arl": "for-arl",
           "excluded": "exclude", "in_control_arl": "for-arl"}
"""Fields (and arguments) that are written otherwise on the command line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRequest:
    """What to chart: names of columns, and options; None where not given.

    ``baseline`` : first and last plotted point, 1-based, that limits come from, less ``excluded``.
    ``independent`` : plot what each value adds to the one before. ``alpha`` : chance of a point in
    control beyond its limits. ``for_arl`` : average run length in control that the limits are to
    give.
    """

    kind: str
    value: str | None = None
    values: tuple[str, ...] | None = None
    subgroup: str | None = None
    count: str | None = None
    size: str | None = None
    part: str | None = None
    nominal: str | None = None
    spread: str | None = None
    centre: float | None = None
    sigma: float | None = None
    baseline: tuple[int, int] | None = None
    excluded: tuple[Excluded, ...] | None = None
    independent: bool | None = None
    within: str | None = None
    limits: str | None = None
    alpha: float | None = None
    rules: str | None = None
    weight: float | None = None
    width: float | None = None
    reference: float | None = None
    decision: float | None = None
    head_start: float | None = None
    for_arl: float | None = None
    sheet: str | None = None

    @property
    def columns(self) -> tuple[str, ...]:
        """The names of all columns asked for."""
        one = (self.value, self.count, self.size, self.subgroup, self.part, self.nominal,
               self.spread)
        return (*(self.values or ()), *(name for name in one if name is not None))


def written(name: str) -> str:
    """A field of a request as its option is written."""
    return WRITTEN.get(name, name)


def parse_baseline(text: str) -> tuple[int, int]:
    """'1:25' as first and last plotted point."""
    found = re.fullmatch(r"\s*(\d+)\s*:\s*(\d+)\s*", text)
    if not found:
        raise InputError(f"--baseline is {text!r}; write first and last point as in 1:25")
    return int(found[1]), int(found[2])


def parse_excluded(text: str) -> Excluded:
    """'6=needle broken' as a point left out of the baseline, and why."""
    found = re.fullmatch(r"\s*(\d+)\s*=\s*(\S.*?)\s*", text)
    if not found:
        raise InputError(f"--exclude is {text!r}; write the point and the cause that was found, as"
                         " in 6='clamp slipped'")
    return Excluded(at=int(found[1]), reason=found[2])


def parse_values(text: str) -> tuple[str, ...]:
    """'dx_mm,dy_mm' as names of columns."""
    names = tuple(name.strip() for name in text.split(","))
    if "" in names or len(set(names)) < len(names):
        raise InputError(f"--values is {text!r}; write different columns as in dx_mm,dy_mm")
    return names
