"""Points without limits: where there are too few for any, or none that are usual."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from dash import dcc
from dash.development.base_component import Component

from dashboard.components.charts import chart_box, drawn
from dashboard.components.tables import table
from dashboard.figures.stream_chart import Drawn, stream_figure
from dashboard.formats import THIN
from dashboard.pages.charts.asking import point_link
from dashboard.pages.charts.panel import MOST_ROWS, Shown, shaded, source_line
from dashboard.pages.charts.saying import Reading
from dashboard.text import charts as words
from qc.desk.stream_charts.chart import StreamChart
from qc.desk.stream_charts.points import CountPoints, Floats, GapPoints, ValuePoints

LEAST = 2
"""One point alone shows nothing."""


def bare_panels(shown: Shown) -> list[Component]:
    """The points as they are, of several values a chart each; nothing where nothing was counted."""
    points = shown.found.points
    nothing = isinstance(points, CountPoints) and not points.count.any()
    if len(points) < LEAST or nothing:
        return []
    return [_panel(replace(shown, found=one)) for one in _single(shown.found)]


def _single(found: StreamChart) -> list[StreamChart]:
    """A chart of each value, so that it is read in its own unit."""
    points, stream = found.points, found.stream
    if isinstance(points, CountPoints):
        return [replace(found, kind="u" if stream.per_unit else "p")]
    if not isinstance(points, ValuePoints):
        return [found]
    made = []
    for k, name in enumerate(stream.measures):
        of = replace(stream, of=name)
        column = replace(points, stream=of, value=points.value[:, [k]], rows=points.rows[:, [k]],
                         scales=(points.scales[k],), units=(points.units[k],))
        made.append(replace(found, asked=replace(found.asked, stream=of), kind="individuals",
                            points=column))
    return made


def _panel(shown: Shown) -> Component:
    found, reading = shown.found, shown.reading
    points, value = found.points, _values(found)
    none = np.full(len(points), np.nan)
    at = range(1, len(points) + 1)
    labels = points.labels if points.stream.step in ("job", "piece") else ()
    figure = stream_figure(Drawn(
        at=np.arange(1, len(points) + 1), value=value * reading.factor, lower=none, upper=none,
        centre=none, tone=("",) * len(points), suffix=f"{THIN}{reading.symbol}",
        hover=tuple(f"<b>{reading.point(k)}</b><br>{reading.value(value[k - 1])}<br>"
                    f"{reading.size(k)}" for k in at),
        links=tuple(point_link(found, k - 1) for k in at), shaded=tuple(shaded(shown)),
        from_zero=reading.is_share or reading.kind in ("g", "u"),
    ), shown.scheme, shown.clock, points.start_us, height=320, labels=labels)
    return chart_box(
        drawn(f"bare-{found.stream.of or 'any'}", figure, opens=True,
              label=f"{reading.title}. {words.NO_LIMITS}"),
        title=reading.title, unit=reading.unit, description=words.NO_LIMITS,
        source=source_line(shown), table=_numbers(shown, value, reading))


def _values(found: StreamChart) -> Floats:
    points = found.points
    if isinstance(points, CountPoints):
        return points.share
    if isinstance(points, GapPoints):
        return points.between.astype(np.float64)
    if not isinstance(points, ValuePoints):
        raise TypeError(f"points are {type(points).__name__}; they cannot be drawn")
    return points.value[:, 0]


def _numbers(shown: Shown, value: Floats, reading: Reading) -> Component:
    """The newest points with what they rest on."""
    n = len(value)
    rows = [(reading.point(k), reading.size(k), reading.value(value[k - 1]),
             dcc.Link(words.OPEN, href=point_link(shown.found, k - 1)))
            for k in range(n, max(n - MOST_ROWS, 0), -1)]
    heads = (words.SAYS_HEADS[0], words.HEAD_N.get(shown.found.stream.subject, words.HEADS[0]),
             words.HEADS[1], "")
    return table(heads, rows, label=reading.title, numeric=(1, 2))
