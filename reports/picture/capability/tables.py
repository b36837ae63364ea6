"""The numbers of a picture of capability as tables below it."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from qc.desk.capability import INDEX_WORDS, BivariateCapability, FileCapability
from reports.document import Cell, Column, Table
from reports.picture.capability import words
from reports.picture.capability.bins import Bars
from reports.picture.capability.indices import Index
from reports.picture.ticks import grouped, places, short
from reports.picture.words import per_cent

DIGITS = 6


def capability_tables(found: FileCapability, bars: Bars, indices: Iterable[Index], unit: str
                      ) -> tuple[Table, ...]:
    """Indices, and the bars of the histogram."""
    rows = [(name, *(_figure(x) for x in numbers), _meaning(found, name))
            for name, *numbers in indices]
    return (_table(words.INDICES, words.TABLE_INDICES, rows, text=(0, 4)),
            _table(f"{words.COUNT_AXIS}{f', {unit}' if unit else ''}", words.TABLE_BARS,
                   _bar_rows(found, bars), text=()))


def placement_tables(result: BivariateCapability, names: tuple[str, str]) -> tuple[Table, ...]:
    """Shares outside, and mean and spread of both directions."""
    outside, fitted = result.outside, result.fitted
    shares = [("counted", *map(per_cent, map(float, (outside.share, outside.low, outside.high))))]
    if fitted is not None:
        shares.append(("expected", *map(per_cent, (fitted.share, fitted.low, fitted.high))))
    normal = result.normal
    spread = [(names[k], short(normal.mean[k], DIGITS), short(normal.sigma[k], DIGITS),
               _figure(result.normality[k].p_value)) for k in (0, 1)]
    return (_table("share outside", words.TABLE_SHARES, shares),
            _table("both directions", words.TABLE_SPREAD, spread))


def _table(title: str, heads: tuple[str, ...], rows: Iterable[tuple[Cell, ...]],
           *, text: tuple[int, ...] = (0,)) -> Table:
    columns = tuple(Column(key=name, name=name, kind="text" if k in text else "figure")
                    for k, name in enumerate(heads))
    return Table(title=title, columns=columns, rows=tuple(rows))


def _figure(value: float) -> str | None:
    return short(value, DIGITS) if np.isfinite(value) else None


def _meaning(found: FileCapability, name: str) -> str:
    fit = found.result.fit
    if name == words.BY_PERCENTILES and fit is not None:
        return words.BY_PERCENTILES_WORDS.format(name=fit.name)
    return INDEX_WORDS[name]


def _bar_rows(found: FileCapability, bars: Bars) -> list[tuple[Cell, ...]]:
    """One row for each bar with a value in it, and what the fitted distribution expects there."""
    fit, n = found.result.fit, found.result.n
    decimals = places(float(np.abs(bars.edges).max()), DIGITS)
    rows: list[tuple[Cell, ...]] = []
    for k in np.flatnonzero(bars.count).tolist():
        ends = bars.edges[k:k + 2].tolist()
        expected = None if fit is None else short(
            n * float(fit.below(ends[1]) - fit.below(ends[0])), 4)
        edges = [short(x, DIGITS) if decimals is None else grouped(x, decimals) for x in ends]
        rows.append((*edges, grouped(int(bars.count[k]), 0), grouped(int(bars.outside[k]), 0),
                     expected))
    return rows
