"""One panel: the band, the centre as a row of stitches, the points, and the marks on them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from reports.picture import svg
from reports.picture.charts.view import Panel, View
from reports.picture.palette import Palette
from reports.picture.plot import (
    Bools,
    Ints,
    Plot,
    band_paths,
    line_path,
    seen_once,
    span_paths,
    step_path,
)
from reports.picture.setting import BODY, SMALL
from reports.picture.ticks import Scale, grouped, tidy_scale
from reports.picture.type import cut, width

HEAD = 28.0
"""Height of the line that names a panel."""
DOTS_TO = 150
"""Up to so many points each one is a dot."""
NAMED_TO = 12
"""Up to so many stretches of marked points carry the label of their first."""
MARKS_TO = 300
"""Of more marks, those on one pixel are drawn once."""
SMALL_MARK = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where a panel stands: its left and right edge, its top, and the height of its plot."""

    left: float
    right: float
    top: float
    height: float


def value_scale(panel: Panel, height: float) -> tuple[Scale, float, float]:
    """Ticks, and the lowest and highest value of the axis."""
    low, high = panel.reach
    scale = tidy_scale(low, high, about=max(round(height / 38), 2))
    return scale, low, high


def gutter(panels: tuple[Panel, ...], heights: tuple[float, ...]) -> float:
    """Room for the widest number on the axes of panels that stand above each other."""
    widest = 0.0
    for panel, height in zip(panels, heights, strict=True):
        scale, _, _ = value_scale(panel, height)
        widest = max([widest, *(width(scale.label(at), SMALL) for at in scale.at)])
    return widest + 9


def draw_panel(view: View, panel: Panel, frame: Frame, colours: Palette, *, main: bool
               ) -> tuple[list[str], Plot]:
    """The parts of a panel, and where its plot lies."""
    scale, low, high = value_scale(panel, frame.height)
    plot = Plot(left=frame.left, top=frame.top + HEAD, width=frame.right - frame.left,
                height=frame.height, n=view.n_points, low=low, high=high)
    parts = [_head(panel, frame, scale, colours)]
    parts += _band(panel, plot, colours)
    parts += _grid(plot, scale, colours)
    if main:
        parts += _baseline(view, plot, colours)
        parts += _change(view, plot, colours)
    parts += _points(panel, plot, colours)
    parts += _centre(panel, plot, colours) if view.centred else []
    parts += _left_out(view, panel, plot, colours) if main else []
    parts += _marks(panel, plot, colours)
    parts += _names(view, panel, plot, colours)
    return parts, plot


def _head(panel: Panel, frame: Frame, scale: Scale, colours: Palette) -> str:
    y = frame.top + 13
    unit = panel.unit
    if scale.power:
        unit = f"{unit} × 10^{grouped(scale.power, 0)}".strip()
    name = svg.text(frame.left, y, panel.name, size=BODY, fill=colours["ink"], bold=True)
    if not unit:
        return name
    after = frame.left + width(panel.name, BODY, bold=True) + 7
    return name + svg.text(after, y, unit, size=BODY, fill=colours["soft"])


def _band(panel: Panel, plot: Plot, colours: Palette) -> list[str]:
    inner, outer = band_paths(plot, panel.lower, panel.upper, panel.first_at)
    parts = []
    if outer is not None:
        parts.append(svg.element("path", d=outer, fill=colours["accent-soft"], opacity="0.5"))
    return [*parts, svg.element("path", d=inner, fill=colours["accent-soft"])]


def _grid(plot: Plot, scale: Scale, colours: Palette) -> list[str]:
    heights = plot.y(np.array(scale.at)).tolist()
    lines = "".join(f"M{svg.number(plot.left)} {svg.number(y)}H{svg.number(plot.right)}"
                    for y in heights)
    return [
        svg.element("path", d=lines, stroke=colours["rule"], stroke_width="0.8", fill="none"),
        *(svg.text(plot.left - 7, y + 4.4, scale.label(at), size=SMALL, fill=colours["soft"],
                   anchor="end") for at, y in zip(scale.at, heights, strict=True)),
    ]


def _centre(panel: Panel, plot: Plot, colours: Palette) -> list[str]:
    d = step_path(plot, panel.centre, panel.first_at)
    stitches = svg.element("path", d=d, fill="none", stroke=colours["accent"], stroke_width="1.8",
                           stroke_dasharray="7 4.5")
    if not plot.many(len(panel.value)):
        return [stitches]
    return [svg.element("path", d=d, fill="none", stroke=colours["sheet"], stroke_width="4"),
            stitches]


def _baseline(view: View, plot: Plot, colours: Palette) -> list[str]:
    """A line of thread over the stretch the limits come from, where it is not the whole."""
    baseline = view.chart.chart.baseline
    if baseline is None or (baseline.first, baseline.last) == (1, plot.n):
        return []
    left, right = plot.edge(np.array([baseline.first, baseline.last + 1])).tolist()
    y = plot.top - 4
    ends = f"M{svg.number(left)} {svg.number(y - 4)}v8M{svg.number(right)} {svg.number(y - 4)}v8"
    return [
        svg.element("path", d=ends, stroke=colours["thread"], stroke_width="2.4"),
        svg.element("path", d=f"M{svg.number(left)} {svg.number(y)}H{svg.number(right)}",
                    stroke=colours["thread"], stroke_width="2.4", stroke_dasharray="6 4"),
    ]


