"""The whole picture: a petrol band held by a stitch, the verdict, the panels, the words below.

A sheet whose chart signals lifts its corner, as cards on the screens do.
"""

from __future__ import annotations

import numpy as np

from qc.desk.charting import FileChart
from reports.picture import legend, svg, words
from reports.picture.palette import LIGHT, Palette
from reports.picture.panel import BODY, HEAD, SMALL, Frame, draw_panel, gutter
from reports.picture.plot import Plot
from reports.picture.setting import LINE, PAD, Page
from reports.picture.ticks import tidy_scale
from reports.picture.type import STACK, cut, font_face, width, wrapped
from reports.picture.view import View, view_of

NARROW, FILE, WIDE = 400.0, 480.0, 980.0
"""Widths of a picture: on a telephone, as a file of its own, on a screen or page with room."""
TITLE, LEAD = 22.0, 16.0
CORNER = 46.0


def chart_svg(chart: FileChart, *, width: float = FILE, colours: Palette = LIGHT,
              carry_font: bool = True, name: str = "chart") -> str:
    """The picture of a chart as one SVG element.

    ``name`` makes the identifiers in it differ from those of another picture on the same page.
    """
    view = view_of(chart)
    page = Page(width=width, colours=colours)
    signals = len(view.signalling())
    _header(page, view, lifted=signals > 0)
    _verdict(page, view, signals)
    crowded = _panels(page, view)
    legend.draw(page, view, crowded=crowded)
    _foot(page, view)
    return _closed(page, view, lifted=signals > 0, carry_font=carry_font, name=name)


def _header(page: Page, view: View, *, lifted: bool) -> None:
    room = page.room - (CORNER if lifted else 0)
    kind = words.KIND_WORDS.get(view.kind, view.kind)
    lines = wrapped(view.title, TITLE, room, bold=True)[:2]
    height = 36 + len(lines) * TITLE * 1.2 + 14
    page.parts.append(svg.element("rect", width=page.width, height=height,
                                  fill=page.colours["band"]))
    page.parts.append(svg.text(PAD, 26, cut(kind, BODY, room), size=BODY,
                               fill=page.colours["band-ink"]))
    y = 36.0
    for line in lines:
        y += TITLE * 1.2
        page.parts.append(svg.text(PAD, y - 4, line, size=TITLE, bold=True,
                                   fill=page.colours["band-ink"]))
    page.parts.append(svg.element(
        "path", d=f"M0 {svg.number(height - 6)}H{svg.number(page.width)}",
        stroke=page.colours["thread"], stroke_width="2", stroke_dasharray="7 5"))
    page.y = height + 14


def _verdict(page: Page, view: View, signals: int) -> None:
    tone = "alarm" if signals else "calm"
    at = view.signalling()
    first = view.label(int(at[0])) if signals else ""
    text = words.verdict(signals, view.n_points, cut(first, LEAD, 200))
    lines = wrapped(text, LEAD, page.room - 46, bold=True)
    height = len(lines) * LEAD * LINE + 12
    widest = max(width(line, LEAD, bold=True) for line in lines)
    page.parts.append(svg.element("rect", x=PAD, y=page.y, width=widest + 46, height=height, rx="3",
                                  fill=page.colours[f"{tone}-soft"]))
    middle = page.y + 6 + LEAD * LINE / 2
    shape = (svg.triangle(PAD + 18, middle, 7, up=True) if signals
             else svg.disc(PAD + 18, middle, 6))
    page.parts.append(svg.element("path", d=shape, fill=page.colours[tone]))
    y = page.y + 6
    for line in lines:
        y += LEAD * LINE
        page.parts.append(svg.text(PAD + 34, y - 0.34 * LEAD, line, size=LEAD, bold=True,
                                   fill=page.colours[tone]))
    page.y += height + 14


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
    name = words.quantity(axis)[0] if axis else words.POINT_WORDS["row"]
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


def _foot(page: Page, view: View) -> None:
    page.y += 10
    y = svg.number(page.y)
    page.parts.append(svg.element(
        "path", d=f"M{svg.number(PAD)} {y}H{svg.number(page.width - PAD)}", stroke_dasharray="7 5",
        stroke=page.colours["thread"], stroke_width="2"))
    page.y += 8
    chart = view.chart
    page.lines(words.METHOD.format(source=chart.chart.source), size=SMALL, fill="soft")
    page.lines(legend.data_line(view), size=SMALL, fill="soft")
    page.y += 10
    page.parts.append(_glyph(PAD, page.y, page.colours))
    page.parts.append(svg.text(PAD + 22, page.y + 12, words.MAKER, size=SMALL, bold=True,
                               fill=page.colours["ink"]))
    page.y += 16 + PAD


def _glyph(x: float, y: float, colours: Palette) -> str:
    """The house's mark: a transfer with its corner lifted."""
    d = f"M{svg.number(x)} {svg.number(y)}h10l6 6v10h-16z"
    fold = f"M{svg.number(x + 10)} {svg.number(y)}l6 6h-6z"
    return (svg.element("path", d=d, fill=colours["accent"])
            + svg.element("path", d=fold, fill=colours["thread"]))


def _closed(page: Page, view: View, *, lifted: bool, carry_font: bool, name: str) -> str:
    height = round(page.y)
    wide = svg.number(page.width)
    signalled = len(view.signalling())
    first = view.label(int(view.signalling()[0])) if signalled else ""
    title = f"{words.KIND_WORDS.get(view.kind, view.kind)}: {view.title}"
    about = words.verdict(signalled, view.n_points, first)
    head = svg.element("title", svg.escaped(title), id=f"{name}-title")
    head += svg.element("desc", svg.escaped(about), id=f"{name}-about")
    if carry_font:
        head += svg.element("style", font_face())
    sheet = svg.element("rect", width=page.width, height=float(height), fill=page.colours["sheet"])
    body = "\n".join([head, sheet, *page.parts, *_corner(page, lifted=lifted)])
    return svg.element(
        "svg", body, xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {wide} {height}",
        width=page.width, height=float(height), role="img", font_family=STACK,
        aria_labelledby=f"{name}-title {name}-about",
    )


def _corner(page: Page, *, lifted: bool) -> list[str]:
    if not lifted:
        return []
    left = svg.number(page.width - CORNER)
    c = svg.number(CORNER)
    return [
        svg.element("path", d=f"M{left} 0h{c}v{c}z", fill=page.colours["ground"]),
        svg.element("path", d=f"M{left} 0l{c} {c}h-{c}z", fill=page.colours["thread"]),
    ]
