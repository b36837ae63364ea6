"""Where values lie on a drawing, and lines and bands of any length as short paths.

Past two points a pixel nothing is drawn that could not be seen: of the points in each column of
one pixel the whole span is kept, and the span of their middle half; of the limits in it what all
have in common and, paler, what any of them reaches.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reports.picture.svg import polyline

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

THIN = 1.2
"""So thick is the span of points that are all equal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plot:
    """A rectangle of the drawing: ``n`` points side by side, values from ``low`` to ``high``.

    Every point has a cell of its own, and stands in the middle of it.
    """

    left: float
    top: float
    width: float
    height: float
    n: int
    low: float
    high: float

    @property
    def bottom(self) -> float:
        return self.top + self.height

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def cell(self) -> float:
        return self.width / self.n

    def x(self, at: Ints) -> Floats:
        """Middles of the cells of positions (1-based)."""
        return np.asarray(self.left + (at - 0.5) * self.cell, dtype=np.float64)

    def edge(self, at: Ints) -> Floats:
        """Left edges of the cells of positions (1-based)."""
        return np.asarray(self.left + (at - 1) * self.cell, dtype=np.float64)

    def y(self, value: Floats) -> Floats:
        """Heights of values; beyond the rectangle they lie on its edge."""
        part = (self.high - value) / (self.high - self.low)
        height: Floats = self.top + np.clip(part, 0.0, 1.0) * self.height
        return height

    def many(self, n: int) -> bool:
        """Whether so many points are more than can be told apart."""
        return n > 2 * self.width


def line_path(plot: Plot, value: Floats, first_at: int) -> str:
    """The path through all points, broken where one has no value."""
    at = np.arange(first_at, first_at + len(value))
    gaps = np.flatnonzero(np.isnan(value))
    parts = zip(np.split(at, gaps), np.split(value, gaps), strict=True)
    return "".join(_line(plot, *_known(*part)) for part in parts)


def span_paths(plot: Plot, value: Floats, first_at: int) -> tuple[str, str]:
    """Where points crowd: the span of those in each column, and of their middle half."""
    at, value = _known(np.arange(first_at, first_at + len(value)), value)
    starts, edges = _column_edges(plot, at)
    columns = np.split(value, starts[1:])
    middle = np.array([np.percentile(column, (25, 75)) for column in columns])
    least, most = np.minimum.reduceat(value, starts), np.maximum.reduceat(value, starts)
    return (_area(plot, edges, least, most, thick=THIN),
            _area(plot, edges, middle[:, 0], middle[:, 1], thick=THIN))


def _known(at: Ints, value: Floats) -> tuple[Ints, Floats]:
    """The points that have a value."""
    there = ~np.isnan(value)
    return (at, value) if there.all() else (at[there], value[there])


def _line(plot: Plot, at: Ints, value: Floats) -> str:
    if not len(at):
        return ""
    return polyline(zip(plot.x(at).tolist(), plot.y(value).tolist(), strict=True))


def step_path(plot: Plot, value: Floats, first_at: int) -> str:
    """A line that is level over each point's cell; the middle of each column where points crowd."""
    starts, edges = _runs(plot, (value,), first_at)
    if plot.many(len(starts)):
        starts, edges = _column_edges(plot, np.arange(first_at, first_at + len(value)))
        sums = np.add.reduceat(value, starts)
        level = sums / np.diff(np.append(starts, len(value)))
    else:
        level = value[starts]
    height = plot.y(level)
    x = np.repeat(edges, 2)[1:-1]
    return polyline(zip(x.tolist(), np.repeat(height, 2).tolist(), strict=True))


def band_paths(plot: Plot, lower: Floats, upper: Floats, first_at: int) -> tuple[str, str | None]:
    """The band between limits, stepping with them; then, where points crowd, its outer edge.

    A limit that does not exist (nan) leaves the band open to the edge of the plot.
    """
    low = np.nan_to_num(lower, nan=plot.low) if np.isnan(lower).any() else lower
    high = np.nan_to_num(upper, nan=plot.high) if np.isnan(upper).any() else upper
    starts, edges = _runs(plot, (low, high), first_at)
    if not plot.many(len(starts)):
        return _area(plot, edges, low[starts], high[starts]), None
    starts, edges = _column_edges(plot, np.arange(first_at, first_at + len(low)))
    least, most = np.minimum.reduceat, np.maximum.reduceat
    inner = _area(plot, edges, most(low, starts), least(high, starts))
    return inner, _area(plot, edges, least(low, starts), most(high, starts))


def seen_once(x: Floats, y: Floats, most: int) -> list[tuple[float, float]]:
    """Places of marks; where there are more than so many, those on one pixel are drawn once."""
    places = np.column_stack((x, y))
    if len(places) > most:
        places = np.unique(np.round(places), axis=0)
    return [(float(a), float(b)) for a, b in places]


def _runs(plot: Plot, lines: tuple[Floats, ...], first_at: int) -> tuple[Ints, Floats]:
    """Starts of stretches where nothing changes, and their edges (one more)."""
    changes = np.zeros(len(lines[0]), dtype=bool)
    changes[0] = True
    for line in lines:
        changes[1:] |= line[1:] != line[:-1]
    starts = np.flatnonzero(changes)
    return starts, plot.edge(np.append(starts, len(lines[0])) + first_at)


def _column_edges(plot: Plot, at: Ints) -> tuple[Ints, Floats]:
    """Starts of the stretches of points that share a column of one pixel, and their edges."""
    column = np.floor(plot.x(at) - plot.left).astype(np.int64)
    starts = np.flatnonzero(np.diff(column, prepend=-1))
    return starts, plot.edge(np.append(at[starts], at[-1] + 1))


def _area(plot: Plot, edges: Floats, lower: Floats, upper: Floats, *, thick: float = 0.0) -> str:
    """An area between two stepping lines, nowhere thinner than ``thick``."""
    x = np.repeat(edges, 2)[1:-1]
    top, bottom = plot.y(upper), plot.y(lower)
    room = np.maximum(thick - (bottom - top), 0.0) / 2
    top, bottom = np.repeat(top - room, 2), np.repeat(bottom + room, 2)
    there = zip(x.tolist(), top.tolist(), strict=True)
    back = zip(x[::-1].tolist(), bottom[::-1].tolist(), strict=True)
    return polyline([*there, *back]) + "z"
