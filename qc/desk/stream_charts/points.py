"""The points of a stream, before a chart is made of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.domain.streams import Stream

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

Cell = tuple[str | None, str | None, str | None]
"""Fabric, transfer and place: what makes work hard or easy."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Points:
    """Points in plotted order; every array has one entry for each.

    ``start_us``, ``end_us`` : the time each stands for, end exclusive. ``labels`` : names of the
    points where they have any (jobs, surveys), else empty. ``n`` : pieces or readings in each.
    """

    stream: Stream
    start_us: Ints
    end_us: Ints
    n: Ints
    labels: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.start_us)

    def key(self, at: int) -> str:
        """What the point at a 1-based position is known by: its name, else when it begins."""
        return self.labels[at - 1] if self.labels else str(int(self.start_us[at - 1]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountPoints(Points):
    """Counted points. ``count`` : pieces with the defect, or defects; ``usual`` : what the mix of
    each point usually gives, a piece; ``mix`` : pieces of each cell at each point, (points,
    cells); ``cells`` and ``rates`` : the cells and their usual rate in the whole shop."""

    count: Ints
    usual: Floats
    mix: Floats
    cells: tuple[Cell, ...]
    rates: Floats

    @property
    def share(self) -> Floats:
        """Counted for each piece."""
        return self.count / self.n

    def usual_at(self, rates: dict[Cell, float], otherwise: float) -> Floats:
        """What the mix of each point gives at other rates; cells they lack take ``otherwise``."""
        each = np.array([rates.get(cell, otherwise) for cell in self.cells], dtype=np.float64)
        found: Floats = self.mix @ each / self.n
        return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ValuePoints(Points):
    """Measured points in stored units. ``value`` : (points, measures), the mean of each; ``rows`` :
    (readings, measures), single readings in plotted order, and ``point_of`` : the point each
    belongs to. ``units``, ``scales`` : of each measure the unit a shop reads, and the factor to it
    from the stored one. ``left_out`` : readings without a target."""

    value: Floats
    rows: Floats
    point_of: Ints
    units: tuple[str, ...]
    scales: tuple[float, ...]
    left_out: int = 0

    @property
    def unit(self) -> str:
        """The unit the first measure is read in."""
        return self.units[0]

    @property
    def single(self) -> bool:
        """Whether every point is one reading."""
        return len(self.rows) == len(self.value)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GapPoints(Points):
    """Good pieces between one piece with the defect and the next. ``between`` : how many;
    ``since_last`` : good pieces since the last one; ``blocks`` : counted blocks are among the
    pieces, whose order is not known."""

    between: Ints
    since_last: int
    blocks: bool


def as_counts(points: Points) -> CountPoints:
    """Points that are counts; TypeError: they are not."""
    if not isinstance(points, CountPoints):
        raise TypeError(f"points are {type(points).__name__}; this chart takes counts")
    return points


def as_values(points: Points) -> ValuePoints:
    """Points that are measured; TypeError: they are not."""
    if not isinstance(points, ValuePoints):
        raise TypeError(f"points are {type(points).__name__}; this chart takes measured values")
    return points


def as_gaps(points: Points) -> GapPoints:
    """Runs between two; TypeError: they are not."""
    if not isinstance(points, GapPoints):
        raise TypeError(f"points are {type(points).__name__}; this chart takes runs between two")
    return points
