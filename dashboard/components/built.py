"""Parts that stand still, sent as one component and put together in the browser.

The renderer works on every component of a page each time one of them changes, so a table of some
hundred rows, one component for each cell, holds the browser up for a minute. What has no callback
goes out as one component that carries its content as JSON; `assets/built.js` builds it with plain
DOM calls.

A part is a text, or a list: tag, attributes (0 for none), parts inside. The tag 'go' is a link
inside the app. A table is an object, see `dashboard.components.tables`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from dash import html
from dash.development.base_component import Component

Part = Any
"""What JSON can say: a text or [tag, attributes, part, ...]."""

_TAGS = frozenset({"A", "Article", "B", "Br", "Div", "H2", "H3", "I", "Li", "P", "Small", "Span",
                   "Strong", "Ul"})
_NAMES = {"className": "class", "href": "href", "target": "target", "title": "title",
          "style": "style", "role": "role", "download": "download"}


class NotStill(TypeError):
    """A component that a callback can read or change, or that is more than plain HTML."""


def built(parts: Any, **root: Any) -> Component:
    """A division with the attributes ``root`` whose content the browser builds.

    Raises
    ------
    NotStill
        A part has an id, or is neither plain HTML nor a link.
    """
    return _carrying([packed(part) for part in parts], root)


def carrying(content: Mapping[str, Any], **root: Any) -> Component:
    """The same for a table."""
    return _carrying(content, root)


def _carrying(content: Any, root: dict[str, Any]) -> Component:
    written = json.dumps(content, ensure_ascii=False, separators=(",", ":"))
    root["data-built"] = written
    return html.Div(**root)


def packed(part: Any) -> Part:
    """A component tree as a part.

    Raises
    ------
    NotStill
        A part has an id, or is neither plain HTML nor a link.
    """
    if part is None:
        return ""
    if not isinstance(part, Component):
        return str(part)
    said = part.to_plotly_json()
    props = dict(said["props"])
    inside = props.pop("children", None)
    kids = inside if isinstance(inside, list | tuple) else [inside]
    return [_tag(said), {_attribute(name): value for name, value in props.items()
                         if value is not None} or 0,
            *(packed(kid) for kid in kids if kid is not None)]


def _tag(said: Mapping[str, Any]) -> str:
    kind, of = said["type"], said["namespace"]
    if (kind, of) == ("Link", "dash_core_components"):
        return "go"
    if of == "dash_html_components" and kind in _TAGS:
        return str(kind).lower()
    raise NotStill(f"{of}.{kind} does not stand still")


def _attribute(name: str) -> str:
    if name.startswith(("aria-", "data-")):
        return name
    if name not in _NAMES:
        raise NotStill(f"a part with {name!r} does not stand still")
    return _NAMES[name]
