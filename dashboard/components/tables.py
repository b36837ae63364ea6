"""Tables: the numbers of a chart, and records; on a narrow screen each row becomes a card."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.attributes import headed, named
from dashboard.components.built import NotStill, carrying, packed


def table(
    headings: Sequence[str], rows: Sequence[Sequence[Any]], *, label: str,
    numeric: Sequence[int] = (), stacked: bool = True,
) -> Component:
    """A table whose first column names the row; ``numeric`` columns are set to the right.

    One component, however many rows (`dashboard.components.built`), unless a cell holds
    something that a callback answers to."""
    root = {"className": "table-box" + (" stacked" if stacked else ""), "tabIndex": 0,
            "role": "region", **named(label)}
    headings = [formats.unbroken(heading) for heading in headings]
    try:
        cells = [[packed(cell) for cell in row] for row in rows]
    except NotStill:
        return html.Div(_live(headings, rows, label, numeric), **root)
    return carrying({"name": label, "heads": headings, "right": list(numeric),
                     "rows": cells}, **root)


def _live(
    headings: Sequence[str], rows: Sequence[Sequence[Any]], label: str, numeric: Sequence[int]
) -> Component:
    head = html.Thead(html.Tr([
        html.Th(heading, scope="col", className=_align(i, numeric))
        for i, heading in enumerate(headings)
    ]))
    body = html.Tbody([_row(headings, row, numeric) for row in rows])
    return html.Table([html.Caption(label, className="unseen"), head, body])


def _row(headings: Sequence[str], row: Sequence[Any], numeric: Sequence[int]) -> Component:
    cells: list[Component] = [html.Th(row[0], scope="row", **headed(headings[0]))]
    cells += [
        html.Td(cell, className=_align(i, numeric), **headed(headings[i]))
        for i, cell in enumerate(row) if i > 0
    ]
    return html.Tr(cells)


def _align(i: int, numeric: Sequence[int]) -> str:
    return "number" if i in numeric else ""


def numbers(inside: Component) -> Component:
    """A chart's numbers, folded away until asked for."""
    return html.Details([html.Summary(text.NUMBERS), inside], className="numbers")
