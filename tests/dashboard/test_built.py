"""What goes to the browser as one component, and how many components a page may hold."""

from __future__ import annotations

import json
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest
from dash import Dash, dcc, html

from dashboard.components import built as made
from dashboard.components.built import NotStill, built, packed
from dashboard.components.states import mark
from dashboard.components.tables import table
from dashboard.shell import page_of
from tests.benchmarks.pages import questions
from tests.dashboard.asking import callback, links, plain, table_rows, words
from tests.dashboard.small_shop import END_US

MOST = 260
"""The renderer walks through all of a page's components at each of its answers."""
SCRIPT = Path(made.__file__).parents[1] / "assets" / "built.js"


def components(tree: Any) -> int:
    """How many components a tree holds."""
    if isinstance(tree, list):
        return sum(components(one) for one in tree)
    if not isinstance(tree, dict):
        return 0
    inside = tree.get("props", tree) if "namespace" in tree else tree
    return ("namespace" in tree) + sum(
        components(value) for name, value in inside.items() if name != "figure")


def test_a_table_of_any_length_is_one_component() -> None:
    rows = [(f"B-{i}", mark("alarm", "out"), dcc.Link("Show", href=f"/records?piece=B-{i}"))
            for i in range(500)]
    made = plain(table(("Piece", "State", ""), rows, label="Pieces", numeric=(1,)))
    assert components(made) == 1
    assert table_rows(made)[499] == ["B-499", "▲ out", "Show"]
    assert links(made)[:2] == ["/records?piece=B-0", "/records?piece=B-1"]
    assert made["props"]["aria-label"] == "Pieces" and words(made).startswith("Pieces Piece State")


def test_a_table_with_something_to_press_stays_live() -> None:
    button = html.Button("Take", id="take")
    made = plain(table(("A", "B"), [("x", button)], label="Choices"))
    assert "data-built" not in made["props"] and components(made) > 6


@pytest.mark.parametrize("part", [
    html.Span("x", id="seen"), html.Button("x"), dcc.Input(), html.Span("x", n_clicks=1),
    html.Iframe(src="/"), html.Div([html.B(html.Script("x"))])])
def test_what_does_not_stand_still_is_refused(part: Any) -> None:
    with pytest.raises(NotStill, match="does not stand still"):
        packed(part)


def test_text_stays_text() -> None:
    made = plain(built([html.B("<img src=x onerror=alert(1)>"), None, 3], className="box"))
    assert json.loads(made["props"]["data-built"]) == [
        ["b", 0, "<img src=x onerror=alert(1)>"], "", "3"]


def test_the_browser_builds_every_tag_that_is_sent() -> None:
    tags = SCRIPT.read_text(encoding="utf-8").partition("TAGS = /^(")[2].partition(")")[0]
    assert set(tags.split("|")) == {tag.lower() for tag in made._TAGS}


def test_no_page_holds_more_components_than_a_browser_bears(app: Dash) -> None:
    held: dict[str, int] = defaultdict(int)
    for question in questions(END_US):
        page = question.name.partition(":")[0]
        if not question.path and page in ("Trends", "Floor"):
            answer = callback(app, question.output, **question.given)
            held[f"{page} {question.output}"] = max(
                held[f"{page} {question.output}"], components(answer))
    for page, path in (("Trends", "/trends"), ("Floor", "/")):
        parts = {name: n for name, n in held.items() if name.startswith(page)}
        whole = components(plain(page_of(path, ""))) + sum(parts.values())
        assert parts and whole <= MOST, (page, whole, parts)
