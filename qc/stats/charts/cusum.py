"""Tabular CUSUM: small lasting shifts of single values or subgroup means, and when they began."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.charts.baselines import BaselineLike
from qc.stats.charts.chart import SLACK, Chart, ControlChart, make_chart, rounding
from qc.stats.charts.known import Known
from qc.stats.charts.plotted import Plotted, plotted_means
from qc.stats.checks import Floats, finite, positive, read_only

SOURCE = "ISO 7870-4:2021, cumulative sum charts; tabular form"
NAMES = ("upper CUSUM", "lower CUSUM")
_WIDTH = 256
_ROWS = 256


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CusumChange:
    """A shift that one side signalled.

    ``side`` : "upper" or "lower". ``signalled_at`` : first point (1-based) of this run beyond
    the decision interval. ``last_before`` : last point before the estimated change, 0 when the
    run goes back to the first point. ``n_points`` : points since then, N+ or N-. ``mean_after`` :
    mean of all values in them, in the unit of the data.
    """

    side: str
    signalled_at: int
    last_before: int
    n_points: int
    mean_after: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CusumChart(ControlChart):
    """A tabular CUSUM, upper side first.

    ``target`` : the level shifts are measured from. ``reference`` : K, and ``decision`` : H, in
    the unit of the data. ``points`` : single values or subgroup means; ``size`` : values in each
    subgroup, None for single values. Arrays are read-only.
    """

    target: float
    reference: float
    decision: float
    points: Floats
    size: Floats | None

    def summed(self) -> Floats:
        """The plain cumulative sum of distances from the target, for a plot of its slope."""
        return np.cumsum(self.points - self.target)


def cusum_chart(
    values: npt.ArrayLike, *, subgroup: npt.ArrayLike | None = None, reference: float = 0.5,
    decision: float = 5.0, head_start: float = 0.0, centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None,
) -> CusumChart:
    """Upper and lower CUSUM of single values or of subgroup means.

    Parameters
    ----------
    values : n values in time order, any unit, finite
    subgroup : label of each value's subgroup; subgroups are plotted in order of first appearance
    reference : k, half the shift to be found soon, in sigma of the plotted point, 0 or more
    decision : h, decision interval in sigma of the plotted point, above 0
    head_start : where both sides begin, in sigma of the plotted point, 0 up to below ``decision``;
        half the decision interval is the usual fast initial response
    centre, sigma : known values instead of estimates; sigma is of a single value, above 0
    baseline : plotted points that estimates come from, first and last or a `Baseline`; all

    Returns
    -------
    CusumChart with "upper CUSUM" and "lower CUSUM": both 0 or above in the unit of the data,
    centre line 0, no lower limit, upper limit the decision interval.

    Raises
    ------
    ValueError
        An argument is outside its range, named with its value; or sigma cannot be estimated.

    Notes
    -----
    C+_i = max(0, C+_(i-1) + x_i - (target + K)), C-_i = max(0, C-_(i-1) + (target - K) - x_i),
    with K = k sigma / sqrt(n) and H = h sigma / sqrt(n). A signal does not set the sum back.
    Where sizes differ, each distance from the target counts sqrt(n_i / n) times, n the mean size
    in the baseline: in its own sigma every point then weighs as in a chart of equal sizes, the
    decision interval stays one line, and run lengths hold. Neighbours must be independent.

    Source
    ------
    Page (1954), Biometrika 41, 100-115; ISO 7870-4:2021. Head start: Lucas and Crosier (1982),
    Technometrics 24, 199-205. Checked against Montgomery & Runger, Applied Statistics and
    Probability for Engineers, Table 16-8, and Montgomery, Introduction to Statistical Quality
    Control, Tables 9.1 and 9.2.
    """
    known = Known(centre=centre, sigma=sigma)
    _check_design(reference, decision, head_start)
    plot = plotted_means(values, subgroup, known, baseline)
    one = plot.sigma / np.sqrt(_typical_size(plot))
    k, h, start = (float(design * one) for design in (reference, decision, head_start))
    points, middle = _weighed(plot), plot.centre
    charts = tuple(
        make_chart(name, 0.0, value, np.nan, h)
        for name, value in zip(NAMES, _both_sides(points, middle, k, start, h), strict=True)
    )
    return CusumChart(
        kind="cusum", source=SOURCE, sigma=plot.sigma, charts=charts,
        baseline=plot.baseline, cautions=plot.cautions, target=middle, reference=k, decision=h,
        points=read_only(plot.points), size=plot.size,
    )


def periods(chart: Chart) -> npt.NDArray[np.int64]:
    """N+ or N-: how many points one side of a CUSUM has been above 0, at each point."""
    at = np.arange(len(chart.value))
    last_zero = np.maximum.accumulate(np.where(chart.value == 0, at, -1))
    counted: npt.NDArray[np.int64] = at - last_zero
    return counted


def cusum_changes(chart: CusumChart) -> tuple[CusumChange, ...]:
    """When each signalled shift began and the mean since, in order of the signals.

    Notes
    -----
    The change is dated to the last point at which the side that signals stood at 0. The mean of
    the values since equals target + K + C+ / N+ (target - K - C- / N- below), without the head
    start, and for unequal sizes weighs each point by its size. Only points up to the signal count;
    the estimate lies too far out, because a run is looked at when it is at its highest.

    Source
    ------
    Montgomery, Introduction to Statistical Quality Control, chapter on CUSUM, period counters.
    """
    found = [
        change
        for side, part in zip(("upper", "lower"), chart.charts, strict=True)
        for change in _changes(chart, side, part)
    ]
    return tuple(sorted(found, key=lambda change: change.signalled_at))


def _changes(chart: CusumChart, side: str, part: Chart) -> list[CusumChange]:
    at, counter = part.signalled(), periods(part)
    began = at - counter[at - 1]
    _, first = np.unique(began, return_index=True)  # the first signal of each run
    found = []
    for last, n in zip(at[first].tolist(), counter[at[first] - 1].tolist(), strict=True):
        found.append(CusumChange(
            side=side, signalled_at=last, last_before=last - n, n_points=n,
            mean_after=_mean_of(chart, slice(last - n, last)),
        ))
    return found


def _mean_of(chart: CusumChart, run: slice) -> float:
    if chart.size is None:
        return float(chart.points[run].mean())
    return float(np.average(chart.points[run], weights=chart.size[run]))


def _check_design(reference: float, decision: float, head_start: float) -> None:
    if finite("reference", reference) < 0:
        raise ValueError(f"reference is {reference:g}; it must be 0 or above")
    positive("decision", decision)
    if not 0 <= finite("head_start", head_start) < decision:
        raise ValueError(
            f"head_start is {head_start:g}; it must be 0 or above and below decision {decision:g}"
        )


def _typical_size(plot: Plotted) -> float:
    return 1.0 if plot.size is None else float(plot.size[plot.base.at].mean())


def _weighed(plot: Plotted) -> Floats:
    """The points as they enter the sums, of equal sigma and free of rounding where sigma is 0."""
    points = plot.points
    if plot.size is not None and not plot.even:
        weight = np.sqrt(plot.size / _typical_size(plot))
        points = plot.centre + (points - plot.centre) * weight
    if plot.sigma == 0:  # nothing to compare a distance with: rounding must not add up to one
        same = np.abs(points - plot.centre) <= rounding(plot.centre, plot.centre)
        points = np.where(same, plot.centre, points)
    return points


def _both_sides(points: Floats, middle: float, k: float, start: float, h: float) -> list[Floats]:
    """max(0, previous + distance beyond middle +- k) at each point, rising and falling.

    Without a step for each point: in a row of points whose sums from its beginning are c_j, the
    value is c_j + max(carry, -min(c_1..c_j)), where the carry is the value at the end of the row
    before. Rows are short, so that sums stay small and keep their digits.
    """
    sides = [np.empty(len(points)), np.empty(len(points))]
    carry = [start, start]
    slack = SLACK * h + rounding(middle, k)
    for part, width in _rows(len(points)):
        off = points[part].reshape(-1, width) - middle
        np.add.accumulate(off, axis=1, out=off)
        drift = -k * np.arange(1, width + 1)
        for side, combine in enumerate((np.add, np.subtract)):
            out = sides[side][part].reshape(-1, width)
            combine(drift, off, out=out)
            carry[side] = _sum_rows(out, carry[side])
            _onto_lines(sides[side][part], h, slack)
    return sides


def _rows(n_points: int) -> Iterator[tuple[slice, int]]:
    """Stretches of whole rows that the processor's cache holds, the rest as one row at the end."""
    whole = n_points // _WIDTH * _WIDTH
    for first in range(0, whole, _WIDTH * _ROWS):
        yield slice(first, min(first + _WIDTH * _ROWS, whole)), _WIDTH
    if whole < n_points:
        yield slice(whole, n_points), n_points - whole


def _sum_rows(rows: Floats, carry: float) -> float:
    """Turn each row's sums into one-sided ones in place, one row after another; the last."""
    floor = np.minimum.accumulate(rows, axis=1)
    carries = []
    for end, lowest in zip(rows[:, -1].tolist(), floor[:, -1].tolist(), strict=True):
        carries.append(carry)
        carry = end + max(carry, -lowest)
    np.minimum(floor, -np.array(carries)[:, None], out=floor)
    np.subtract(rows, floor, out=rows)
    return carry


def _onto_lines(value: Floats, limit: float, slack: float) -> None:
    """Put sums that differ from 0 or from the limit by rounding alone onto them."""
    value[np.flatnonzero((value <= slack) & (value != 0))] = 0.0
    high = np.flatnonzero(value >= limit - slack)
    value[high[value[high] <= limit + slack]] = limit
