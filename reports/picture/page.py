"""A picture as a page: light or dark as the reader's screen is, with its numbers as tables."""

from __future__ import annotations

from functools import cache
from html import escape
from importlib.resources import files

from reports.html import OWN_FONT, paper_style, table_html, whole_page
from reports.picture.palette import BY_PAGE, DARK, LIGHT, variables
from reports.picture.sheet import NARROW, WIDE, Sheet, sheet_svg
from reports.picture.type import font_face


def sheet_html(sheet: Sheet) -> bytes:
    """The picture as a page, UTF-8."""
    pictures = "\n".join(
        f'<figure class="{name}">'
        f"{sheet_svg(sheet, width=width, colours=BY_PAGE, carry_font=False, name=name)}</figure>"
        for name, width in (("wide", WIDE), ("narrow", NARROW))
    )
    tables = "\n".join(table_html(table, main=True) for table in sheet.tables())
    body = f"<main>\n<h1>{escape(sheet.name)}</h1>\n{pictures}\n{tables}\n</main>"
    return whole_page(sheet.name, _style(), body, policy=OWN_FONT)


@cache
def _style() -> str:
    own = files("reports").joinpath("picture", "picture.css").read_text(encoding="utf-8")
    return (f"{font_face()}\n{paper_style()}\n:root{{{variables(LIGHT)}}}\n"
            f"@media screen and (prefers-color-scheme: dark){{"
            f":root{{color-scheme:dark;{variables(DARK)}}}}}\n{own}")
