"""Short runs: many parts on one chart, by their deviations, standardised, or as Q statistics."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.stats.charts.baselines import BaselineLike, BasePoints, base_points
from qc.stats.charts.chart import FEW_POINTS, Caution, ControlChart
from qc.stats.charts.constants import LARGEST_SIZE
from qc.stats.charts.individuals import values_chart
from qc.stats.charts.known import Known
from qc.stats.charts.parts import (
    Points,
    each_label,
    each_number,
    levels_of,
    parts_of,
    spreads_differ,
)
from qc.stats.charts.rules import rule_set
from qc.stats.charts.spread import Subgroups, gathered
from qc.stats.charts.subgroup_means import DEVIATIONS, RANGES, Within, means_chart, several_each
from qc.stats.checks import Floats, given_values, refuse_where

SOURCE = "Bothe (1988), Farnum (1992), short production runs; limits as in ISO 7870-2:2013"
WITHIN = {within.name: within for within in (RANGES, DEVIATIONS)}


def deviation_chart(
    values: npt.ArrayLike, nominal: npt.ArrayLike, *, subgroup: npt.ArrayLike | None = None,
    part: npt.ArrayLike | None = None, within: str = "range", centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Deviations from nominal of many parts on one chart: single values, or means of subgroups.

    Parameters
    ----------
    values : finite values in time order, any unit
    nominal : what each value should be, or one number for all; unit of the values
    subgroup : label of each value's subgroup, all of one part; None: single values
    part : label of each value's part, to see whether all vary alike; None: not looked at
    within : 'range' or 'standard deviation': what goes with the means of subgroups
    centre, sigma : known values instead of estimates, of deviations; sigma of a single value
    baseline : plotted points that estimates come from, first and last or a `Baseline`; all
    rules : as `qc.stats.charts.rules.rule_set` takes them

    Returns
    -------
    ControlChart with "deviation from nominal" and "moving range", or with "mean deviation from
    nominal" and "range" or "standard deviation".

    Raises
    ------
    ValueError
        As for the chart of values or of means; a subgroup holds two nominals.

    Notes
    -----
    The individuals or the mean chart of value - nominal. One sigma serves all parts, so they must
    vary alike: a caution says when the parts' variances differ (Bartlett, false once in 100); then
    take `standardised_chart`. Moving ranges join neighbours, of one part or of two.

    Source
    ------
    Bothe (1988), SPC for Short Production Runs; Farnum (1992), J. Quality Technology 24(3),
    138-144 (both from memory).
    """
    run = _run(values, subgroup, within)
    off = _scaled(run.points, run.number("nominal", nominal))
    chart = _chart(off, run.within, Known(centre=centre, sigma=sigma), baseline, rules)
    uneven = False
    if part is not None:
        parts = parts_of(run.label("part", part))
        uneven = spreads_differ(off, parts, base_points(baseline, run.n_points))
    name = "deviation" if subgroup is None else "mean deviation"
    return replace(
        chart, kind="deviation", source=_source(rules),
        charts=(replace(chart.charts[0], name=f"{name} from nominal"), chart.charts[1]),
        cautions=chart.cautions + (Caution.UNEQUAL_SPREADS,) * uneven,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLevel:
    """A part's centre and the sigma of its single values, in the unit of the data.

    ``n`` : points of it in the baseline.
    """

    part: object
    n: int
    centre: float
    sigma: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StandardisedChart(ControlChart):
    """A chart in units of each part's own sigma; ``parts`` : what was estimated of each part."""

    parts: tuple[PartLevel, ...]


def standardised_chart(
    values: npt.ArrayLike, nominal: npt.ArrayLike | None = None,
    spread: npt.ArrayLike | None = None, *, part: npt.ArrayLike | None = None,
    subgroup: npt.ArrayLike | None = None, within: str = "range", baseline: BaselineLike = None,
    rules: str = "limits",
) -> StandardisedChart:
    """Values or means of many parts, each as its distance from its part's level in sigma.

    Parameters
    ----------
    values : finite values in time order, any unit
    nominal : level of each value's part, or one number for all; None: the part's mean
    spread : sigma of single values of each value's part, or one number; None: estimated
    part : label of each value's part; None: values of one nominal are one part
    subgroup, within, baseline, rules : as for `deviation_chart`

    Returns
    -------
    StandardisedChart with "standardised value" and "moving range", or with "standardised mean" and
    "range" or "standard deviation"; all in units of sigma.

    Raises
    ------
    ValueError
        As for the chart of values or of means; a subgroup holds two parts; a part is unknown, has
        too little in the baseline, or does not vary there.

    Notes
    -----
    z = (x - nominal) / spread for each value; then the chart of values with centre 0 and sigma 1.
    Where nothing is known of a part, its mean and its own R-bar / d2 (s-bar / c4, or MR-bar / d2
    between its consecutive values) in the baseline stand in: with few of them, its limits are wide
    of the mark, and `q_chart` serves better.

    Source
    ------
    As for `deviation_chart`.
    """
    run = _run(values, subgroup, within)
    base = base_points(baseline, run.n_points)
    levels = _levels(run, base, nominal=nominal, spread=spread, part=part)
    z = _scaled(run.points, levels.centre, levels.sigma)
    chart = _chart(z, run.within, Known(centre=0.0, sigma=1.0), None, rules)
    few = any(level.n < FEW_POINTS for level in levels.parts)
    name = "value" if subgroup is None else "mean"
    return StandardisedChart(
        kind="standardised", source=_source(rules), sigma=None,
        charts=(replace(chart.charts[0], name=f"standardised {name}"), chart.charts[1]),
        baseline=base.baseline if levels.parts else None, parts=levels.parts,
        cautions=(Caution.TOO_FEW_POINTS,) * few + chart.cautions,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Run:
    """Values in time order, and the points plotted of them."""

    x: Floats
    subgroup: npt.ArrayLike | None
    within: Within
    points: Points

    @property
    def n_points(self) -> int:
        return len(self.points.mean if isinstance(self.points, Subgroups) else self.points)

    def number(self, name: str, given: npt.ArrayLike) -> Floats:
        """A number given for each value, or once for all: for each point."""
        return self._of_point(name, each_number(name, given, self.x))

    def label(self, name: str, given: npt.ArrayLike) -> npt.NDArray[Any]:
        """A label given for each value, or once for all: for each point."""
        return self._of_point(name, each_label(name, given, self.x))

    def _of_point(self, name: str, each: npt.NDArray[Any]) -> npt.NDArray[Any]:
        if self.subgroup is None:
            return each
        ordered, starts = gathered(each, self.subgroup)
        of_point = ordered[starts]
        if (ordered != np.repeat(of_point, np.diff(starts, append=len(ordered)))).any():
            raise ValueError(f"{name} differs within a subgroup; a subgroup is of one part")
        return of_point


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Levels:
    """Centre and sigma at each point, and of each part where anything of it was estimated."""

    centre: Floats
    sigma: Floats
    parts: tuple[PartLevel, ...]


def _run(values: npt.ArrayLike, subgroup: npt.ArrayLike | None, within: str) -> _Run:
    if within not in WITHIN:
        raise ValueError(f"within is {within!r}; allowed: {', '.join(WITHIN)}")
    kind = WITHIN[within]
    x = given_values("values", values, at_least=2)
    most = LARGEST_SIZE if kind is RANGES else None
    points: Points = x if subgroup is None else several_each(x, subgroup, most=most)
    return _Run(x=x, subgroup=subgroup, within=kind, points=points)


def _scaled(points: Points, zero: Floats, unit: Floats | None = None) -> Points:
    if isinstance(points, Subgroups):
        return points.scaled(zero, 1.0 if unit is None else unit)
    off = points - zero
    return off if unit is None else np.divide(off, unit, out=off)


def _chart(
    points: Points, within: Within, known: Known, baseline: BaselineLike, rules: str
) -> ControlChart:
    if isinstance(points, Subgroups):
        return means_chart(points, within, known, baseline=baseline, rules=rules)
    return values_chart(points, known, baseline=baseline, rules=rules)


def _levels(
    run: _Run, base: BasePoints, *, nominal: npt.ArrayLike | None, spread: npt.ArrayLike | None,
    part: npt.ArrayLike | None,
) -> _Levels:
    centre = None if nominal is None else run.number("nominal", nominal)
    sigma = None if spread is None else run.number("spread", spread)
    if sigma is not None:
        refuse_where("spread", sigma, sigma <= 0, "numbers above 0")
    if centre is not None and sigma is not None:
        return _Levels(centre=centre, sigma=sigma, parts=())
    label = centre if part is None else run.label("part", part)
    if label is None:
        raise ValueError("part is not given; without nominal it must say which values go together")
    parts = parts_of(label)
    own = levels_of(run.points, run.within, parts, base)
    first = parts.order[parts.starts]
    of_part = (own.centre if centre is None else centre[first],
               own.sigma if sigma is None else sigma[first])
    found = tuple(map(_known_level, parts.labels.tolist(), own.n.tolist(), *of_part))
    return _Levels(
        centre=parts.at_points(of_part[0]) if centre is None else centre,
        sigma=parts.at_points(of_part[1]) if sigma is None else sigma, parts=found,
    )


def _known_level(part: object, n: int, centre: float, sigma: float) -> PartLevel:
    if np.isnan(centre):
        raise ValueError(f"part has no point in {part!r} inside the baseline; give its nominal and"
                         " spread, or a baseline with it")
    if np.isnan(sigma):
        raise ValueError(f"part has too few values in {part!r} inside the baseline; its spread"
                         " needs two next to each other")
    if sigma == 0:
        raise ValueError(f"part has no variation in {part!r} inside the baseline; its spread must"
                         " be above 0: give it")
    return PartLevel(part=part, n=n, centre=float(centre), sigma=float(sigma))


def _source(rules: str) -> str:
    return "; ".join(filter(None, (SOURCE, rule_set(rules).source)))
