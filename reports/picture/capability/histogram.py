"""Capability of one value: a histogram with its limits, the fitted curve, and the indices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.desk.capability import INDEX_WORDS, Capability, FileCapability
from reports.picture import axes, legend, svg
from reports.picture.axes import FOOT, ROW, Axis, Field
from reports.picture.capability import words
from reports.picture.capability.bins import Bars, counted
from reports.picture.capability.indices import HEAD, Index, draw_indices, index_mark
from reports.picture.capability.tables import capability_tables
from reports.picture.capability.verdict import judged, outside_words, share_interval
from reports.picture.legend import Entry
from reports.picture.palette import Palette
from reports.picture.plot import Floats
from reports.picture.setting import BODY, PAD, SMALL, Page
from reports.picture.sheet import WIDE, Sheet
from reports.picture.ticks import grouped, places, short
from reports.picture.type import brief
from reports.picture.words import METHOD, per_cent, quantity, with_unit

FLOOR = 1.6
"""A bar with a value in it is at least so tall, or one among a million could not be seen."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """What the picture shows. ``indices`` : names with value and interval, in order."""

    name: str
    unit: str
    found: FileCapability
    bars: Bars
    indices: tuple[Index, ...]

    @property
    def result(self) -> Capability:
        return self.found.result

    @property
    def mean(self) -> str:
        """The mean in words, to a thousandth of itself or of the spread, whichever is larger."""
        mean = self.result.mean
        decimals = places(max(abs(mean), self.result.total.sigma), 4)
        return short(mean) if not decimals else grouped(mean, decimals)

    def said(self, value: float) -> str:
        """A value with its unit, in a sentence."""
        return with_unit(short(value), self.unit)


def capability_sheet(found: FileCapability) -> Sheet:
    """What the picture of one characteristic shows and says."""
    view = view_of(found)
    result = found.result
    tone, verdict = judged(found)

    def draw(page: Page) -> None:
        _histogram(page, view)
        if view.indices:
            draw_indices(page, view.indices)
        legend.explain(page, _entries(view, page.colours),
                       cautions=[caution.value for caution in result.cautions])

    return Sheet(
        kind=words.KIND, title=view.name, verdict=verdict, tone=tone, draw=draw,
        foot=(METHOD.format(source=result.source), _data(view)),
        tables=lambda: capability_tables(view.found, view.bars, view.indices, view.unit),
    )


def view_of(found: FileCapability) -> View:
    """The numbers of the picture."""
    result, limits = found.result, found.result.specification
    name, unit = quantity(found.request.value)
    indices = [(key, index.value, index.low, index.high) for key in INDEX_WORDS
               if (index := getattr(result, key)) is not None]
    by, ends = result.percentile, result.percentile_intervals
    if by is not None and not found.normal:
        low, high = (np.nan, np.nan) if ends is None else ends.ppk
        indices.append((words.BY_PERCENTILES, by.ppk, low, high))
    return View(name=name, unit=unit, found=found, indices=tuple(indices),
                bars=counted(found.values, limits.lower, limits.upper))


def _histogram(page: Page, view: View) -> None:
    colours = page.colours
    page.parts.append(svg.text(PAD, page.y + 13, words.COUNT_AXIS, size=BODY, bold=True,
                               fill=colours["ink"]))
    names = _lines(view)
    x = _value_axis(view, page)
    rows = axes.rows_of_names([(x.one(at), text) for at, text, _ in names], PAD, page.right)
    top = page.y + HEAD + ROW * (1 + max((row for _, row, _ in rows), default=0))
    field = Field(x=x, y=_count_axis(view, x, top, 240.0 if page.width >= WIDE else 200.0))
    page.parts += _allowed(view, field, colours)
    page.parts += axes.grid(field, colours)
    lines, written = _uprights(view, field, rows, colours)
    page.parts += [*_tails(view, field, colours), *_bars(view, field, colours), *lines,
                   *_curve(view, field, colours), *_marks(view, field, colours), *written]
    name = with_unit(view.name, view.unit)
    page.parts += axes.foot(field, name, colours, limit=page.width)
    page.y = field.bottom + FOOT


def _lines(view: View) -> list[tuple[float, str, str]]:
    """Values to mark by a line, with their names: limits, target and mean."""
    limits = view.result.specification
    named = ((limits.lower, words.LOWER), (limits.target, words.TARGET),
             (limits.upper, words.UPPER), (view.result.mean, words.MEAN))
    return [(value, f"{name} {view.mean if name == words.MEAN else short(value)}", name)
            for value, name in named if value is not None]


def _value_axis(view: View, page: Page) -> Axis:
    edges, by = view.bars.edges, view.result.percentile
    ends = [float(edges[0]), float(edges[-1]), *(value for value, _, _ in _lines(view))]
    reach = max(ends) - min(ends)
    if by is not None:  # the curve to its thin ends, where there is room
        ends += [end for end in (by.low, by.high)
                 if min(ends) - 0.3 * reach < end < max(ends) + 0.3 * reach]
    low, high = min(ends), max(ends)
    room = 0.04 * (high - low)
    most = grouped(float(_tallest(view, ends)), 0)
    left = PAD + axes.gutter([most])
    return Axis(low=low - room, high=high + room, start=left, end=page.right)


def _tallest(view: View, ends: list[float]) -> float:
    at = np.linspace(min(ends), max(ends), 400)
    return max(float(view.bars.count.max()), float(_expected(view, at).max(initial=0)))


def _count_axis(view: View, x: Axis, top: float, height: float) -> Axis:
    most = 1.06 * _tallest(view, [x.low, x.high])
    return Axis(low=0.0, high=most, start=top + height, end=top, whole=True, every=38)


def _expected(view: View, at: Floats) -> Floats:
    """What the fitted distribution expects in a bar around each place; empty without one."""
    fit = view.result.fit
    if fit is None:
        return np.empty(0)
    half = view.bars.width / 2
    share: Floats = np.asarray(fit.below(at + half)) - np.asarray(fit.below(at - half))
    return view.result.n * share


def _columns(field: Field) -> Floats:
    """Values at the middles of the columns of the field, one pixel wide."""
    return np.linspace(field.x.low, field.x.high, int(field.right - field.left))


def _allowed(view: View, field: Field, colours: Palette) -> list[str]:
    low, high = view.result.specification.ends
    left, right = field.x.one(low), field.x.one(high)
    return [svg.element("rect", x=left, y=field.top, width=right - left,
                        height=field.bottom - field.top, fill=colours["accent-soft"])]


def _bars(view: View, field: Field, colours: Palette) -> list[str]:
    bars = view.bars
    edges = field.x.at(bars.edges).tolist()
    gap = 0.7 if edges[1] - edges[0] > 5 else 0.0
    solid, open_ = "", ""
    for k in np.flatnonzero(bars.count).tolist():
        left, right = edges[k] + gap, edges[k + 1] - gap
        outside = int(bars.outside[k])
        whole = _height(field, outside + int(bars.inside[k]))
        base = _height(field, outside) if outside else field.bottom
        if bars.inside[k]:
            solid += _block(left, right, whole, base)
        if outside:
            open_ += _block(left + 0.7, right - 0.7, base + 0.7, field.bottom - 1)
    parts = [svg.element("path", d=solid, fill=colours["accent"], opacity="0.72")] if solid else []
    if open_:
        parts.append(svg.element("path", d=open_, fill=colours["sheet"], stroke=colours["alarm"],
                                 stroke_width="1.7"))
    return parts


def _marks(view: View, field: Field, colours: Palette) -> list[str]:
    """A triangle above every bar with values outside, however low it is."""
    edges = field.x.at(view.bars.edges)
    size = float(np.clip((edges[1] - edges[0]) / 2, 2.4, 5.0))
    d = "".join(
        svg.triangle(float(edges[k] + edges[k + 1]) / 2,
                     _height(field, int(view.bars.count[k])) - size - 2, size, up=True)
        for k in np.flatnonzero(view.bars.outside).tolist())
    return [svg.element("path", d=d, fill=colours["alarm"])] if d else []


def _height(field: Field, n: int) -> float:
    return min(field.y.one(n), field.bottom - FLOOR)


def _block(left: float, right: float, top: float, bottom: float) -> str:
    right = max(right, left + 1.2)
    return (f"M{svg.number(left)} {svg.number(bottom)}V{svg.number(top)}H{svg.number(right)}"
            f"V{svg.number(bottom)}z")


def _curve(view: View, field: Field, colours: Palette) -> list[str]:
    at = _columns(field)
    expected = _expected(view, at)
    if not len(expected):
        return []
    d = svg.polyline(field.places(at, expected))
    return [svg.element("path", d=d, fill="none", stroke=colours["sheet"], stroke_width="4",
                        opacity="0.6"),
            svg.element("path", d=d, fill="none", stroke=colours["ink"], stroke_width="2",
                        stroke_linejoin="round")]


def _tails(view: View, field: Field, colours: Palette) -> list[str]:
    """What the curve expects beyond the limits, shaded."""
    at = _columns(field)
    expected = _expected(view, at)
    low, high = view.result.specification.ends
    parts = []
    for beyond in (at < low, at > high):
        if len(expected) and np.count_nonzero(beyond) > 1:
            x, y = at[beyond], expected[beyond]
            corners = [*field.places(x, y), *field.places(x[[-1, 0]], np.zeros(2))]
            parts.append(svg.element("path", d=svg.polyline(corners) + "z",
                                     fill=colours["alarm-soft"]))
    return parts


def _uprights(view: View, field: Field, rows: list[tuple[float, int, str]], colours: Palette
              ) -> tuple[list[str], list[str]]:
    """Lines at limits, target and mean, and their names, none crossed by another's line."""
    lines: list[str] = []
    names: list[str] = []
    for (value, _, name), (x, row, text) in zip(_lines(view), rows, strict=True):
        at, foot = field.x.one(value), field.top - 5 - ROW * row
        d = f"M{svg.number(at)} {svg.number(field.bottom)}V{svg.number(foot + 2)}"
        if name in (words.MEAN, words.TARGET):  # clear of the bars behind
            lines.append(svg.element("path", d=field.upright(value), fill="none",
                                     stroke=colours["sheet"], stroke_width="3.6"))
        lines.append(svg.element("path", d=d, fill="none", **_stroke(name, colours)))
        names.append(svg.text(x, foot, text, size=SMALL, bold=True, anchor="middle",
                              fill=colours["accent" if name == words.MEAN else "ink"],
                              halo=colours["sheet"]))
    return lines, names


