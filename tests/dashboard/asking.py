"""Asking the real app as a browser does: over its own HTTP interface."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from dash import Dash


def callback(app: Dash, output: str, **given: Any) -> dict[str, Any]:
    """Run the callback of an output; ``given`` has 'id__property' values; the answer's props."""
    spec = next(c for c in app.callback_map.values()
                if output in _outputs(c) and _has_inputs(c, given))
    body = {
        "output": _name(app, spec), "outputs": _outputs_body(spec),
        "inputs": [_value(i, given) for i in spec["inputs"]],
        "state": [_value(s, given) for s in spec["state"]],
        "changedPropIds": [f"{i['id']}.{i['property']}" for i in spec["inputs"]
                           if _key(i) in given],
    }
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    if answer.status_code == 204:
        return {}
    assert answer.status_code == 200, answer.get_data(as_text=True)[:500]
    found: dict[str, Any] = json.loads(answer.get_data())["response"]
    return found


def words(tree: Any) -> str:
    """All text of a component tree, joined by spaces; a per cent stands off by a plain one."""
    return " ".join(_words(tree)).replace("\u00a0%", " %")


def links(tree: Any) -> list[str]:
    """Every address a component tree leads to."""
    return [props["href"] for props in props_of(tree) if "href" in props]


def table_rows(tree: Any) -> list[list[str]]:
    """The rows of every table in a component tree, each cell in its words."""
    return [[words(_part(cell)) for cell in row] for props in props_of(tree)
            if props.get("data-built", "").startswith("{")
            for row in json.loads(props["data-built"])["rows"]]


def props_of(tree: Any) -> Iterator[dict[str, Any]]:
    """The properties of every component in a tree."""
    if isinstance(tree, list):
        for item in tree:
            yield from props_of(item)
    elif isinstance(tree, dict) and "props" in tree:
        yield tree["props"]
        yield from props_of(tree["props"].get("children"))
        yield from props_of(_built(tree["props"]))


def plain(component: Any) -> Any:
    """A component as the browser gets it."""
    from dash._utils import to_json

    return json.loads(to_json(component))


def _words(tree: Any) -> Iterator[str]:
    if isinstance(tree, str):
        yield tree
    elif isinstance(tree, list):
        for item in tree:
            yield from _words(item)
    elif isinstance(tree, dict):
        yield from _words(tree.get("props", {}).get("children"))
        yield from _words(_built(tree.get("props", {})))


def _built(props: dict[str, Any]) -> list[Any]:
    """What a browser builds out of a part that is sent as one (`dashboard.components.built`), as
    components."""
    said = json.loads(props.get("data-built", "[]"))
    if isinstance(said, dict):
        return [said["name"], *said["heads"], *(_part(cell) for row in said["rows"]
                                                for cell in row)]
    return [_part(one) for one in said]


def _part(said: Any) -> Any:
    if not isinstance(said, list):
        return said
    tag, attributes, *inside = said
    props = {{"class": "className"}.get(name, name): value
             for name, value in (attributes or {}).items()}
    return {"type": tag, "props": {**props, "children": [_part(one) for one in inside]}}


def _outputs(spec: dict[str, Any]) -> list[str]:
    found = spec["output"]
    return [f"{o.component_id}.{o.component_property}"
            for o in (found if isinstance(found, list | tuple) else [found])]


def _has_inputs(spec: dict[str, Any], given: dict[str, Any]) -> bool:
    known = {_key(part) for part in (*spec["inputs"], *spec["state"])}
    return set(given) <= known


def _name(app: Dash, spec: dict[str, Any]) -> str:
    return next(name for name, known in app.callback_map.items() if known is spec)


def _outputs_body(spec: dict[str, Any]) -> Any:
    def one(output: Any) -> dict[str, str]:
        return {"id": output.component_id, "property": output.component_property}

    found = spec["output"]
    return [one(o) for o in found] if isinstance(found, list | tuple) else one(found)


def _key(part: dict[str, Any]) -> str:
    return f"{part['id']}__{part['property']}"


def _value(part: dict[str, Any], given: dict[str, Any]) -> dict[str, Any]:
    return {**part, "value": given.get(_key(part))}
