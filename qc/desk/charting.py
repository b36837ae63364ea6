"""A control chart of any table in a file; no store needed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from qc.desk.chart_arl import limits_for_arl
from qc.desk.chart_baseline import chart_cautions
from qc.desk.chart_change import ChartChange, signalled_change
from qc.desk.chart_columns import ChartColumns, chart_columns
from qc.desk.chart_kinds import KINDS, ChartKind, checked_kind, in_words
from qc.desk.chart_request import ChartRequest, parse_baseline, parse_excluded, parse_values
from qc.errors import InputError
from qc.intake.reading import read_table
from qc.stats.charts.baselines import Baseline
from qc.stats.charts.chart import SIGNALS, Chart, ControlChart, bit, names_of
from qc.stats.charts.mewma import MewmaChart, mewma_breakdown
from qc.stats.charts.multivariate import T2Chart, t2_breakdown
from qc.stats.charts.rules import rule_set

_NAMES = tuple(names_of(signals) for signals in range(256))
MOST_DETAILS = 10
INDEPENDENT = "plotted is what each value adds to what the one before let expect (first-order" \
              " autoregression), named by its row; a lasting step shows in full only at its first"
ONLY_LIMITS = "rules beyond the limits suppose independent points; this chart's are not, so only" \
              " its limits were looked at"


@dataclass(frozen=True, slots=True)
class PlottedPoint:
    """One point as a person reads it; a limit that does not exist is nan.

    ``centre`` : the centre line at this point where it follows the point's size, else None.
    """

    at: int
    label: str
    value: float
    lower: float
    upper: float
    signals: tuple[str, ...]
    centre: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FileChart:
    """A chart of a file.

    ``labels`` : names of the points where they are subgroups; None: positions. ``file`` : name of
    the file, without its folder. ``cautions`` : sentences to read before the limits are trusted;
    ``notes`` : what else to know of the limits. ``change`` : when the change that the chart signals
    began, where that can be said.
    """

    chart: ControlChart
    labels: tuple[str, ...] | None
    file: str
    request: ChartRequest
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    change: ChartChange | None = None

    def name_of(self, at: int) -> str:
        """How the point at a 1-based position is called."""
        return str(at) if self.labels is None else self.labels[at - 1]

    def details(self) -> list[str]:
        """What more there is to say of the points that signal: which variables stand out."""
        if not isinstance(self.chart, T2Chart | MewmaChart):
            return []
        at = self.chart.charts[0].signalled().tolist()[:MOST_DETAILS]
        return [f"{self.name_of(k)}: {variables_at(self.chart, self.request.values or (), k)}"
                for k in at]

    def rule_words(self) -> dict[str, str]:
        """What each rule that was asked for looks for."""
        return rule_set(self.request.rules or "limits").in_words()

    def points(self, chart: Chart) -> Iterator[PlottedPoint]:
        """The points of one of the charts, in order."""
        columns = [chart.value.tolist(), chart.lower.tolist(), chart.upper.tolist(),
                   chart.signals.tolist()]
        if chart.centres is not None:
            columns.append(chart.centres.tolist())
        for at, (value, lower, upper, signals, *centre) in enumerate(
            zip(*columns, strict=True), start=chart.first_at
        ):
            yield PlottedPoint(
                at, self.name_of(at), value, lower, upper, _NAMES[signals], *centre)


def chart_file(path: str, request: ChartRequest) -> FileChart:
    """Chart a table read from a CSV or XLSX file.

    Raises
    ------
    InputError
        The kind is not known, an option is missing or not for this kind, the file cannot be read,
        a column is not there, a cell is blank or not a number, or a value is out of the range of
        the chart.
    """
    kind = checked_kind(request)
    table = read_table(path, sheet=request.sheet)
    try:
        columns = chart_columns(table, kind, request)
        if not len(table):
            raise InputError(f"{path}: there are no rows below the header")
        options, notes = _options(kind, request, columns)
        chart = kind.make(**columns.arguments, **options)
        cautions = chart_cautions(chart, kind, columns.arguments, options)
        change = signalled_change(chart, columns.arguments, width=options.get("width", 3.0))
    except ValueError as wrong:
        raise InputError(in_words(str(wrong), kind, request, table.lines.tolist())) from None
    return FileChart(
        chart=chart, labels=columns.labels, file=Path(path).name, request=request, change=change,
        cautions=tuple(caution.value for caution in cautions), notes=notes,
    )


def _options(
    kind: ChartKind, request: ChartRequest, columns: ChartColumns
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Arguments of the chart that are not columns, and what is to be said of them."""
    given = {name: getattr(request, name) for name in kind.options
             if getattr(request, name) is not None}
    given.pop("for_arl", None)
    notes = [INDEPENDENT] if given.pop("independent", None) else []
    excluded = given.pop("excluded", ())
    if excluded:
        first, last = request.baseline or (1, columns.n_points)
        given["baseline"] = Baseline(first=first, last=last, excluded=excluded)
    if kind.remembers and rule_set(given.pop("rules", "limits")).patterns:
        notes.append(ONLY_LIMITS)
    found = limits_for_arl(kind, request, columns.arguments, given)
    if found is not None:
        given |= found.options
        notes.append(found.note)
    return given, tuple(notes)


def variables_at(chart: T2Chart | MewmaChart, names: tuple[str, ...], at: int) -> str:
    """Which variables make a point large: off by themselves, or no longer going with the others."""
    if isinstance(chart, T2Chart):
        parts = t2_breakdown(chart, at)
    else:
        parts = mewma_breakdown(chart, at)
    alone = [f"{name} is off by {off:.4g}" for name, off, p in
             zip(names, parts.off, parts.p_alone, strict=True) if p < chart.alpha]
    if alone:
        return ", ".join(alone)
    off = [f"{name} by {off:.4g}" for name, off, p in
           zip(names, parts.off_others, parts.p_given_others, strict=True) if p < chart.alpha]
    if off:
        return f"{', '.join(off)} from where the others put it"
    return "all a little; none stands out by itself"


__all__ = [
    "KINDS", "Baseline", "Chart", "ChartChange", "ChartKind", "ChartRequest", "ControlChart",
    "FileChart", "SIGNALS", "PlottedPoint", "bit", "chart_file", "checked_kind", "names_of",
    "parse_baseline", "parse_excluded", "parse_values", "variables_at",
]
