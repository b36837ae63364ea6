"""Means of subgroups with their ranges or standard deviations; limits of each one's own size."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import mean_of
from qc.stats.charts.baselines import BaselineLike, base_points
from qc.stats.charts.chart import Caution, Chart, ControlChart, make_chart
from qc.stats.charts.constants import LARGEST_SIZE, c4, d2, d3
from qc.stats.charts.known import Known, cautions, span
from qc.stats.charts.rules import patterns_on, rule_set
from qc.stats.charts.spread import (
    LARGEST_FOR_RANGE,
    Subgroups,
    equal_subgroups,
    factor_each,
    subgroups,
)
from qc.stats.checks import Floats, finite_array, positive


def xbar_r_chart(
    values: npt.ArrayLike, subgroup: npt.ArrayLike | None = None, *, centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None, rules: str = "limits",
    width: float = 3.0,
) -> ControlChart:
    """Means of subgroups with three-sigma limits, and their ranges.

    Parameters
    ----------
    values : finite values in time order, any unit; or a table with a row for each subgroup
    subgroup : label of each value's subgroup; subgroups are plotted in order of first appearance.
        None where ``values`` is a table
    centre, sigma : known values in the unit of the data instead of estimates; sigma is of a
        single value, above 0
    baseline : subgroups that estimates come from, first and last or a `Baseline`; all
    rules : as `rules.rule_set` takes them; patterns are looked for among the means only
    width : distance of the limits of the means in their standard error, above 0; 3 for the others

    Returns
    -------
    ControlChart with "mean" and "range".

    Raises
    ------
    ValueError
        A value is not finite, a subgroup has one value or more than 1000, lengths differ, or an
        option is out of range.

    Notes
    -----
    sigma is the mean of R_i / d2(n_i), so R-bar / d2 where sizes are equal; the centre is the mean
    of all values in the baseline. Each subgroup is held against the limits of its own size n:
    means centre +- width sigma / sqrt(n); ranges (d2 +- 3 d3) sigma, cut at 0, around d2 sigma.
    Values must be roughly normal and independent; what varies between subgroups but not within
    them (a warming platen, say) makes the limits too narrow.

    Source
    ------
    ISO 7870-2:2013, mean and range chart. Checked against Montgomery & Runger, Applied Statistics
    and Probability for Engineers, Example 16-1, and Ishikawa, Guide to Quality Control, p. 66.
    """
    groups = several_each(values, subgroup, most=LARGEST_SIZE)
    return means_chart(groups, RANGES, Known(centre=centre, sigma=sigma), baseline=baseline,
                       rules=rules, width=width)


def xbar_s_chart(
    values: npt.ArrayLike, subgroup: npt.ArrayLike | None = None, *, centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None, rules: str = "limits",
    width: float = 3.0,
) -> ControlChart:
    """Means of subgroups with three-sigma limits, and their standard deviations.

    Parameters, source and checks as for `xbar_r_chart`.

    Returns
    -------
    ControlChart with "mean" and "standard deviation" (divisor n - 1).

    Raises
    ------
    ValueError
        As for `xbar_r_chart`; a subgroup may be of any size from 2.

    Notes
    -----
    As `xbar_r_chart` with s for R and c4 for d2: sigma is the mean of s_i / c4(n_i); standard
    deviations lie in (c4 +- 3 sqrt(1 - c4^2)) sigma, cut at 0, around c4 sigma. The chart for
    subgroups of more than ten values, where a range would waste most of them.
    """
    groups = several_each(values, subgroup)
    return means_chart(groups, DEVIATIONS, Known(centre=centre, sigma=sigma), baseline=baseline,
                       rules=rules, width=width)


@dataclass(frozen=True, slots=True, kw_only=True)
class Within:
    """What is plotted of the spread within subgroups, and its mean and standard error by size.

    ``unbiased`` and ``error`` are in units of sigma.
    """

    kind: str
    name: str
    source: str
    of: Callable[[Subgroups], Floats]
    unbiased: Callable[[int], float]
    error: Callable[[int], float]

    def sigma_each(self, groups: Subgroups) -> Floats:
        """What each subgroup, of two values and more, says of the sigma of a single value."""
        return self.of(groups) / factor_each(self.unbiased, groups.size)


RANGES = Within(
    kind="xbar-r", name="range", of=lambda groups: groups.spread_range, unbiased=d2, error=d3,
    source="ISO 7870-2:2013, mean and range chart; sigma = R-bar / d2",
)
DEVIATIONS = Within(
    kind="xbar-s", name="standard deviation", of=lambda groups: groups.deviation, unbiased=c4,
    error=lambda n: math.sqrt(1 - c4(n) ** 2),
    source="ISO 7870-2:2013, mean and standard deviation chart; sigma = s-bar / c4",
)


def several_each(
    values: npt.ArrayLike, subgroup: npt.ArrayLike | None, *, most: int | None = None
) -> Subgroups:
    """Subgroups of two and more values; a smaller (or larger than ``most``) one is named."""
    if subgroup is None:
        groups = equal_subgroups(_table(values))
    else:
        groups = subgroups(finite_array("values", values), subgroup)
    wrong = groups.size < 2 if most is None else (groups.size < 2) | (groups.size > most)
    if wrong.any():
        at = int(np.argmax(wrong))
        label = at + 1 if subgroup is None else _label(subgroup, at)
        n, allowed = int(groups.size[at]), "2 and up" if most is None else f"2..{most}"
        raise ValueError(f"subgroup has {n} value{'s' * (n > 1)} in {label!r} (point {at + 1});"
                         f" each must have {allowed}")
    return groups


def means_chart(
    groups: Subgroups, within: Within, known: Known, *, baseline: BaselineLike, rules: str,
    width: float = 3.0,
) -> ControlChart:
    """Means and spreads of subgroups with limits of their sizes; sizes are 2 and up."""
    wanted, base = rule_set(rules), base_points(baseline, len(groups.mean))
    chosen = groups.chosen(base)
    middle = _mean(chosen) if known.centre is None else float(known.centre)
    sigma = float(within.sigma_each(chosen).mean()) if known.sigma is None else float(known.sigma)
    error = factor_each(lambda n: sigma / math.sqrt(n), groups.size)
    reach = positive("width", width) * error
    main = make_chart("mean", middle, groups.mean, middle - reach, middle + reach,
                      patterns=patterns_on(groups.mean, middle, error, wanted))
    return ControlChart(
        kind=within.kind, source="; ".join(filter(None, (within.source, wanted.source))),
        sigma=sigma, charts=(main, _spread_chart(groups, within, sigma)),
        baseline=span(base, known),
        cautions=cautions(base, known, sigma) + _size_cautions(groups, within),
    )


def _table(values: npt.ArrayLike) -> Floats:
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2:
        raise ValueError(f"values has {table.ndim} dimensions; without subgroup it must be a table"
                         " with a row for each subgroup")
    return finite_array("values", table.ravel()).reshape(table.shape)


def _label(subgroup: npt.ArrayLike, at: int) -> object:
    return list(dict.fromkeys(np.asarray(subgroup).tolist()))[at]


def _mean(groups: Subgroups) -> float:
    if np.ptp(groups.size) == 0:
        return mean_of(groups.mean)
    return float(np.average(groups.mean, weights=groups.size))


def _spread_chart(groups: Subgroups, within: Within, sigma: float) -> Chart:
    middle = factor_each(lambda n: within.unbiased(n) * sigma, groups.size)
    reach = factor_each(lambda n: 3 * within.error(n) * sigma, groups.size)
    return make_chart(within.name, middle, within.of(groups), np.maximum(0.0, middle - reach),
                      middle + reach)


def _size_cautions(groups: Subgroups, within: Within) -> tuple[Caution, ...]:
    if within is RANGES and groups.size.max() > LARGEST_FOR_RANGE:
        return (Caution.LARGE_FOR_RANGE,)
    return ()
