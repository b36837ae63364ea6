"""Charts of made files, for their pictures."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from qc.desk.chart_change import ChartChange
from qc.desk.charting import ChartRequest, FileChart
from qc.stats.charts.baselines import Baseline
from qc.stats.charts.chart import bit, make_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.shewhart_counts import p_chart
from reports.picture.charts.drawing import chart_sheet
from reports.picture.sheet import sheet_svg

BEYOND = bit("outside_limits")


def file_chart(chart: Any, *, labels: tuple[str, ...] | None = None, file: str = "log.csv",
               change: ChartChange | None = None, **request: Any) -> FileChart:
    """A chart as the desk hands it over."""
    return FileChart(chart=chart, labels=labels, file=file, change=change,
                     cautions=tuple(caution.value for caution in chart.cautions),
                     request=ChartRequest(**({"kind": chart.kind} | request)))


def dwell(n: int = 25, *, rise: float = 0.0, rules: str = "limits",
          baseline: Baseline | None = None) -> FileChart:
    """Dwell times of one press; from two thirds on they lie higher by ``rise``."""
    x = np.random.default_rng(4).normal(15, 0.4, n)
    x[2 * n // 3:] += rise
    made = individuals_chart(x, baseline=baseline, rules=rules)
    return file_chart(made, value="dwell_s", rules=rules)


def lifted(n: npt.ArrayLike, k: npt.ArrayLike, **request: Any) -> FileChart:
    """Pieces with a lifted edge in samples of any size."""
    return file_chart(p_chart(k, n), count="lifted_edges", size="inspected", **request)


def plain_chart(value: npt.ArrayLike, lower: float = -3.0, upper: float = 3.0) -> Any:
    """One statistic with given limits."""
    return make_chart("statistic", 0.0, np.asarray(value, dtype=np.float64), lower, upper)


def chart_svg(chart: FileChart, **how: Any) -> str:
    """The picture of a chart as SVG."""
    return sheet_svg(chart_sheet(chart), **how)