def _stroke(name: str, colours: Palette) -> dict[str, str]:
    if name == words.MEAN:
        return {"stroke": colours["accent"], "stroke_width": "1.8", "stroke_dasharray": "7 4.5"}
    if name == words.TARGET:
        return {"stroke": colours["thread"], "stroke_width": "2.4", "stroke_dasharray": "2 3"}
    return {"stroke": colours["ink"], "stroke_width": "2.2"}


def _entries(view: View, colours: Palette) -> list[Entry]:
    result = view.result
    found = [(legend.box(colours["accent"], "0.72"), _bar_words(view))]
    found.append((_open_box(colours) if result.outside.n_defective else "",
                  outside_words(result.outside, words.BAR_OUTSIDE, words.NONE_OUTSIDE)))
    if result.fit is not None:
        curve = words.CURVE.format(
            name=result.fit.name, share=per_cent(result.share_outside_fitted),
            interval=share_interval(result))
        found.append((legend.line(colours["ink"]), curve))
    within = words.NEIGHBOURS if result.inherent.method.startswith("moving") else words.SUBGROUPS
    found.append((legend.stitch(colours["accent"]), words.MEAN_IS.format(
        mean=with_unit(view.mean, view.unit), total=view.said(result.total.sigma),
        inherent=view.said(result.inherent.sigma), within=within)))
    if view.indices:
        found.append((index_mark(colours), words.INDEX_BARS.format(
            confidence=per_cent(result.confidence))))
        found += [("", f"{name}: {_meaning(view, name)}") for name, *_ in view.indices]
        found.append(("", words.ENOUGH))
    return found


def _meaning(view: View, name: str) -> str:
    if name == words.BY_PERCENTILES and view.result.fit is not None:
        return words.BY_PERCENTILES_WORDS.format(name=view.result.fit.name)
    return INDEX_WORDS[name]


def _bar_words(view: View) -> str:
    bars = view.bars
    if bars.equal:
        return words.ALL_EQUAL.format(n=grouped(view.result.n, 0))
    more = "" if bars.step is None else words.WHOLE_STEPS.format(step=view.said(bars.step))
    more += words.WIDENED if bars.widened else ""
    return words.BARS.format(n=grouped(view.result.n, 0), width=view.said(bars.width), more=more)


def _open_box(colours: Palette) -> str:
    return (svg.element("rect", x="-10", y="-1", width="20", height="8", fill=colours["sheet"],
                        stroke=colours["alarm"], stroke_width="1.7")
            + svg.element("path", d=svg.triangle(0, -6, 4, up=True), fill=colours["alarm"]))


def _data(view: View) -> str:
    return words.DATA.format(file=brief(view.found.file, 80), what=words.VALUES[1],
                             columns=brief(view.found.request.value), n=grouped(view.result.n, 0))
