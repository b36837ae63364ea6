"""Capability indices below each other: each a dot with its interval as a bar."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reports.picture import svg
from reports.picture.axes import Axis, Field
from reports.picture.capability import words
from reports.picture.palette import Palette
from reports.picture.setting import BODY, PAD, SMALL, Page
from reports.picture.type import width

HEAD, INDEX_ROW = 24.0, 24.0
MARKS = (1.0, 1.33)
"""3 and 4 sigma to the limit."""
Index = tuple[str, float, float, float]
"""Its name, its value, and its interval (nan where there is none)."""


def draw_indices(page: Page, indices: Sequence[Index]) -> None:
    """Each index as a dot with its interval as a bar."""
    colours = page.colours
    page.y += 14
    page.parts.append(svg.text(PAD, page.y + 13, words.INDICES, size=BODY, bold=True,
                               fill=colours["ink"]))
    top = page.y + HEAD + 4
    said = [_index_words(*row[1:]) for row in indices]
    left = PAD + max(width(name, BODY, bold=True) for name, *_ in indices) + 12
    right = page.right - max(width(text, SMALL) for text in said) - 12
    ends = [end for _, *row in indices for end in row if np.isfinite(end)]
    low, high = min([*ends, 0.9]), max([*ends, 1.4])
    room = 0.05 * (high - low)
    x = Axis(low=low - room, high=high + room, start=left, end=right)
    bottom = top + INDEX_ROW * len(indices)
    field = Field(x=x, y=Axis(low=0, high=1, start=bottom, end=top))
    page.parts += _index_marks(field, colours)
    for k, (row, text) in enumerate(zip(indices, said, strict=True)):
        page.parts += _index(field, row, text, top + INDEX_ROW * (k + 0.5), page)
    page.parts += _index_numbers(field, colours)
    page.y = bottom + 28


def _index_words(value: float, low: float, high: float) -> str:
    interval = f" ({_figure(low)} to {_figure(high)})" if np.isfinite(low) else ""
    return f"{_figure(value)}{interval}".replace("-", "\u2212")


def _figure(value: float) -> str:
    """An index as people read it; one that says nothing (limits far off) must not fill the row."""
    return f"{value:.2f}" if abs(value) < 1e4 else f"{value:.3g}"


def _index_marks(field: Field, colours: Palette) -> list[str]:
    ground = svg.element("rect", x=field.left, y=field.top, width=field.right - field.left,
                         height=field.bottom - field.top, fill=colours["accent-soft"],
                         opacity="0.45")
    d = "".join(field.upright(mark) for mark in MARKS)
    return [ground, svg.element("path", d=d, stroke=colours["thread"], stroke_width="2",
                                stroke_dasharray="6 4")]


def _index_numbers(field: Field, colours: Palette) -> list[str]:
    """The two marks as numbers, and ticks where they leave room."""
    at = [(field.x.one(mark), f"{mark:g}") for mark in MARKS]
    if at[1][0] - at[0][0] < 34:
        at = at[:1]
    at += [(x, text) for x, text in field.x.ticks() if all(abs(x - taken) > 34 for taken, _ in at)]
    return [svg.text(x, field.bottom + 17, text, size=SMALL, anchor="middle",
                     fill=colours["soft"]) for x, text in at]


def _index(field: Field, row: Index, text: str, y: float, page: Page
           ) -> list[str]:
    name, value, low, high = row
    colours = page.colours
    at = field.x.one(value)
    parts = [svg.text(PAD, y + 5, name, size=BODY, bold=True, fill=colours["ink"]),
             svg.text(page.right, y + 4.5, text, size=SMALL, fill=colours["ink"], anchor="end")]
    if np.isfinite(low):
        a, b = field.x.one(low), field.x.one(high)
        d = (f"M{svg.number(a)} {svg.number(y)}H{svg.number(b)}M{svg.number(a)} {svg.number(y - 5)}"
             f"v10M{svg.number(b)} {svg.number(y - 5)}v10")
        parts.append(svg.element("path", d=d, stroke=colours["accent"], stroke_width="2",
                                 fill="none"))
    return [*parts, svg.element("path", d=svg.disc(at, y, 4.6), fill=colours["accent"],
                                stroke=colours["sheet"], stroke_width="1.2")]


def index_mark(colours: Palette) -> str:
    """What the dots and bars look like, about 0, 0."""
    d = "M-10 0h20M-10 -5v10M10 -5v10"
    return (svg.element("path", d=d, stroke=colours["accent"], stroke_width="2", fill="none")
            + svg.element("path", d=svg.disc(0, 0, 4.4), fill=colours["accent"]))