def _change(view: View, plot: Plot, colours: Palette) -> list[str]:
    """When the change most likely began: a line, with its interval as a bar at the foot."""
    change = view.chart.change
    if change is None:
        return []
    ends = (change.at, change.first or change.at, change.last or change.at)
    at, left, right = plot.edge(np.array(ends)).tolist()
    left, right = min(left, at - 3), max(right, at + 3)
    foot = plot.bottom - 7
    bar = (f"M{svg.number(left)} {svg.number(foot - 5)}v10M{svg.number(right)}"
           f" {svg.number(foot - 5)}v10M{svg.number(left)} {svg.number(foot)}H{svg.number(right)}")
    line = f"M{svg.number(at)} {svg.number(plot.top)}V{svg.number(plot.bottom)}"
    return [
        svg.element("path", d=line, stroke=colours["alarm"], stroke_width="1.4",
                    stroke_dasharray="2 3"),
        svg.element("path", d=bar, stroke=colours["alarm"], stroke_width="2", fill="none"),
    ]


def _points(panel: Panel, plot: Plot, colours: Palette) -> list[str]:
    n = len(panel.value)
    if plot.many(n):
        whole, half = span_paths(plot, panel.value, panel.first_at)
        return [svg.element("path", d=whole, fill=colours["ink"], opacity="0.3"),
                svg.element("path", d=half, fill=colours["ink"], opacity="0.75")]
    line = svg.element(
        "path", d=line_path(plot, panel.value, panel.first_at), fill="none", stroke=colours["ink"],
        stroke_width="1" if n > DOTS_TO else "1.3", stroke_opacity="0.6", stroke_linejoin="round")
    if n > DOTS_TO:
        return [line]
    dots = _discs(plot, panel, panel.signals == 0, 3.1 if n <= 60 else 2.2)
    return [line, svg.element("path", d=dots, fill=colours["ink"])] if dots else [line]


def _discs(plot: Plot, panel: Panel, which: Bools, r: float) -> str:
    return "".join(svg.disc(x, y, r) for x, y in _places(plot, panel, which))


def _places(plot: Plot, panel: Panel, which: Bools) -> list[tuple[float, float]]:
    at = np.flatnonzero(which & ~np.isnan(panel.value))
    return seen_once(plot.x(at + panel.first_at), plot.y(panel.value[at]), MARKS_TO)


def _left_out(view: View, panel: Panel, plot: Plot, colours: Palette) -> list[str]:
    """Points of the baseline that limits do not rest on: struck out."""
    baseline = view.chart.chart.baseline
    at = [left.at - panel.first_at for left in baseline.excluded] if baseline else []
    if not at:
        return []
    chosen = np.zeros(len(panel.value), dtype=bool)
    chosen[at] = True
    d = "".join(f"M{svg.number(x - 7)} {svg.number(y + 7)}l14 -14"
                for x, y in _places(plot, panel, chosen))
    return [svg.element("path", d=d, stroke=colours["edge"], stroke_width="2.2")]


def _marks(panel: Panel, plot: Plot, colours: Palette) -> list[str]:
    """Points that signal: triangles beyond a limit, diamonds for patterns inside."""
    size = _mark_size(int(np.count_nonzero(panel.signals)), plot)
    fine = size < SMALL_MARK
    up = "".join(svg.triangle(x, y, size, up=True) for x, y in _places(plot, panel, panel.above))
    down = "".join(svg.triangle(x, y, size, up=False) for x, y in _places(plot, panel, panel.below))
    odd = "".join(svg.diamond(x, y, size) for x, y in _places(plot, panel, panel.patterned))
    parts = []
    if odd:
        parts.append(svg.element("path", d=odd, fill=colours["watch-soft"],
                                 stroke=colours["watch"], stroke_width="0.8" if fine else "2"))
    if up or down:
        parts.append(svg.element("path", d=up + down, fill=colours["alarm"],
                                 stroke=None if fine else colours["sheet"], stroke_width="1.4"))
    return parts


def _mark_size(n_marked: int, plot: Plot) -> float:
    if plot.n <= 60:
        return 6.4
    return 5.2 if n_marked <= 60 else 3.4 if n_marked <= MARKS_TO else 2.4


def _names(view: View, panel: Panel, plot: Plot, colours: Palette) -> list[str]:
    """Labels of marked points where they are few: of those in a row or close by the first."""
    marked = panel.signals != 0
    at = panel.at[marked & ~np.append(False, marked[:-1])]
    return list(_written(view, panel, plot, at, colours)) if len(at) <= NAMED_TO else []


def _written(view: View, panel: Panel, plot: Plot, at: Ints, colours: Palette) -> Iterator[str]:
    taken: list[tuple[float, float]] = []
    beyond = panel.above | panel.below
    for position in at.tolist():
        k = position - panel.first_at
        x, y = float(plot.x(np.array(position))), float(plot.y(panel.value[k]))
        name = cut(view.label(position), SMALL, 76, bold=True)
        half = width(name, SMALL, bold=True) / 2 + 3
        if panel.signals[k + 1:k + 2].any():  # clear of the mark that follows
            x -= half - 2
        x = min(max(x, plot.left + half), plot.right - half)
        under = bool(panel.below[k]) or y < plot.top + 12
        y += 22 if under else -11
        if any(abs(x - x0) < half + h0 for x0, h0 in taken):
            continue
        taken.append((x, half))
        fill = colours["alarm"] if beyond[k] else colours["watch"]
        yield svg.text(x, y, name, size=SMALL, fill=fill, bold=True, anchor="middle",
                       halo=colours["sheet"])

