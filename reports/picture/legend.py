"""The words below a drawing: what every mark means, and what to know before trusting it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reports.picture import svg
from reports.picture.palette import Palette
from reports.picture.setting import BODY, Page
from reports.picture.words import NOTE

INDENT = 58.0
SWATCH = 22.0
Entry = tuple[str, str]
"""A mark, drawn about 0, 0 (may be empty), and its words."""


def explain(page: Page, entries: Iterable[Entry], *, notes: Sequence[str] = (),
            cautions: Sequence[str] = ()) -> None:
    """Entries one below the other, then notes, then cautions with a mark of their own."""
    page.y += 6
    for shape, text in entries:
        _entry(page, shape, text)
    for note in notes:
        _entry(page, "", note)
    for caution in cautions:
        mark = svg.element("path", d=svg.diamond(0, 0, 5.5), fill=page.colours["watch"])
        _entry(page, mark, NOTE.format(caution=caution).replace("?.", "?"), fill="watch")


def _entry(page: Page, shape: str, text: str, *, fill: str = "ink") -> None:
    if shape:
        page.parts.append(svg.element(
            "g", shape, transform=f"translate(36 {svg.number(page.y + 10)})"))
    page.lines(text, size=BODY, fill=fill, left=INDENT)
    page.y += 2


def band(colours: Palette, *, tone: str = "accent") -> str:
    """A shaded area with its edge."""
    return svg.element("rect", x=-SWATCH / 2, y="-6", width=SWATCH, height="12",
                       fill=colours[f"{tone}-soft"], stroke=colours[tone], stroke_width="0.6")


def box(colour: str, opacity: str | None = None) -> str:
    """A filled area."""
    return svg.element("rect", x=-SWATCH / 2, y="-6", width=SWATCH, height="12", fill=colour,
                       opacity=opacity)


def stitch(colour: str) -> str:
    """A row of stitches."""
    return line(colour, dashes="6 3")


def line(colour: str, *, wide: str = "2", dashes: str | None = None) -> str:
    """A line."""
    return svg.element("path", d=f"M{svg.number(-SWATCH / 2)} 0h{svg.number(SWATCH)}",
                       stroke=colour, stroke_width=wide, stroke_dasharray=dashes)
