"""The numbers of a chart as tables below its picture."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from reports.document import Column, Table
from reports.picture.charts import words
from reports.picture.charts.view import Panel, View, names_of
from reports.picture.plot import Ints
from reports.picture.ticks import grouped, places, short
from reports.picture.words import quantity

MOST_ROWS = 400
"""Rows of one table; a longer chart shows the points that signal first."""
DIGITS = 6
_RAISED = str.maketrans("0123456789\u2212", "⁰¹²³⁴⁵⁶⁷⁸⁹⁻")


def chart_tables(view: View) -> tuple[Table, ...]:
    """A table for each panel."""
    return tuple(_numbers(view, panel) for panel in view.panels)


def _numbers(view: View, panel: Panel) -> Table:
    """The points of a panel: all of them, or those that signal and then the first."""
    at = _shown(panel)
    varying = bool((panel.centre != panel.centre[0]).any())
    unit = f", {panel.unit}" if panel.unit else ""
    axis = view.chart.request.subgroup
    columns = [
        Column(key="at", name=quantity(axis)[0] if axis else words.POINT_WORDS["row"]),
        Column(key="value", name=f"{panel.name}{unit}", kind="figure"),
        Column(key="lower", name=words.LOWER, kind="figure"),
        *([Column(key="centre", name=words.CENTRE, kind="figure")] if varying else []),
        Column(key="upper", name=words.UPPER, kind="figure"),
        Column(key="signals", name=words.SAYS),
    ]
    written = _writer(panel)
    rows = tuple(_row(view, panel, int(k), varying, written) for k in at)
    return Table(title=panel.name, columns=tuple(columns), rows=rows,
                 note=_note(panel, len(at), varying))


def _shown(panel: Panel) -> Ints:
    """Positions (0-based) of the rows of a table, in order."""
    n = len(panel.value)
    if n <= MOST_ROWS:
        return np.arange(n)
    marked = np.flatnonzero(panel.signals)[:MOST_ROWS]
    quiet = np.flatnonzero(panel.signals == 0)[:MOST_ROWS - len(marked)]
    return np.sort(np.concatenate((marked, quiet)))


def _writer(panel: Panel) -> Callable[[float], str | None]:
    """How the numbers of a panel are written, so that they stand below each other."""
    ends = [np.nanmax(np.abs(line)) for line in (panel.value, panel.lower, panel.upper)
            if not np.isnan(line).all()]
    decimals = places(float(max(ends)), DIGITS)

    def written(x: float) -> str | None:
        if np.isnan(x):
            return None
        return _high(short(float(x))) if decimals is None else grouped(float(x), decimals)

    return written


def _high(text: str) -> str:
    """Powers of ten with raised digits, for text that is not drawn."""
    number, hat, power = text.partition("^")
    return number + power.translate(_RAISED) if hat else text


def _row(view: View, panel: Panel, k: int, varying: bool,
         written: Callable[[float], str | None]) -> tuple[str | None, ...]:
    figures = [panel.value[k], panel.lower[k], *([panel.centre[k]] if varying else []),
               panel.upper[k]]
    said = "; ".join(view.says(name) for name in names_of(int(panel.signals[k])))
    return view.chart.name_of(k + panel.first_at), *map(written, figures), said or None


def _note(panel: Panel, n_rows: int, varying: bool) -> str:
    centre = _high(short(float(panel.centre[0]), DIGITS))
    parts = [] if varying else [words.CENTRE_IS.format(centre=centre)]
    if n_rows < len(panel.value):
        n_marked = min(int(np.count_nonzero(panel.signals)), n_rows)
        parts.append(words.NOT_ALL_ROWS.format(
            rows=grouped(n_rows, 0), n=grouped(len(panel.value), 0),
            marked=grouped(n_marked, 0)))
    return " ".join(parts)
