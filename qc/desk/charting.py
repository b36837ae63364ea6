"""A control chart of any table in a file; no store needed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qc.errors import InputError
from qc.intake.numbers import column_numbers
from qc.intake.reading import read_table
from qc.intake.table import RawTable
from qc.stats.charts import Chart, ControlChart, bit, names_of
from qc.stats.ewma import ewma_chart
from qc.stats.individuals import individuals_chart
from qc.stats.rules import rule_set
from qc.stats.shewhart_counts import c_chart, np_chart, p_chart, u_chart


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartRequest:
    """What to chart: names of columns, and options; None where not given.

    ``baseline``: first and last plotted point, 1-based, that limits come from.
    """

    kind: str
    value: str | None = None
    values: tuple[str, ...] | None = None
    subgroup: str | None = None
    count: str | None = None
    size: str | None = None
    centre: float | None = None
    sigma: float | None = None
    baseline: tuple[int, int] | None = None
    limits: str | None = None
    rules: str | None = None
    weight: float | None = None
    width: float | None = None
    sheet: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartKind:
    """How a kind is made: its function, columns (field -> argument) and options it takes."""

    make: Callable[..., ControlChart]
    columns: dict[str, str]
    optional: dict[str, str]
    options: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlottedPoint:
    """One point as a person reads it; a limit that does not exist is nan."""

    at: int
    label: str
    value: float
    lower: float
    upper: float
    signals: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FileChart:
    """A chart with the labels of its points (of the subgroups, or their position).

    ``file`` : name of the file, without its folder. ``request`` : what was asked for.
    """

    chart: ControlChart
    labels: tuple[str, ...] | None
    file: str
    request: ChartRequest

    def points(self, chart: Chart) -> Iterator[PlottedPoint]:
        """The points of one of the charts, in order."""
        columns = (chart.value.tolist(), chart.lower.tolist(), chart.upper.tolist(),
                   chart.signals.tolist())
        for at, (value, lower, upper, signals) in enumerate(
            zip(*columns, strict=True), start=chart.first_at
        ):
            label = str(at) if self.labels is None else self.labels[at - 1]
            yield PlottedPoint(at, label, value, lower, upper, names_of(signals))


COUNTED = {"count": "n_defective", "size": "n_inspected"}
KINDS: dict[str, ChartKind] = {
    "individuals": ChartKind(
        make=individuals_chart, columns={"value": "values"}, optional={},
        options=("centre", "sigma", "baseline", "rules")),
    "p": ChartKind(make=p_chart, columns=COUNTED, optional={},
                   options=("centre", "baseline", "rules")),
    "np": ChartKind(make=np_chart, columns=COUNTED, optional={},
                    options=("centre", "baseline", "rules")),
    "c": ChartKind(make=c_chart, columns={"count": "n_defects"}, optional={},
                   options=("centre", "baseline", "rules")),
    "u": ChartKind(make=u_chart, columns={"count": "n_defects", "size": "n_units"}, optional={},
                   options=("centre", "baseline", "rules")),
    "ewma": ChartKind(
        make=ewma_chart, columns={"value": "values"}, optional={"subgroup": "subgroup"},
        options=("centre", "sigma", "baseline", "limits", "rules", "weight", "width")),
}
NOT_BUILT = ("xbar-r", "xbar-s", "p-prime", "u-prime", "g", "t", "cusum", "t2")
_OPTION = {"weight": "lambda"}


def chart_file(path: str, request: ChartRequest) -> FileChart:
    """Chart a table read from a CSV or XLSX file.

    Raises
    ------
    InputError
        The kind is not known or not built, an option is missing or not for this kind, the file
        cannot be read, a column is not there, a cell is blank or not a number, or a value is out
        of the range of the chart.
    """
    kind = checked_kind(request)
    table = read_table(path, sheet=request.sheet)
    columns: dict[str, Any] = {
        argument: column_numbers(table, getattr(request, field))
        for field, argument in kind.columns.items()
    }
    labels = None
    if request.subgroup is not None:
        columns["subgroup"] = _filled(table, request.subgroup)
        labels = tuple(dict.fromkeys(columns["subgroup"]))
    try:
        chart = kind.make(**columns, **_options(kind, request))
    except ValueError as wrong:
        raise InputError(_in_words(str(wrong), kind, request)) from None
    return FileChart(chart=chart, labels=labels, file=Path(path).name, request=request)


def checked_kind(request: ChartRequest) -> ChartKind:
    """The kind asked for, if it can be made with these options."""
    if request.kind in NOT_BUILT:
        raise InputError(f"a chart of kind {request.kind!r} is not built yet; there are:"
                         f" {', '.join(KINDS)}")
    if request.kind not in KINDS:
        raise InputError(f"there is no chart of kind {request.kind!r}; there are:"
                         f" {', '.join(KINDS)}")
    kind = KINDS[request.kind]
    missing = [field for field in kind.columns if getattr(request, field) is None]
    if missing:
        raise InputError(f"a chart of kind {request.kind!r} needs --{missing[0]} COLUMN")
    takes = {*kind.columns, *kind.optional, *kind.options, "kind", "sheet"}
    extra = [name for name in ChartRequest.__dataclass_fields__
             if name not in takes and getattr(request, name) is not None]
    if extra:
        raise InputError(f"a chart of kind {request.kind!r} takes no --{_option(extra[0])}")
    return kind


def parse_baseline(text: str) -> tuple[int, int]:
    """'1:25' as first and last plotted point."""
    found = re.fullmatch(r"\s*(\d+)\s*:\s*(\d+)\s*", text)
    if not found:
        raise InputError(f"--baseline is {text!r}; write first and last point as in 1:25")
    return int(found[1]), int(found[2])


def _filled(table: RawTable, name: str) -> list[str]:
    texts = [text.strip() for text in table.column(name).tolist()]
    if "" in texts:
        line = table.lines[texts.index("")]
        raise InputError(f"line {line}: {name} is blank; every row needs a subgroup")
    return texts


def _options(kind: ChartKind, request: ChartRequest) -> dict[str, Any]:
    given = {name: getattr(request, name) for name in kind.options}
    if kind.make is ewma_chart:
        # patterns are for points that do not remember the ones before; the name must be right
        rule_set(given.pop("rules") or "limits")
    return {name: value for name, value in given.items() if value is not None}


def _option(name: str) -> str:
    return _OPTION.get(name, name)


def _in_words(message: str, kind: ChartKind, request: ChartRequest) -> str:
    """A message about an argument as one about the column or option it came from."""
    argument, _, rest = message.partition(" ")
    for field, name in {**kind.columns, **kind.optional}.items():
        if name == argument:
            return f"column {getattr(request, field)!r} {rest}".replace("position", "row")
    return f"--{_option(argument)} {rest}"


__all__ = [
    "KINDS", "Chart", "ChartKind", "ChartRequest", "ControlChart", "FileChart", "PlottedPoint",
    "bit", "chart_file", "checked_kind", "names_of", "parse_baseline",
]
