"""A control chart of the points of a stream, by kind; its limits from a baseline, or frozen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from qc.desk.stream_charts.points import (
    Cell,
    CountPoints,
    Floats,
    Points,
    ValuePoints,
    as_counts,
    as_gaps,
    as_values,
)
from qc.stats.charts.baselines import Baseline
from qc.stats.charts.chart import ControlChart
from qc.stats.charts.cusum import cusum_chart
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.laney import p_prime_chart, u_prime_chart
from qc.stats.charts.mewma import MewmaChart, mewma_chart
from qc.stats.charts.mix import MixChart, mix_chart
from qc.stats.charts.multivariate import T2Chart, t2_chart
from qc.stats.charts.rare_events import g_chart
from qc.stats.charts.shewhart_counts import p_chart, u_chart
from qc.stats.charts.subgroup_means import xbar_s_chart
from qc.stats.runlength.mewma import USUAL_ARL, mewma_decision

Known = Mapping[str, Any]
"""What limits rest on, as JSON can hold it: the arguments a chart function takes instead of a
baseline; for charts about the mix also the usual rate of each cell."""

MEWMA_WEIGHT = 0.1
RULES_FOR = {"mix": "mix", "mix-u": "mix", "p-exact": "p", "u-exact": "u"}
"""The kind whose rules suit a kind of stream chart, where the two names differ."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Wanted:
    """How the chart is to be made: ``known`` limits, or those of a ``baseline``; ``rules`` beyond
    the limits."""

    baseline: Baseline | None = None
    known: Known | None = None
    rules: str = "limits"


def make(points: Points, kind: str, wanted: Wanted) -> ControlChart:
    """The chart of this kind.

    Raises
    ------
    ValueError
        The points cannot be charted so: too few, or without variation.
    """
    return _MAKERS[kind](points, wanted)


def plain(points: Points, kind: str, wanted: Wanted) -> ControlChart:
    """The chart a baseline is judged by: the points themselves, not what they add up to."""
    if kind in ("ewma", "cusum"):
        return individuals_chart(values_of(points, wanted.known), baseline=wanted.baseline)
    return make(points, kind, wanted)


def known_of(chart: ControlChart, points: Points) -> dict[str, Any]:
    """What freezes the limits of a chart that was made from a baseline."""
    if isinstance(chart, MixChart):
        return {"ratio": chart.ratio, "spread": chart.spread, "rates": _rates(as_counts(points))}
    if isinstance(chart, T2Chart | MewmaChart):
        vectors = chart.vectors
        return {"mean": vectors.mean.tolist(), "covariance": vectors.covariance.tolist()}
    if chart.kind == "g":
        return {"centre": float(mean_gap(chart))}
    main = chart.charts[0]
    centre = float(getattr(chart, "target", main.centre))
    known: dict[str, Any] = {"centre": centre}
    if chart.sigma is not None:
        known["sigma"] = float(chart.sigma)
    if isinstance(points, CountPoints) and chart.kind in ("ewma", "cusum"):
        known["rates"] = _rates(points)
    return known


def _rates(points: CountPoints) -> list[list[Any]]:
    return [[*cell, float(rate)] for cell, rate in zip(points.cells, points.rates, strict=True)]


def values_of(points: Points, known: Known | None = None) -> Floats:
    """Single values to chart: what was measured, or the score of each count about its mix."""
    if isinstance(points, ValuePoints):
        return points.value[:, 0].copy()
    points = as_counts(points)
    usual = _usual(points, known)
    variance = usual if points.stream.per_unit else usual * (1 - usual)
    with np.errstate(divide="ignore", invalid="ignore"):
        scores: Floats = (points.share - usual) / np.sqrt(variance / points.n)
    return np.nan_to_num(scores, nan=0.0, posinf=0.0, neginf=0.0)


def mean_gap(chart: ControlChart) -> float:
    """Mean good pieces between two events in the baseline of a g chart."""
    main, base = chart.charts[0], chart.baseline
    if base is None:
        return float("nan")
    left = {one.at for one in base.excluded}
    at = [k for k in range(base.first, base.last + 1) if k not in left]
    return float(np.mean(main.value[np.array(at) - 1]))


