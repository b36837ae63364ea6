"""Elements of SVG as text: escaped, short numbers, the same bytes for the same drawing."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from html import escape

from reports.cells import sound

_RAISED = re.compile(r"10\^(\u2212?\d+)(.?)")
"""A power of ten as `ticks.short` writes it, and what follows."""


def number(x: float) -> str:
    """A coordinate to a tenth, without needless zeros."""
    text = f"{x:.1f}"
    return "0" if text == "-0.0" else text.removesuffix(".0")


def element(name: str, inside: str = "", **attributes: str | float | None) -> str:
    """One element; ``_`` in a name stands for ``-``, attributes that are None are left out."""
    given = "".join(
        f' {key.rstrip("_").replace("_", "-")}="'
        f'{escape(value, quote=True) if isinstance(value, str) else number(value)}"'
        for key, value in attributes.items() if value is not None
    )
    return f"<{name}{given}>{inside}</{name}>" if inside else f"<{name}{given}/>"


def group(parts: Iterable[str], **attributes: str | float | None) -> str:
    """Parts that share attributes."""
    return element("g", "\n".join(parts), **attributes)


def text(x: float, y: float, words: str, *, size: float, fill: str, bold: bool = False,
         anchor: str | None = None, halo: str | None = None) -> str:
    """One line of text, its base line at ``y``; ``halo`` keeps it clear of what lies below."""
    return element(
        "text", _RAISED.sub(partial(_raised, size), escaped(words)), x=x, y=y, font_size=size,
        fill=fill, font_weight="700" if bold else None, text_anchor=anchor,
        stroke=halo, stroke_width="4" if halo else None, paint_order="stroke" if halo else None,
        stroke_linejoin="round" if halo else None,
    )


def escaped(words: str) -> str:
    """Text that may stand inside an element."""
    return escape(sound(words), quote=False)


def _raised(size: float, found: re.Match[str]) -> str:
    """A power of ten with its exponent set high, and what follows back on the line."""
    rise, small = number(0.38 * size), number(0.72 * size)
    after = f'<tspan dy="{rise}">{found[2]}</tspan>' if found[2] else ""
    return f'10<tspan dy="-{rise}" font-size="{small}">{found[1]}</tspan>{after}'


def polyline(points: Iterable[tuple[float, float]]) -> str:
    """The path through points."""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def triangle(x: float, y: float, size: float, *, up: bool) -> str:
    """The path of a triangle about a point."""
    rise = -size if up else size
    return (f"M{number(x)} {number(y + rise)}l{number(size)} {number(-1.75 * rise)}"
            f"h{number(-2 * size)}z")


def diamond(x: float, y: float, size: float) -> str:
    """The path of a diamond about a point."""
    s = number(size)
    return f"M{number(x)} {number(y - size)}l{s} {s}l-{s} {s}l-{s} -{s}z"


def disc(x: float, y: float, r: float) -> str:
    """The path of a disc about a point."""
    d = number(2 * r)
    return (f"M{number(x - r)} {number(y)}a{number(r)} {number(r)} 0 1 0 {d} 0"
            f"a{number(r)} {number(r)} 0 1 0 -{d} 0")
