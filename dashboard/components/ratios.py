"""Levels against what their mix would give, one row each: a count, a ratio with its interval.

Rows are links, so that a thumb, a mouse and a keyboard all open the records behind a bar; they
fold onto a phone, which a drawing does not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log10

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import UNSEEN
from dashboard.components.built import built

MOST_ROWS = 15
_LEAST, _MOST = 0.1, 20.0
_TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatioRow:
    """One level.

    The ratio and its interval are None where nothing was expected. ``stands``: 'worse' or
    'better' than its mix by more than luck, empty where neither; ``note`` says so in words.
    ``link`` is where its records are, empty where there is no such place.
    """

    label: str
    n: int
    of: str
    ratio: float | None
    low: float | None
    high: float | None
    stands: str
    note: str
    link: str


@dataclass(frozen=True, slots=True)
class Scale:
    """A logarithmic scale of ratios from ``low`` to ``high``, with 1 always inside."""

    low: float
    high: float

    def place(self, ratio: float) -> str:
        """Where a ratio lies, in per cent of the width."""
        inside = min(max(ratio, self.low), self.high)
        span = log10(self.high) - log10(self.low)
        return f"{100 * (log10(inside) - log10(self.low)) / span:.2f}%"

    def width(self, low: float, high: float) -> str:
        left, right = (float(self.place(end)[:-1]) for end in (low, high))
        return f"{max(right - left, 0.4):.2f}%"

    @property
    def ticks(self) -> tuple[float, ...]:
        return tuple(tick for tick in _TICKS if self.low <= tick <= self.high)


def scale_of(rows: Sequence[RatioRow]) -> Scale:
    """A scale that holds the intervals of all rows."""
    known = [row for row in rows if row.ratio is not None]
    low = min([max(row.low or _LEAST, _LEAST) for row in known] + [0.5])
    high = max([min(row.high or _MOST, _MOST) for row in known] + [2.0])
    return Scale(low * 0.9, high * 1.1)


def ratio_rows(rows: Sequence[RatioRow], *, heading: str) -> Component:
    """The rows with their scale above: the first `MOST_ROWS`, and every one that stands out."""
    shown = [row for at, row in enumerate(rows) if at < MOST_ROWS or row.stands]
    scale = scale_of(shown)
    most = max((row.n for row in shown), default=1) or 1
    ticks = [html.Span(f"{tick:g}×", style={"left": scale.place(tick)}) for tick in scale.ticks]
    head = html.Div(
        [html.Span(heading), html.Span(text.DEFECTS), html.Div(ticks, className="ratio-scale")],
        className="ratio-row ratio-head", **UNSEEN,
    )
    items = [html.Li(_row(row, scale, most)) for row in shown]
    return built([head, html.Ul(items)], className="ratios")


def _row(row: RatioRow, scale: Scale, most: int) -> Component:
    inside = [
        html.Span(row.label, className="ratio-name"),
        html.Span(
            [html.I(style={"width": f"{100 * row.n / most:.1f}%"}, **UNSEEN),
             html.Span([html.B(formats.count(row.n)), html.Small(row.of)])],
            className="ratio-count",
        ),
        html.Span([_strip(row, scale), html.Span(_words(row), className="ratio-words")],
                  className="ratio-span"),
    ]
    name = f"ratio-row {row.stands}".strip()
    if not row.link:
        return html.Div(inside, className=name)
    return dcc.Link(inside, href=row.link, className=name)


def _words(row: RatioRow) -> str:
    if row.ratio is None:
        return text.RATIO_NOT_KNOWN
    said = text.RATIO_WORDS.format(ratio=formats.times(row.ratio),
                                   interval=formats.times_range(row.low, row.high))
    return f"{said} {row.note}".strip()


def _strip(row: RatioRow, scale: Scale) -> Component:
    marks = [html.I(className="one", style={"left": scale.place(1.0)})]
    if row.ratio is not None and row.low is not None and row.high is not None:
        marks += [
            html.I(className="range", style={
                "left": scale.place(row.low), "width": scale.width(row.low, row.high)}),
            html.I(className="at", style={"left": scale.place(row.ratio)}),
        ]
    return html.Span(marks, className="ratio-strip", **UNSEEN)
