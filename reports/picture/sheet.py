"""The sheet every picture stands on: a petrol band held by a stitch, the verdict, the drawing, the
words below it, the foot. A sheet that asks for something to be done lifts its corner, as cards on
the screens do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from reports.document import Table
from reports.picture import svg, words
from reports.picture.palette import LIGHT, Palette
from reports.picture.setting import BODY, LINE, PAD, SMALL, Page
from reports.picture.type import STACK, cut, font_face, width, wrapped

NARROW, FILE, WIDE = 400.0, 480.0, 980.0
"""Widths of a picture: on a telephone, as a file of its own, on a screen or page with room."""
TITLE, LEAD = 22.0, 16.0
CORNER = 46.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What stands around a drawing, and the drawing itself.

    ``tone`` : of the verdict, 'calm', 'watch' or 'alarm'; alarm lifts the corner. ``draw`` : puts
    the drawing and its words on a page, from ``page.y`` down. ``foot`` : method and data.
    ``tables`` : the numbers, made when they are asked for.
    """

    kind: str
    title: str
    verdict: str
    tone: str
    draw: Callable[[Page], None]
    foot: tuple[str, ...]
    tables: Callable[[], tuple[Table, ...]]

    @property
    def name(self) -> str:
        return f"{self.kind}: {self.title}"

    @property
    def lifted(self) -> bool:
        return self.tone == "alarm"


def sheet_svg(sheet: Sheet, *, width: float = FILE, colours: Palette = LIGHT,
              carry_font: bool = True, name: str = "picture") -> str:
    """The picture as one SVG element.

    ``name`` makes the identifiers in it differ from those of another picture on the same page.
    """
    page = Page(width=width, colours=colours)
    _header(page, sheet)
    _verdict(page, sheet)
    sheet.draw(page)
    _foot(page, sheet)
    return _closed(page, sheet, carry_font=carry_font, name=name)


def _header(page: Page, sheet: Sheet) -> None:
    room = page.room - (CORNER if sheet.lifted else 0)
    lines = wrapped(sheet.title, TITLE, room, bold=True)[:2]
    height = 36 + len(lines) * TITLE * 1.2 + 14
    page.parts.append(svg.element("rect", width=page.width, height=height,
                                  fill=page.colours["band"]))
    page.parts.append(svg.text(PAD, 26, cut(sheet.kind, BODY, room), size=BODY,
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


def _verdict(page: Page, sheet: Sheet) -> None:
    lines = wrapped(sheet.verdict, LEAD, page.room - 46, bold=True)
    height = len(lines) * LEAD * LINE + 12
    widest = max(width(line, LEAD, bold=True) for line in lines)
    page.parts.append(svg.element("rect", x=PAD, y=page.y, width=widest + 46, height=height, rx="3",
                                  fill=page.colours[f"{sheet.tone}-soft"]))
    middle = page.y + 6 + LEAD * LINE / 2
    page.parts.append(svg.element("path", d=_sign(sheet.tone, PAD + 18, middle),
                                  fill=page.colours[sheet.tone]))
    y = page.y + 6
    for line in lines:
        y += LEAD * LINE
        page.parts.append(svg.text(PAD + 34, y - 0.34 * LEAD, line, size=LEAD, bold=True,
                                   fill=page.colours[sheet.tone]))
    page.y += height + 14


def _sign(tone: str, x: float, y: float) -> str:
    """A shape for each tone, so that none is told by colour alone."""
    if tone == "alarm":
        return svg.triangle(x, y, 7, up=True)
    return svg.diamond(x, y, 7) if tone == "watch" else svg.disc(x, y, 6)


def _foot(page: Page, sheet: Sheet) -> None:
    page.y += 10
    y = svg.number(page.y)
    page.parts.append(svg.element(
        "path", d=f"M{svg.number(PAD)} {y}H{svg.number(page.width - PAD)}", stroke_dasharray="7 5",
        stroke=page.colours["thread"], stroke_width="2"))
    page.y += 8
    for line in sheet.foot:
        page.lines(line, size=SMALL, fill="soft")
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


def _closed(page: Page, sheet: Sheet, *, carry_font: bool, name: str) -> str:
    height = round(page.y)
    wide = svg.number(page.width)
    head = svg.element("title", svg.escaped(sheet.name), id=f"{name}-title")
    head += svg.element("desc", svg.escaped(sheet.verdict), id=f"{name}-about")
    if carry_font:
        head += svg.element("style", font_face())
    ground = svg.element("rect", width=page.width, height=float(height),
                         fill=page.colours["sheet"])
    body = "\n".join([head, ground, *page.parts, *_corner(page, lifted=sheet.lifted)])
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