def _usual(points: CountPoints, known: Known | None) -> Floats:
    if known is None or "rates" not in known:
        return points.usual
    rates: dict[Cell, float] = {
        (row[0], row[1], row[2]): float(row[3]) for row in known["rates"]}
    middle = float(np.mean(list(rates.values()))) if rates else 0.0
    return points.usual_at(rates, middle)


def _mix(points: Points, wanted: Wanted) -> ControlChart:
    points = as_counts(points)
    given = {name: wanted.known[name] for name in ("ratio", "spread")} if wanted.known else {}
    return mix_chart(points.count, points.n, _usual(points, wanted.known), rules=wanted.rules,
                     per_unit=points.stream.per_unit, baseline=wanted.baseline,
                     limits="probability", **given)


def _counted(points: Points, wanted: Wanted, *, limits: str) -> ControlChart:
    points = as_counts(points)
    chart = u_chart if points.stream.per_unit else p_chart
    return chart(points.count, points.n, baseline=wanted.baseline, rules=wanted.rules,
                 limits=limits, **_given(wanted, "centre"))


def _prime(points: Points, wanted: Wanted) -> ControlChart:
    points = as_counts(points)
    chart = u_prime_chart if points.stream.per_unit else p_prime_chart
    return chart(points.count, points.n, baseline=wanted.baseline, rules=wanted.rules,
                 **_given(wanted, "centre", "sigma"))


def _gaps(points: Points, wanted: Wanted) -> ControlChart:
    points = as_gaps(points)
    return g_chart(points.between, baseline=wanted.baseline, rules=wanted.rules,
                   limits="probability", **_given(wanted, "centre"))


def _individuals(points: Points, wanted: Wanted) -> ControlChart:
    return individuals_chart(values_of(points), baseline=wanted.baseline, rules=wanted.rules,
                             **_given(wanted, "centre", "sigma"))


def _means(points: Points, wanted: Wanted) -> ControlChart:
    points = as_values(points)
    return xbar_s_chart(points.rows[:, 0], points.point_of, baseline=wanted.baseline,
                        rules=wanted.rules, **_given(wanted, "centre", "sigma"))


def _ewma(points: Points, wanted: Wanted) -> ControlChart:
    return ewma_chart(values_of(points, wanted.known), baseline=wanted.baseline,
                      **_given(wanted, "centre", "sigma"))


def _cusum(points: Points, wanted: Wanted) -> ControlChart:
    return cusum_chart(values_of(points, wanted.known), baseline=wanted.baseline,
                       **_given(wanted, "centre", "sigma"))


def _t2(points: Points, wanted: Wanted) -> ControlChart:
    points = as_values(points)
    return t2_chart(points.value, baseline=wanted.baseline,
                    **_given(wanted, "mean", "covariance"))


def _mewma(points: Points, wanted: Wanted) -> ControlChart:
    points = as_values(points)
    return mewma_chart(points.value, baseline=wanted.baseline,
                       decision=_mewma_limit(points.value.shape[1]),
                       **_given(wanted, "mean", "covariance"))


@cache
def _mewma_limit(n_variables: int) -> float:
    """The limit for the usual run length: half a second's work, always the same."""
    return mewma_decision(USUAL_ARL, n_variables=n_variables, weight=MEWMA_WEIGHT, limits="exact")


def _given(wanted: Wanted, *names: str) -> dict[str, Any]:
    known = wanted.known or {}
    return {name: known[name] for name in names if name in known}


_MAKERS: dict[str, Callable[[Points, Wanted], ControlChart]] = {
    "mix": _mix, "mix-u": _mix, "g": _gaps, "individuals": _individuals, "xbar-s": _means,
    "p": lambda points, wanted: _counted(points, wanted, limits="sigma"),
    "u": lambda points, wanted: _counted(points, wanted, limits="sigma"),
    "p-exact": lambda points, wanted: _counted(points, wanted, limits="probability"),
    "u-exact": lambda points, wanted: _counted(points, wanted, limits="probability"),
    "p-prime": _prime, "u-prime": _prime, "ewma": _ewma, "cusum": _cusum, "t2": _t2,
    "mewma": _mewma,
}
