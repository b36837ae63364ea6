"""Two axes at right angles for a drawing of values against values: places, ticks and their grid."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from reports.picture import svg
from reports.picture.palette import Palette
from reports.picture.plot import Floats
from reports.picture.setting import SMALL
from reports.picture.ticks import Scale, grouped, log_ticks, short, tidy_scale
from reports.picture.type import cut, width

ROW = 17.0
"""Height of a row of names above a field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Axis:
    """Values ``low`` to ``high`` over a stretch of the drawing, ``start`` to ``end``.

    ``log`` : by their ratios; both ends are above 0. ``every`` : room for one tick. ``marks`` :
    values to write instead of round ones, as far as they have room.
    """

    low: float
    high: float
    start: float
    end: float
    log: bool = False
    whole: bool = False
    every: float = 70.0
    marks: tuple[float, ...] = ()

    def at(self, value: Floats) -> Floats:
        """Places of values; beyond the ends they lie on them."""
        value = np.clip(value, self.low, self.high)
        if self.log:
            part = np.log(value / self.low) / math.log(self.high / self.low)
        else:
            part = (value - self.low) / (self.high - self.low)
        return np.asarray(self.start + part * (self.end - self.start), dtype=np.float64)

    def one(self, value: float) -> float:
        """The place of one value."""
        return float(self.at(np.array(value)))

    @property
    def scale(self) -> Scale:
        """Its ticks."""
        about = max(int(abs(self.end - self.start) / self.every), 1)
        if self.log:
            return log_ticks(self.low, self.high, about=about)
        return tidy_scale(self.low, self.high, about=about, whole=self.whole)

    def ticks(self) -> list[tuple[float, str]]:
        """Places of ticks and what is written at them."""
        if self.marks:
            return _with_room([(self.one(value), short(value)) for value in self.marks])
        scale = self.scale
        return [(self.one(value), scale.label(value)) for value in scale.at]


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A rectangle between two axes; ``y`` starts at its foot, or at its top where it points down.
    """

    x: Axis
    y: Axis

    @property
    def left(self) -> float:
        return self.x.start

    @property
    def right(self) -> float:
        return self.x.end

    @property
    def top(self) -> float:
        return min(self.y.start, self.y.end)

    @property
    def bottom(self) -> float:
        return max(self.y.start, self.y.end)

    def places(self, x: Floats, y: Floats) -> Iterator[tuple[float, float]]:
        """Corners of a path through points."""
        return zip(self.x.at(x).tolist(), self.y.at(y).tolist(), strict=True)

    def upright(self, value: float) -> str:
        """The path of a line from foot to top at a value of x."""
        return f"M{svg.number(self.x.one(value))} {svg.number(self.bottom)}V{svg.number(self.top)}"


def _with_room(ticks: list[tuple[float, str]]) -> list[tuple[float, str]]:
    """Ticks from left to right whose words do not touch."""
    kept: list[tuple[float, str]] = []
    taken = -math.inf
    for x, label in ticks:
        half = width(label, SMALL) / 2 + 4
        if x - half >= taken:
            kept.append((x, label))
            taken = x + half
    return kept


def gutter(labels: Iterable[str]) -> float:
    """Room for the widest of labels left of a field."""
    return max([0.0, *(width(label, SMALL) for label in labels)]) + 9


def grid(field: Field, colours: Palette, *, upright: bool = False) -> list[str]:
    """Lines at the ticks of y, and of x where asked, with the numbers of y."""
    heights = field.y.ticks()
    d = "".join(f"M{svg.number(field.left)} {svg.number(y)}H{svg.number(field.right)}"
                for y, _ in heights)
    if upright:
        d += "".join(f"M{svg.number(x)} {svg.number(field.top)}V{svg.number(field.bottom)}"
                     for x, _ in field.x.ticks())
    return [
        svg.element("path", d=d, stroke=colours["rule"], stroke_width="0.8", fill="none"),
        *(svg.text(field.left - 7, y + 4.4, label, size=SMALL, fill=colours["soft"], anchor="end")
          for y, label in heights),
    ]


def foot(field: Field, name: str, colours: Palette, *, limit: float) -> list[str]:
    """The line of x below a field, its numbers and its name; nothing lies beyond ``limit``."""
    marks = field.x.ticks()
    ticks = "".join(f"M{svg.number(x)} {svg.number(field.bottom)}v5" for x, _ in marks)
    line = f"M{svg.number(field.left)} {svg.number(field.bottom)}H{svg.number(field.right)}{ticks}"
    parts = [svg.element("path", d=line, stroke=colours["edge"], stroke_width="1", fill="none")]
    for x, label in marks:
        half = width(label, SMALL) / 2
        parts.append(svg.text(min(x, limit - 4 - half), field.bottom + 19, label, size=SMALL,
                              fill=colours["soft"], anchor="middle"))
    power = 0 if field.x.marks else field.x.scale.power
    name = f"{name} × 10^{grouped(power, 0)}".strip() if power else name
    parts.append(svg.text(field.right, field.bottom + 37,
                          cut(name, SMALL, field.right - field.left), size=SMALL,
                          fill=colours["soft"], anchor="end"))
    return parts


FOOT = 48.0
"""Height of what stands below a field."""


def rows_of_names(names: Iterable[tuple[float, str]], left: float, right: float
                  ) -> list[tuple[float, int, str]]:
    """Middles and rows (0 the lowest) of names above places, so that none lies on another."""
    placed: list[tuple[float, int, str]] = []
    taken: list[tuple[int, float, float]] = []
    for x, name in names:
        name = cut(name, SMALL, right - left, bold=True)
        half = width(name, SMALL, bold=True) / 2 + 4
        x = min(max(x, left + half), right - half)
        row = next(k for k in range(99) if all(
            k != other or x + half <= a or b <= x - half for other, a, b in taken))
        taken.append((row, x - half, x + half))
        placed.append((x, row, name))
    return placed
