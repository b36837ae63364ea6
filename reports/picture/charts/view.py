"""A chart of a file as what a picture shows: panels of numbers in the unit they are read in."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.desk.charting import SIGNALS, Chart, FileChart, bit, names_of
from reports.picture.charts import words
from reports.picture.plot import Bools, Floats, Ints
from reports.picture.ticks import grouped
from reports.picture.type import brief

OUTSIDE = bit("outside_limits")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Panel:
    """One statistic to draw. ``centre`` has one value for each point."""

    name: str
    unit: str
    value: Floats
    lower: Floats
    upper: Floats
    centre: Floats
    signals: Ints
    first_at: int
    reach: tuple[float, float]

    @property
    def at(self) -> Ints:
        return np.arange(self.first_at, self.first_at + len(self.value))

    @property
    def above(self) -> Bools:
        """Points beyond the upper limit."""
        return ((self.signals & OUTSIDE) != 0) & ~(self.value < self.lower)

    @property
    def below(self) -> Bools:
        """Points beyond the lower limit."""
        return ((self.signals & OUTSIDE) != 0) & (self.value < self.lower)

    @property
    def patterned(self) -> Bools:
        """Points that are inside the limits and complete a pattern."""
        return (self.signals != 0) & ((self.signals & OUTSIDE) == 0)

    @property
    def steady(self) -> bool:
        """Whether the limits are the same at every point."""
        return _same(self.lower) and _same(self.upper)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """All a picture shows; ``labels`` of positions, None where a position is its own label."""

    kind: str
    title: str
    panels: tuple[Panel, ...]
    labels: tuple[str, ...] | None
    chart: FileChart

    @property
    def n_points(self) -> int:
        """Positions along the foot of the picture."""
        first = self.panels[0]
        return first.first_at + len(first.value) - 1

    def label(self, at: int) -> str:
        """A point as it is called in the picture."""
        return grouped(at, 0) if self.labels is None else brief(self.labels[at - 1])

    def says(self, name: str) -> str:
        """What a signal means, in words."""
        return words.OUTSIDE if name == "outside_limits" else self.chart.rule_words().get(
            name, name.replace("_", " "))

    @property
    def centred(self) -> bool:
        """Whether the centre line says something: a sum begins at 0 and has none."""
        return self.kind != "cusum"

    def signalling(self) -> Ints:
        """Positions where any panel signals."""
        marked = [panel.at[panel.signals != 0] for panel in self.panels]
        return np.unique(np.concatenate(marked))

    def said(self) -> list[tuple[str, Ints]]:
        """Each kind of signal with the positions that have it."""
        found = []
        for name in SIGNALS:
            marked = [panel.at[(panel.signals & bit(name)) != 0] for panel in self.panels]
            at = np.unique(np.concatenate(marked))
            if len(at):
                found.append((name, at))
        return found


def view_of(chart: FileChart) -> View:
    """What a picture of this chart shows."""
    kind = chart.chart.kind
    name, unit = words.charted(chart.request)
    if kind in words.UNITLESS_KINDS:
        unit = ""
    factor = 100.0 if kind in words.SHARE_KINDS else 1.0
    panels = tuple(_panel(part, "" if kind == "t" and k else unit, factor)
                   for k, part in enumerate(chart.chart.charts))
    if kind == "cusum":  # both sides on one scale, to be compared
        ends = tuple(zip(*(panel.reach for panel in panels), strict=True))
        panels = tuple(replace(panel, reach=(min(ends[0]), max(ends[1]))) for panel in panels)
    return View(kind=kind, title=name, labels=chart.labels, chart=chart, panels=panels)


def _panel(part: Chart, unit: str, factor: float) -> Panel:
    centres = part.centres
    if centres is None:
        centres = np.broadcast_to(np.float64(part.centre), part.value.shape)
    value, lower, upper, centre = (
        line if factor == 1 else factor * line
        for line in (part.value, part.lower, part.upper, centres))
    return Panel(
        name=part.name, unit="%" if factor == 100 else unit, value=value, lower=lower, upper=upper,
        centre=centre, reach=_reach(value, lower, upper, centre), first_at=part.first_at,
        signals=part.signals.astype(np.int64),
    )


def _reach(*lines: Floats) -> tuple[float, float]:
    """Lowest and highest value of an axis: room for all lines, from 0 where they come near it."""
    ends = [f(line) for line in lines if not np.isnan(line).all() for f in (np.nanmin, np.nanmax)]
    low, high = float(min(ends)), float(max(ends))
    room = (high - low) or abs(high) or 1.0
    at_zero = 0 <= low <= 0.02 * room
    return (0.0 if at_zero else low - 0.07 * room), high + 0.13 * room


def _same(line: Floats) -> bool:
    return bool(np.isnan(line).all() or (line == line[0]).all())


__all__ = ["OUTSIDE", "Panel", "View", "names_of", "view_of"]
