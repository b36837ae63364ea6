"""What to know of the points a chart's limits come from, before the limits are trusted."""

from __future__ import annotations

from typing import Any

from qc.desk.chart_kinds import ChartKind
from qc.stats.charts.chart import Caution, ControlChart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.phase_one import judge_baseline

JUDGED = frozenset({"individuals", "xbar-r", "xbar-s", "p", "np", "c", "u", "p-prime", "u-prime",
                    "deviation", "standardised"})
"""Kinds whose baseline can be judged from the chart itself."""
REMEMBERING = frozenset({"ewma", "cusum"})
"""Kinds of single values whose baseline is judged from a chart of the values themselves."""
OTHER_LIMITS = frozenset({"width", "limits", "alpha"})


def chart_cautions(
    chart: ControlChart, kind: ChartKind, columns: dict[str, Any], options: dict[str, Any]
) -> tuple[Caution, ...]:
    """What speaks against the baseline, then what the chart itself says.

    A baseline is judged by limits of three sigma, whatever limits are drawn.
    """
    plain = None if chart.baseline is None else _plain(chart, kind, columns, options)
    if plain is None:
        return chart.cautions
    known = set(plain.cautions)
    judged = [caution for caution in judge_baseline(plain).cautions if caution not in known]
    return tuple(dict.fromkeys([*judged, *chart.cautions]))


def _plain(
    chart: ControlChart, kind: ChartKind, columns: dict[str, Any], options: dict[str, Any]
) -> ControlChart | None:
    """The same points with limits of three sigma; None where no judgement fits them."""
    if chart.kind in REMEMBERING and "subgroup" not in columns:
        given = {name: options[name] for name in ("centre", "sigma", "baseline") if name in options}
        return individuals_chart(columns["values"], **given)
    if chart.kind not in JUDGED:
        return None
    if not OTHER_LIMITS & options.keys():
        return chart
    same = {name: value for name, value in options.items() if name not in OTHER_LIMITS}
    return kind.make(**columns, **same)
