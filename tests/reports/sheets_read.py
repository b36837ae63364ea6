"""What is read off a picture: its words, its filled paths, its triangles."""

from __future__ import annotations

from typing import Any
from xml.etree import ElementTree

from reports.picture.sheet import Sheet, sheet_svg

SVG = "{http://www.w3.org/2000/svg}"


def root_of(sheet: Sheet, **how: Any) -> ElementTree.Element:
    """The picture, read as the XML it must be."""
    return ElementTree.fromstring(sheet_svg(sheet, carry_font=False, **how))


def words_of(sheet: Sheet, **how: Any) -> str:
    """All its text in reading order, words on lines of their own joined."""
    return " ".join(" ".join(text.itertext()) for text in root_of(sheet, **how).iter(f"{SVG}text"))


def paths_of(sheet: Sheet, fill: str, **how: Any) -> list[str]:
    """Paths filled with a colour."""
    return [path.get("d", "") for path in root_of(sheet, **how).iter(f"{SVG}path")
            if path.get("fill") == fill]
