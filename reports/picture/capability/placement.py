"""Capability of two values together: every placement, the region, and the fitted ellipse."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.desk.capability import BivariateCapability, Circle, FilePlacement, Specification
from reports.picture import axes, legend, svg
from reports.picture.axes import FOOT, Axis, Field
from reports.picture.capability import words
from reports.picture.capability.tables import placement_tables
from reports.picture.capability.verdict import judged_together, outside_words
from reports.picture.legend import Entry
from reports.picture.palette import Palette
from reports.picture.plot import Bools, Floats, seen_once
from reports.picture.setting import BODY, PAD, Page
from reports.picture.sheet import Sheet
from reports.picture.ticks import grouped, short
from reports.picture.type import brief
from reports.picture.words import METHOD, per_cent, quantity, span, with_unit

DOTS_TO = 1500
"""Of more placements inside, fields of so many pixels are shaded by how many lie in them."""
FIELD = 5.0
SHADES = (0.22, 0.38, 0.56, 0.76, 1.0)
MARKS_TO = 1500
"""Of more placements outside, those on one pixel are drawn once."""
TALLEST = 560.0
ROUND = np.linspace(0, 2 * math.pi, 121)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """What the picture shows. ``square`` : both directions on one scale; ``front``: y points down.
    """

    names: tuple[str, str]
    units: tuple[str, str]
    found: FilePlacement
    inside: Bools
    reach: tuple[tuple[float, float], tuple[float, float]]
    square: bool
    front: bool

    @property
    def result(self) -> BivariateCapability:
        return self.found.result

    @property
    def crowded(self) -> bool:
        return int(np.count_nonzero(self.inside)) > DOTS_TO

    def said(self, value: float, k: int = 0) -> str:
        """A value of one direction with its unit."""
        return with_unit(short(value), self.units[k])


def placement_sheet(found: FilePlacement) -> Sheet:
    """What the picture of two values together shows and says."""
    view = view_of(found)
    tone, verdict = judged_together(found.result)

    def draw(page: Page) -> None:
        most = _scatter(page, view)
        legend.explain(page, _entries(view, page.colours, most),
                       cautions=[caution.value for caution in found.result.cautions])

    columns = ", ".join(map(brief, found.request.values))
    data = words.DATA.format(file=brief(found.file, 80), columns=columns,
                             n=grouped(found.result.n, 0), what=words.PLACEMENTS[1])
    return Sheet(
        kind=words.KIND_TOGETHER, title=" and ".join(view.names), verdict=verdict, tone=tone,
        draw=draw, foot=(METHOD.format(source=found.result.source), data),
        tables=lambda: placement_tables(found.result, view.names),
    )


def view_of(found: FilePlacement) -> View:
    """The numbers of the picture."""
    (dx, x_unit), (dy, y_unit) = map(quantity, found.request.values)
    reach = (_reach(found.x, *_region_ends(found.result, 0)),
             _reach(found.y, *_region_ends(found.result, 1)))
    across, up = (high - low for low, high in reach)
    alike = x_unit == y_unit and 1 / 3 <= across / up <= 3
    return View(
        names=(dx, dy), units=(x_unit, y_unit), found=found, reach=reach,
        inside=found.result.region.holds(found.x, found.y),
        square=isinstance(found.result.region, Circle) or alike,
        front=(dx, dy) == ("dx", "dy"),
    )


def _region_ends(result: BivariateCapability, k: int) -> tuple[float, ...]:
    """Where the region and the ellipse end in one direction."""
    region, ellipse = result.region, result.ellipse
    if isinstance(region, Circle):
        ends = [region.centre[k] - region.radius, region.centre[k] + region.radius]
    else:
        ends = [end for end in (region.x, region.y)[k].ends if np.isfinite(end)]
    if ellipse is not None:
        half = _ellipse_half(result, k)
        ends += [ellipse.centre[k] - half, ellipse.centre[k] + half]
    return tuple(ends)


def _ellipse_half(result: BivariateCapability, k: int) -> float:
    return float(np.abs(_ellipse_path(result)[k] - result.normal.mean[k]).max())


def _ellipse_path(result: BivariateCapability) -> tuple[Floats, Floats]:
    ellipse = result.ellipse
    if ellipse is None:
        return np.empty(0), np.empty(0)
    turn = math.radians(ellipse.angle_deg)
    along, across = ellipse.half_long * np.cos(ROUND), ellipse.half_short * np.sin(ROUND)
    return (ellipse.centre[0] + along * math.cos(turn) - across * math.sin(turn),
            ellipse.centre[1] + along * math.sin(turn) + across * math.cos(turn))


def _reach(values: Floats, *ends: float) -> tuple[float, float]:
    low, high = min([float(values.min()), *ends]), max([float(values.max()), *ends])
    room = 0.05 * (high - low) or abs(high) or 1.0
    return low - room, high + room


def _scatter(page: Page, view: View) -> int:
    """Draw the placements; how many lie in the fullest field where they crowd."""
    colours = page.colours
    name = with_unit(view.names[1], view.units[1])
    page.parts.append(svg.text(PAD, page.y + 13, name, size=BODY, bold=True, fill=colours["ink"]))
    field = _field(view, page, page.y + 24)
    page.parts += _region(view, field, colours)
    page.parts += axes.grid(field, colours, upright=True)
    shaded, most = _fields(view, field, colours) if view.crowded else (_dots(view, field, colours),
                                                                      0)
    page.parts += shaded
    page.parts += _border(view, field, colours)
    page.parts += _ellipse(view, field, colours)
    page.parts += _beyond(view, field, colours)
    page.parts += axes.foot(field, with_unit(view.names[0], view.units[0]), colours,
                            limit=page.width)
    page.y = field.bottom + FOOT
    return most


def _field(view: View, page: Page, top: float) -> Field:
    """The field, as large as the page and a common scale of both directions allow."""
    (x_low, x_high), (y_low, y_high) = view.reach
    trial = Axis(low=y_low, high=y_high, start=0, end=300, every=45)
    left = PAD + axes.gutter(label for _, label in trial.ticks())
    wide, tall = page.right - left, min(TALLEST, 0.9 * (page.right - left))
    if view.square:
        scale = min(wide / (x_high - x_low), TALLEST / (y_high - y_low))
        x_low, x_high = _widened(x_low, x_high, wide / scale)
        tall = scale * (y_high - y_low)
    ends = (top, top + tall) if view.front else (top + tall, top)
    return Field(x=Axis(low=x_low, high=x_high, start=left, end=page.right),
                 y=Axis(low=y_low, high=y_high, start=ends[0], end=ends[1], every=45))


def _widened(low: float, high: float, wanted: float) -> tuple[float, float]:
    room = (wanted - (high - low)) / 2
    return low - room, high + room


def _outline(view: View, field: Field) -> tuple[str, str]:
    """The region as an area, and its border; a side without a limit has none."""
    region = view.result.region
    if isinstance(region, Circle):
        x = region.centre[0] + region.radius * np.cos(ROUND)
        y = region.centre[1] + region.radius * np.sin(ROUND)
        d = svg.polyline(field.places(x, y)) + "z"
        return d, d
    x_ends, y_ends = (side.ends for side in (region.x, region.y))
    a, b = (field.x.one(end) for end in x_ends)
    c, d_ = (field.y.one(end) for end in y_ends)
    area = svg.polyline([(a, c), (b, c), (b, d_), (a, d_)]) + "z"
    sides = [f"M{svg.number(x)} {svg.number(c)}V{svg.number(d_)}"
             for x, end in ((a, x_ends[0]), (b, x_ends[1])) if np.isfinite(end)]
    sides += [f"M{svg.number(a)} {svg.number(y)}H{svg.number(b)}"
              for y, end in ((c, y_ends[0]), (d_, y_ends[1])) if np.isfinite(end)]
    return area, "".join(sides)


def _region(view: View, field: Field, colours: Palette) -> list[str]:
    return [svg.element("path", d=_outline(view, field)[0], fill=colours["accent-soft"])]


def _border(view: View, field: Field, colours: Palette) -> list[str]:
    return [svg.element("path", d=_outline(view, field)[1], fill="none", stroke=colours["ink"],
                        stroke_width="2.2", stroke_linecap="square")]


def _dots(view: View, field: Field, colours: Palette) -> list[str]:
    n = int(np.count_nonzero(view.inside))
    if not n:
        return []
    r = 3.0 if n <= 200 else 2.2
    x, y = view.found.x[view.inside], view.found.y[view.inside]
    d = "".join(svg.disc(a, b, r) for a, b in field.places(x, y))
    return [svg.element("path", d=d, fill=colours["ink"], opacity="0.62")]


def _fields(view: View, field: Field, colours: Palette) -> tuple[list[str], int]:
    """Fields shaded by how many placements inside lie in each, by their logarithm."""
    x = field.x.at(view.found.x[view.inside]) - field.left
    y = field.y.at(view.found.y[view.inside]) - field.top
    cell, n_each = np.unique(
        np.floor(np.column_stack((x, y)) / FIELD).astype(np.int64), axis=0, return_counts=True)
    most = int(n_each.max())
    shade = np.minimum((np.log(n_each) / math.log(most + 1) * len(SHADES)).astype(np.int64),
                       len(SHADES) - 1)
    parts = []
    for k, opacity in enumerate(SHADES):
        d = "".join(f"M{svg.number(field.left + FIELD * a)} {svg.number(field.top + FIELD * b)}"
                    f"h{svg.number(FIELD)}v{svg.number(FIELD)}h-{svg.number(FIELD)}z"
                    for a, b in cell[shade == k].tolist())
        if d:
            parts.append(svg.element("path", d=d, fill=colours["accent"], opacity=f"{opacity:g}"))
    return parts, most


def _ellipse(view: View, field: Field, colours: Palette) -> list[str]:
    x, y = _ellipse_path(view.result)
    if not len(x):
        return []
    (mx, my), d = view.result.normal.mean, svg.polyline(field.places(x, y)) + "z"
    ax, ay = svg.number(field.x.one(mx)), svg.number(field.y.one(my))
    cross = f"M{ax} {ay}m-7 0h14M{ax} {ay}m0 -7v14"
    halo = {"fill": "none", "stroke": colours["sheet"], "stroke_width": "4.6"}
    line = {"fill": "none", "stroke": colours["accent"], "stroke_width": "2"}
    return [svg.element("path", d=d + cross, **halo),
            svg.element("path", d=d, stroke_dasharray="7 4.5", **line),
            svg.element("path", d=cross, **line)]


def _beyond(view: View, field: Field, colours: Palette) -> list[str]:
    """Placements outside, each a triangle."""
    outside = ~view.inside
    n = int(np.count_nonzero(outside))
    if not n:
        return []
    size = 5.4 if n <= 60 else 3.4 if n <= MARKS_TO else 2.2
    places = seen_once(field.x.at(view.found.x[outside]), field.y.at(view.found.y[outside]),
                       MARKS_TO)
    d = "".join(svg.triangle(x, y, size, up=True) for x, y in places)
    return [svg.element("path", d=d, fill=colours["alarm"],
                        stroke=colours["sheet"] if n <= 60 else None, stroke_width="1")]


def _entries(view: View, colours: Palette, most: int) -> list[Entry]:
    result = view.result
    found = [(_inside_mark(view, colours), words.FIELDS.format(most=grouped(most, 0)) if most
              else words.INSIDE)]
    found.append(_outside_entry(view, colours))
    found.append((_region_mark(view, colours), _region_words(view)))
    fitted, ellipse, index = result.fitted, result.ellipse, result.equivalent
    if ellipse is not None:
        found.append((legend.stitch(colours["accent"]), words.ELLIPSE.format(
            content=per_cent(ellipse.content), long=view.said(2 * ellipse.half_long),
            short=view.said(2 * ellipse.half_short), centre=_pair(view, ellipse.centre))))
    if fitted is not None:
        found.append(("", words.EXPECTED_OUTSIDE.format(
            share=per_cent(fitted.share), low=per_cent(fitted.low), high=per_cent(fitted.high))))
    if index is not None:
        value, low, high = (f"{x:.2f}" for x in (index.value, index.low, index.high))
        found += [("", words.EQUIVALENT.format(value=value, low=low, high=high)),
                  ("", words.ENOUGH_TOGETHER)]
    found += [("", words.FRONT)] if view.front else []
    return found + ([] if view.square else [("", words.NOT_SQUARE)])


def _outside_entry(view: View, colours: Palette) -> Entry:
    text = outside_words(view.result.outside, words.OUTSIDE, words.NONE_OUTSIDE_TOGETHER)
    n = int(view.result.outside.n_defective)
    if not n:
        return "", text
    text += words.DRAWN_ONCE if n > MARKS_TO else ""
    return svg.element("path", d=svg.triangle(0, 1, 5.4, up=True), fill=colours["alarm"]), text


def _inside_mark(view: View, colours: Palette) -> str:
    if view.crowded:
        return "".join(svg.element("rect", x=-11 + 4.4 * k, y="-5", width=4.4, height="10",
                                   fill=colours["accent"], opacity=f"{opacity:g}")
                       for k, opacity in enumerate(SHADES))
    return svg.element("path", d=svg.disc(0, 0, 3), fill=colours["ink"], opacity="0.62")


def _region_mark(view: View, colours: Palette) -> str:
    area = {"fill": colours["accent-soft"], "stroke": colours["ink"], "stroke_width": "2.2"}
    if isinstance(view.result.region, Circle):
        return svg.element("path", d=svg.disc(0, 0, 7), **area)
    return svg.element("rect", x="-10", y="-6", width="20", height="12", **area)


def _region_words(view: View) -> str:
    region = view.result.region
    if isinstance(region, Circle):
        return words.CIRCLE.format(radius=view.said(region.radius),
                                   centre=_pair(view, region.centre))
    x, y = (_side(view, k, side) for k, side in enumerate((region.x, region.y)))
    return words.RECTANGLE.format(x=x, y=y)


def _side(view: View, k: int, side: Specification) -> str:
    name, unit, (low, high) = view.names[k], view.units[k], side.ends
    if side.two_sided:
        return words.BETWEEN.format(name=name, span=with_unit(span(low, high), unit))
    if side.upper is None:
        return words.FROM.format(name=name, low=view.said(low, k))
    return words.UP_TO.format(name=name, high=view.said(high, k))


def _pair(view: View, at: tuple[float, float]) -> str:
    return f"{short(at[0])}, {view.said(at[1], 1)}"
