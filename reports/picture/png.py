"""The picture as PNG, drawn from the SVG with the bundled font: no browser, no system library."""

from __future__ import annotations

from importlib.resources import as_file, files

from reports.picture.sheet import Sheet, sheet_svg
from reports.picture.type import FAMILY, covered

PIXELS = 1440
"""Pixels across: 3 for each unit of the drawing."""
FONTS = ("atkinson-hyperlegible-next-regular.ttf", "atkinson-hyperlegible-next-bold.ttf")


def sheet_png(sheet: Sheet) -> bytes:
    """The picture as a PNG file."""
    return drawing_png(sheet_svg(sheet, carry_font=False), PIXELS)


def drawing_png(drawing: str, pixels: int) -> bytes:
    """An SVG as a PNG file, so many pixels across.

    Fonts of the machine are looked at only where a name has letters the bundled font lacks.
    """
    from resvg_py import svg_to_bytes

    known = covered(drawing.replace("\n", ""))
    with as_file(files("reports") / "fonts") as folder:
        return bytes(svg_to_bytes(
            svg_string=drawing, width=pixels, skip_system_fonts=known, font_family=FAMILY,
            sans_serif_family=FAMILY, font_files=[str(folder / name) for name in FONTS],
        ))
