"""Individuals and moving range: single values in time order."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import mean_of
from qc.stats.charts.baselines import BaselineLike, base_points
from qc.stats.charts.chart import Chart, ControlChart, make_chart
from qc.stats.charts.constants import d2, d3
from qc.stats.charts.known import Known, cautions, span
from qc.stats.charts.rules import patterns_on, rule_set
from qc.stats.charts.spread import moving_range_sigma
from qc.stats.checks import Floats, finite_array, positive

SOURCE = "ISO 7870-2:2013, individuals and moving range chart; sigma = MR-bar / d2"


def individuals_chart(
    values: npt.ArrayLike, *, centre: float | None = None, sigma: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", width: float = 3.0,
) -> ControlChart:
    """Single values with three-sigma limits, and their moving ranges.

    Parameters
    ----------
    values : n values in time order, any unit, finite, n >= 2
    centre, sigma : known values in the unit of the data instead of estimates; sigma > 0
    baseline : points that estimates come from, first and last or a `Baseline`; all points
    rules : as `rules.rule_set` takes them; patterns are looked for among the values only
    width : distance of the limits of the values in sigma, above 0; moving ranges keep 3

    Returns
    -------
    ControlChart with "individuals" and "moving range" (from point 2).

    Raises
    ------
    ValueError
        Too few or not finite values, sigma not above 0, a baseline outside the points or too
        short for a moving range.

    Notes
    -----
    Limits mean +- width MR-bar / d2(2); moving range (1 + 3 d3 / d2) MR-bar, its lower limit 0.
    Values must be roughly normal and independent of their neighbours; a slow cycle makes the
    moving range too small.

    Source
    ------
    ISO 7870-2:2013, charts for individuals. Checked against Montgomery & Runger, Applied
    Statistics and Probability for Engineers, Table 16-3.
    """
    return values_chart(
        finite_array("values", values, at_least=2), Known(centre=centre, sigma=sigma),
        baseline=baseline, rules=rules, width=width,
    )


def values_chart(
    x: Floats, known: Known, *, baseline: BaselineLike, rules: str, width: float = 3.0
) -> ControlChart:
    """The chart of two or more finite values; it keeps the array and closes it to writing."""
    wanted, base = rule_set(rules), base_points(baseline, len(x))
    middle = mean_of(x[base.at]) if known.centre is None else float(known.centre)
    spread = moving_range_sigma(x, base) if known.sigma is None else float(known.sigma)
    reach = positive("width", width) * spread
    main = make_chart("individuals", middle, x, middle - reach, middle + reach,
                      patterns=patterns_on(x, middle, spread, wanted))
    return ControlChart(
        kind="individuals", source="; ".join(filter(None, (SOURCE, wanted.source))),
        sigma=spread, charts=(main, _moving_range(x, spread)),
        baseline=span(base, known), cautions=cautions(base, known, spread),
    )


def _moving_range(x: Floats, sigma: float) -> Chart:
    middle, reach = d2(2) * sigma, 3 * d3(2) * sigma
    ranges = np.diff(x)
    return make_chart("moving range", middle, np.abs(ranges, out=ranges),
                      max(0.0, middle - reach), middle + reach, first_at=2)
