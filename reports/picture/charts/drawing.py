"""A chart as a sheet: its panels above each other, the positions along their foot."""

from __future__ import annotations

import numpy as np

from qc.desk.charting import FileChart
from reports.picture import svg
from reports.picture.charts import legend, words
from reports.picture.charts.panel import HEAD, Frame, draw_panel, gutter
from reports.picture.charts.tables import chart_tables
from reports.picture.charts.view import View, view_of
from reports.picture.plot import Plot
from reports.picture.setting import PAD, SMALL, Page
from reports.picture.sheet import WIDE, Sheet
from reports.picture.ticks import tidy_scale
from reports.picture.type import cut, width
from reports.picture.words import METHOD, quantity


def chart_sheet(chart: FileChart) -> Sheet:
    """What the picture of a chart shows and says."""
    view = view_of(chart)
    at = view.signalling()
    first = cut(view.label(int(at[0])), 16, 200) if len(at) else ""

    def draw(page: Page) -> None:
        crowded = _panels(page, view)
        legend.draw(page, view, crowded=crowded)

    return Sheet(
        kind=words.KIND_WORDS.get(view.kind, view.kind), title=view.title,
        verdict=words.verdict(len(at), view.n_points, first), tone="alarm" if len(at) else "calm",
        draw=draw, foot=(METHOD.format(source=chart.chart.source), legend.data_line(view)),
        tables=lambda: chart_tables(view),
    )


def _panels(page: Page, view: View) -> bool:
    """Draw the panels; whether points crowd in them."""
    heights = _heights(view, wide=page.width >= WIDE)
    left = PAD + gutter(view.panels, heights)
    for k, (panel, height) in enumerate(zip(view.panels, heights, strict=True)):
        frame = Frame(left=left, right=page.right, top=page.y, height=height)
        parts, plot = draw_panel(view, panel, frame, page.colours, main=k == 0)
        page.parts += parts
        page.y += HEAD + height + (20 if k + 1 < len(view.panels) else 0)
        if k + 1 == len(view.panels):
            _positions(page, view, plot)
    return plot.many(view.n_points)


def _heights(view: View, *, wide: bool) -> tuple[float, ...]:
    """Heights of the panels: the main statistic is the taller one, two sides are alike."""
    main = 240.0 if wide else 200.0
    others = len(view.panels) - 1
    if not view.centred:
        return (0.75 * main,) * (others + 1)
    return main, *[0.56 * main] * others


def _positions(page: Page, view: View, plot: Plot) -> None:
    """The axis of positions, below the last panel."""
    marks = _labelled(view, plot)
    ticks = "".join(f"M{svg.number(x)} {svg.number(plot.bottom)}v5" for x, _ in marks)
    page.parts.append(svg.element(
        "path", d=f"M{svg.number(plot.left)} {svg.number(plot.bottom)}H{svg.number(plot.right)}"
        f"{ticks}", stroke=page.colours["edge"], stroke_width="1", fill="none"))
    for x, label in marks:
        half = width(label, SMALL) / 2
        page.parts.append(svg.text(min(x, page.width - 4 - half), plot.bottom + 19, label,
                                   size=SMALL, fill=page.colours["soft"], anchor="middle"))
    axis = view.chart.request.subgroup
    name = quantity(axis)[0] if axis else words.POINT_WORDS["row"]
    page.parts.append(svg.text(plot.right, plot.bottom + 37, cut(name, SMALL, plot.width),
                               size=SMALL, fill=page.colours["soft"], anchor="end"))
    page.y += 48


def _labelled(view: View, plot: Plot) -> list[tuple[float, str]]:
    """Positions to write below the axis: tidy numbers, or as many labels as have room."""
    if view.labels is None:
        scale = tidy_scale(1, plot.n, about=max(int(plot.width / 80), 1), whole=True)
        step = scale.at[1] - scale.at[0] if len(scale.at) > 1 else 1.0
        at = [1, *(int(t) for t in scale.at if t - 1 >= 0.6 * step)]
        return [(float(plot.x(np.array(t))), scale.label(t)) for t in at]
    room = 84.0
    widest = max(width(cut(label, SMALL, room), SMALL) for label in view.labels[:200]) + 12
    every = max(int(np.ceil(widest / plot.cell)), 1)
    return [(float(plot.x(np.array(at))), cut(view.label(at), SMALL, room))
            for at in range(1, plot.n + 1, every)]
