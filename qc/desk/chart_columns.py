"""The columns of a file as a chart takes them: numbers, tables of numbers, and subgroups."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.desk.chart_kinds import ChartKind
from qc.desk.chart_request import ChartRequest
from qc.intake.numbers import column_numbers
from qc.intake.table import RawTable, object_array
from qc.stats.charts.autocorrelation import independent_part

NAMED = frozenset({"subgroup", "part"})
"""Columns of names; all others are of numbers."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChartColumns:
    """Arguments for the function of a chart, and how its points are called.

    ``labels`` : names of the subgroups in order of first appearance; None: points are rows.
    ``n_points`` : how many points will be plotted.
    """

    arguments: dict[str, Any]
    labels: tuple[str, ...] | None
    n_points: int


def chart_columns(table: RawTable, kind: ChartKind, request: ChartRequest) -> ChartColumns:
    """Read the columns a chart of this kind is made from.

    Raises
    ------
    InputError
        A column is not there, or a cell is blank or not a number.
    """
    arguments: dict[str, Any] = {}
    labels: tuple[str, ...] | None = None
    for name, argument in {**kind.columns, **kind.optional}.items():
        column = getattr(request, name)
        if column is None:
            continue
        if name in NAMED:
            texts = table.labels(column)
            arguments[argument] = object_array(texts)
            labels = tuple(dict.fromkeys(texts)) if name == "subgroup" else labels
        elif name == "values":
            arguments[argument] = np.column_stack([column_numbers(table, each) for each in column])
        else:
            arguments[argument] = column_numbers(table, column)
    if request.independent and len(table):
        arguments["values"], labels = _independent(arguments["values"], request)
    n_points = len(table) if labels is None else len(labels)
    return ChartColumns(arguments=arguments, labels=labels, n_points=n_points)


def _independent(
    values: npt.NDArray[np.float64], request: ChartRequest
) -> tuple[npt.NDArray[np.float64], tuple[str, ...]]:
    """What each value adds to the one before, and the rows it is called by: from the second on."""
    baseline = None
    if request.baseline is not None:  # of plotted points, each made from two rows
        first, last = request.baseline
        baseline = first, min(last + 1, len(values))
    rows = tuple(str(row) for row in range(2, len(values) + 1))
    return independent_part(values, baseline=baseline), rows
