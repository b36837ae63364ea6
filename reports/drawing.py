"""What a drawing in a document may be: shapes and words, nothing that runs, loads or points out.

An SVG may hold scripts, styles that reach the whole page, and addresses. A picture in a document
needs none of them, so only what draws is let in, and every form can take the drawing as it is.
"""

from __future__ import annotations

from math import inf
from xml.etree import ElementTree

SVG = "http://www.w3.org/2000/svg"
ELEMENTS = frozenset({
    "svg", "g", "title", "desc", "rect", "path", "line", "polyline", "polygon", "circle", "ellipse",
    "text", "tspan",
})
ATTRIBUTES = frozenset({
    "viewBox", "width", "height", "x", "y", "dx", "dy", "x1", "x2", "y1", "y2", "cx", "cy", "r",
    "rx", "ry", "d", "points", "transform", "fill", "fill-opacity", "fill-rule", "stroke",
    "stroke-width", "stroke-opacity", "stroke-dasharray", "stroke-linecap", "stroke-linejoin",
    "opacity", "paint-order", "font-family", "font-size", "font-weight", "text-anchor", "id",
    "role", "aria-labelledby",
})
ABOUT = (f"{{{SVG}}}title", f"{{{SVG}}}desc")
FOR_READERS = ("id", "role", "aria-labelledby")
"""A document says in its own words what a picture shows, so that no two names can meet."""


def check_drawing(svg: str) -> None:
    """Refuse what is more than a drawing.

    Raises
    ------
    ValueError
        Not one well-formed SVG element, a part that does more than draw, a colour or shape that is
        kept elsewhere, or no size.
    """
    root = _root(svg)
    for part in root.iter():
        name = part.tag.removeprefix(f"{{{SVG}}}")
        if name not in ELEMENTS:
            raise ValueError(f"a picture must not hold <{name}>; only what draws is allowed")
        for key, value in part.attrib.items():
            if key not in ATTRIBUTES:
                raise ValueError(f"<{name}> of a picture must not have {key!r}")
            if "(" in value and key != "transform":  # url(), var(), and what else may come
                raise ValueError(f"{key}={value!r} of a picture must be a value of its own")
    if not all(0 < side < inf for side in drawing_size(svg)):
        raise ValueError("a picture needs a width and a height above 0")


def drawing_size(svg: str) -> tuple[float, float]:
    """Width and height in the drawing's own units; 96 of them are an inch (CSS pixels)."""
    root = _root(svg)
    try:
        return float(root.get("width", "")), float(root.get("height", ""))
    except ValueError:
        raise ValueError("a picture needs its width and height as plain numbers") from None


def bare_drawing(svg: str) -> str:
    """The drawing without its own title and names, to stand inside a page."""
    root = _root(svg)
    for part in root.iter():
        part.tag = part.tag.removeprefix(f"{{{SVG}}}")
        for key in FOR_READERS:
            part.attrib.pop(key, None)
        part[:] = [inner for inner in part if inner.tag not in ABOUT]
    return ElementTree.tostring(root, encoding="unicode")


def _root(svg: str) -> ElementTree.Element:
    if "<!" in svg or "<?" in svg:
        raise ValueError("a picture is one SVG element, without declarations or comments")
    try:
        root = ElementTree.fromstring(svg)
    except (ElementTree.ParseError, UnicodeEncodeError) as error:
        raise ValueError(f"a picture is one SVG element: {error}") from None
    if root.tag != f"{{{SVG}}}svg":
        raise ValueError(f"a picture is one SVG element, not <{root.tag}>")
    return root
