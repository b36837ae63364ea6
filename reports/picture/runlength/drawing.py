"""Run lengths as a sheet: points until a signal against the size of the change."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.desk.running import RunAnswer, RunRow
from reports.document import Column, Table
from reports.picture import axes, legend, svg
from reports.picture.axes import FOOT, Axis, Field
from reports.picture.legend import Entry
from reports.picture.palette import Palette
from reports.picture.plot import Floats
from reports.picture.runlength import words
from reports.picture.setting import BODY, PAD, SMALL, Page
from reports.picture.sheet import WIDE, Sheet
from reports.picture.ticks import grouped, short
from reports.picture.type import width
from reports.picture.words import METHOD, listed, span

HIGHEST = 1e12
"""Beyond this a run length is not drawn."""
NAMED_TO = 12
"""Up to so many dots carry their number."""
DIGITS = 6
DISTANCES = ("t2", "mewma")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """Rows in order of the shift. ``drawn`` : those that can be, with their run lengths.

    ``at``, ``average``, ``median``, ``low`` and ``high`` (5 % and 95 %) : one for each of these.
    """

    answer: RunAnswer
    rows: tuple[RunRow, ...]
    drawn: tuple[RunRow, ...]
    at: Floats
    average: Floats
    median: Floats
    low: Floats
    high: Floats

    @property
    def factors(self) -> bool:
        """Whether changes are factors on a rate."""
        return self.answer.calm != 0

    @property
    def calm(self) -> RunRow | None:
        """The row without a change, if there is one."""
        return next((row for row in self.rows if row.shift == self.answer.calm), None)


def runlength_sheet(answer: RunAnswer) -> Sheet:
    """What the picture of run lengths shows and says."""
    view = view_of(answer)

    def draw(page: Page) -> None:
        if view.drawn:
            _drawing(page, view)
        legend.explain(page, _entries(view, page.colours), cautions=answer.cautions)

    return Sheet(
        kind=words.KIND, title=words.TITLES.get(answer.kind, answer.kind), verdict=_verdict(view),
        tone="calm", draw=draw, foot=_foot(answer),
        tables=lambda: (_table(view),),
    )


def view_of(answer: RunAnswer) -> View:
    """The numbers of the picture."""
    rows = tuple(sorted(answer.rows, key=lambda row: row.shift))
    drawn = tuple(row for row in rows if row.run.arl <= HIGHEST
                  and (row.shift > 0 or answer.calm == 0))
    low, median, high = (np.array([_within(row, share) for row in drawn])
                         for share in (0.05, 0.5, 0.95))
    return View(answer=answer, rows=rows, drawn=drawn, low=low, median=median, high=high,
                at=np.array([row.shift for row in drawn]),
                average=np.array([row.run.arl for row in drawn]))


def _within(row: RunRow, share: float) -> float:
    """Points within which this share of all runs has signalled."""
    return next(one.points for one in row.run.percentiles if one.share == share)


def _verdict(view: View) -> str:
    """The run length without a change, and after the change nearest to one sigma or one more."""
    calm = view.calm
    changed = [row for row in view.rows if row is not calm]
    told = min(changed, default=None,
               key=lambda row: (abs(row.shift - view.answer.calm - 1), row.shift))
    said = [words.CALM.format(points=_points(calm))] if calm is not None else []
    if told is not None:
        points = _points(told, words.AFTER if said else words.ON_AVERAGE)
        change = words.CHANGED.format(change=_change(view, told), points=points)
        said.append(change if said else change[0].upper() + change[1:])
    return "; ".join(said) + "."


def _foot(answer: RunAnswer) -> tuple[str, ...]:
    """How it was worked out, and of which chart."""
    options = ", ".join(f"{name} {value if isinstance(value, str) else short(value, DIGITS)}"
                        for name, value in answer.design)
    return METHOD.format(source=answer.method), words.DESIGN.format(options=options)


def _points(row: RunRow, form: str = words.ON_AVERAGE) -> str:
    if not row.run.arl <= HIGHEST:
        return words.NEVER
    return form.format(n=short(row.run.arl, 3))


def _change(view: View, row: RunRow) -> str:
    if view.factors:
        return words.RATE_OF.format(shift=short(row.shift))
    form = words.DISTANCE_OF if view.answer.kind in DISTANCES else words.SHIFT_OF
    return form.format(shift=short(row.shift))


def _drawing(page: Page, view: View) -> None:
    colours = page.colours
    page.parts.append(svg.text(PAD, page.y + 13, words.POINTS, size=BODY, bold=True,
                               fill=colours["ink"]))
    field = _field(view, page, page.y + 28)
    page.parts += [*_band(view, field, colours), *axes.grid(field, colours, upright=False)]
    page.parts += [*_no_change(view, field, colours), *_lines(view, field, colours)]
    page.parts += _numbers(view, field, colours)
    axis = (words.FACTOR if view.factors
            else words.DISTANCE if view.answer.kind in DISTANCES else words.SHIFT)
    page.parts += axes.foot(field, axis, colours, limit=page.width)
    page.y = field.bottom + FOOT


def _field(view: View, page: Page, top: float) -> Field:
    height = 330.0 if page.width >= WIDE else 270.0
    most = float(max(view.high.max(), view.average.max()))
    y = Axis(low=0.9, high=max(1.5 * most, 2.0), start=top + height, end=top, log=True, every=44)
    left = PAD + axes.gutter(label for _, label in y.ticks())
    low, high = float(view.at.min()), float(view.at.max())
    if view.factors:
        low, high = (low / 1.15, high * 1.15)
    else:
        room = 0.05 * (high - low) or 0.5
        low, high = low - room, high + room
    x = Axis(low=low, high=high, start=left, end=page.right, log=view.factors,
             marks=tuple(view.at.tolist()))
    return Field(x=x, y=y)


def _band(view: View, field: Field, colours: Palette) -> list[str]:
    """Where nine of ten runs end; over a single change a bar."""
    if len(view.at) == 1:
        x = field.x.one(float(view.at[0]))
        top, bottom = field.y.one(float(view.high[0])), field.y.one(float(view.low[0]))
        return [svg.element("rect", x=x - 12, y=top, width=24.0, height=max(bottom - top, 1.2),
                            fill=colours["accent-soft"])]
    there = list(field.places(view.at, view.high))
    back = list(field.places(view.at[::-1], view.low[::-1]))
    return [svg.element("path", d=svg.polyline([*there, *back]) + "z",
                        fill=colours["accent-soft"])]


def _no_change(view: View, field: Field, colours: Palette) -> list[str]:
    """A row of thread at the run length without a change."""
    calm = view.calm
    if calm is None or calm not in view.drawn:
        return []
    y = svg.number(field.y.one(calm.run.arl))
    return [svg.element("path", d=f"M{svg.number(field.left)} {y}H{svg.number(field.right)}",
                        stroke=colours["thread"], stroke_width="2.2", stroke_dasharray="6 4")]


def _lines(view: View, field: Field, colours: Palette) -> list[str]:
    half = svg.polyline(field.places(view.at, view.median))
    mean = svg.polyline(field.places(view.at, view.average))
    dots = "".join(svg.disc(x, y, 4) for x, y in field.places(view.at, view.average))
    return [
        svg.element("path", d=half, fill="none", stroke=colours["accent"], stroke_width="1.8",
                    stroke_dasharray="7 4.5"),
        svg.element("path", d=mean, fill="none", stroke=colours["ink"], stroke_width="2",
                    stroke_linejoin="round"),
        svg.element("path", d=dots, fill=colours["ink"], stroke=colours["sheet"],
                    stroke_width="1.2"),
    ]


def _numbers(view: View, field: Field, colours: Palette) -> list[str]:
    """Run lengths beside their dots, on the side the line falls to, where they have room."""
    if len(view.at) > NAMED_TO:
        return []
    parts: list[str] = []
    taken: list[tuple[float, float]] = []
    places = list(field.places(view.at, view.average))
    for k, ((x, y), row) in enumerate(zip(places, view.drawn, strict=True)):
        text = short(row.run.arl, 3)
        half = width(text, SMALL, bold=True) / 2 + 2
        x = x + (half if _falls(view, k) else -half)
        x, y = min(max(x, field.left + half), field.right - half), y - 9
        if any(abs(x - a) < 2 * half and abs(y - b) < SMALL for a, b in taken):
            continue
        taken.append((x, y))
        parts.append(svg.text(x, y, text, size=SMALL, bold=True, anchor="middle",
                              fill=colours["ink"], halo=colours["sheet"]))
    return parts


def _falls(view: View, k: int) -> bool:
    """Whether the line falls from left to right at a dot."""
    k = min(k, len(view.average) - 2)
    return k < 0 or bool(view.average[k] >= view.average[k + 1])


def _entries(view: View, colours: Palette) -> list[Entry]:
    answer, calm = view.answer, view.calm
    found: list[Entry] = []
    if view.drawn:
        dot = svg.element("path", d=svg.disc(0, 0, 4), fill=colours["ink"])
        found += [(legend.line(colours["ink"]) + dot, words.AVERAGE),
                  (legend.stitch(colours["accent"]), words.MEDIAN),
                  (legend.box(colours["accent-soft"]), words.BAND)]
    if calm is not None and calm in view.drawn:
        found.append((legend.stitch(colours["thread"]),
                      words.NO_CHANGE.format(n=short(calm.run.arl))))
    if answer.found is not None:
        found.append(("", _found(answer)))
    missing = [short(row.shift) for row in view.rows if row not in view.drawn]
    if missing:
        found.append(("", words.NOT_SHOWN.format(shifts=listed(missing, len(missing)))))
    return [*found, ("", words.STEADY if answer.state == "steady" else words.ZERO)]


def _found(answer: RunAnswer) -> str:
    found = answer.found
    if found is None or answer.for_arl is None:
        return ""
    limit = words.LIMITS[found.name].format(value=short(found.value, DIGITS))
    if found.lower is not None and found.upper is not None:
        limit += words.BETWEEN.format(span=span(found.lower, found.upper))
    return words.FOUND.format(arl=short(answer.for_arl), limit=limit)


def _table(view: View) -> Table:
    shares = [f"{100 * one.share:g} %" for one in view.rows[0].run.percentiles]
    heads = [*words.TABLE, *shares]
    if view.factors:
        heads[0] = words.TABLE_FACTOR
    columns = tuple(Column(key=name, name=name, kind="figure") for name in heads)
    return Table(title=words.TABLE_TITLE, columns=columns, rows=tuple(map(_row, view.rows)))


def _row(row: RunRow) -> tuple[str, ...]:
    run = row.run
    return short(row.shift, DIGITS), *(
        _figure(x) for x in (run.arl, run.sdrl, *(one.points for one in run.percentiles)))


def _figure(value: float) -> str:
    if not math.isfinite(value):
        return "never" if value > 0 else ""
    return grouped(value, 0) if value == int(value) and value < 1e9 else short(value, DIGITS)
