"""Ranked levels against their mix: drawn, in words, and as a table."""

from __future__ import annotations

from collections.abc import Sequence

from dash import dcc
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.charts import chart_box
from dashboard.components.ratios import MOST_ROWS, RatioRow, ratio_rows
from dashboard.components.states import cautions, notice
from dashboard.components.tables import table
from dashboard.view import NOT_SAID, TrendsView, address
from qc.desk.ranking import LEAST_PIECES, tells_apart
from qc.domain.ranking import MIX, Pareto, ParetoRow, mix_of

MOST_NAMED = 8


def ranking_panel(pareto: Pareto, view: TrendsView) -> Component:
    """Ranked levels against their mix, in the order they come in."""
    if pareto.n_pieces == 0:
        return notice(text.NOTHING_TITLE, text.NOTHING_HELP)
    if not pareto.rows or pareto.n_defects == 0:
        return notice(text.RANK_EMPTY_TITLE, text.RANK_EMPTY_HELP, tone="calm")
    compared = tells_apart(pareto)
    rows = [row_of(row, pareto.by, view, compared=compared) for row in pareto.rows]
    what = text.kind_name(view.kind) if view.kind else text.RANK_ALL
    by = text.RANK_AND.join(text.DIMENSION_WORDS[name] for name in pareto.by)
    title = text.RANK_TITLE.format(what=what, by=by)
    cut: tuple[str, ...] = ()
    if len(rows) > MOST_ROWS:
        cut = (text.TOO_MANY[view.order].format(shown=MOST_ROWS, total=len(rows)),)
    return chart_box(
        ratio_rows(rows, heading=text.with_capital(by)), title=title, unit=_unit(pareto.by),
        source=text.RANK_SOURCE.format(mix=mix_words(pareto.by)),
        description=_words(pareto) if compared else _why_not(pareto),
        table=_table(pareto, rows, title, compared=compared), extra=cautions(cut),
    )


def _why_not(pareto: Pareto) -> str:
    if pareto.n_pieces >= LEAST_PIECES:
        return text.RANK_SAME_PIECES
    return text.RANK_TOO_FEW.format(n=formats.count(pareto.n_pieces), least=LEAST_PIECES)


def row_of(
    row: ParetoRow, by: tuple[str, ...], view: TrendsView, *, compared: bool = True
) -> RatioRow:
    """A level as a row of the chart; without a ratio where it compares nothing."""
    of = text.RANK_OF.format(share=formats.share(row.share), n=formats.count(row.n_pieces))
    stand = stands(row) if compared else ""
    ratio, low, high = (row.ratio, row.ratio_low, row.ratio_high) if compared else (None,) * 3
    return RatioRow(label=_name(row, by), n=row.n_defects, of=of, ratio=ratio, low=low, high=high,
                    stands=stand, note=_verdict(stand, by),
                    link="/trends" + level_link(view, row.level))


def stands(row: ParetoRow) -> str:
    """How a level stands beside its mix: 'worse', 'better', or empty: not told from luck."""
    if not row.stands_out:
        return ""
    return "worse" if row.n_defects > row.expected else "better"


def level_link(view: TrendsView, level: tuple[str | None, ...]) -> str:
    """The address at which the pieces of a level are shown."""
    names = [NOT_SAID if part is None else part for part in level]
    return address(view, open="level", level=names[0], level2=names[1] if len(names) > 1 else "")


def mix_words(by: Sequence[str]) -> str:
    """What a ranking allows for, as 'fabrics, transfers and places'."""
    *first, last = (text.MIX_WORDS[name] for name in mix_of(by))
    return f"{', '.join(first)} and {last}" if first else last


def _unit(by: tuple[str, ...]) -> str:
    if mix_of(by) == MIX:
        return text.RANK_UNIT
    ranked = text.RANK_AND.join(text.DIMENSION_WORDS[name] for name in by if name in MIX)
    return text.RANK_UNIT_PART.format(mix=mix_words(by), by=ranked)


def _verdict(stand: str, by: tuple[str, ...]) -> str:
    if not stand:
        return ""
    if mix_of(by) == MIX:
        return text.RANK_MORE if stand == "worse" else text.RANK_FEWER
    words = text.RANK_MORE_PART if stand == "worse" else text.RANK_FEWER_PART
    return words.format(mix=mix_words(by))


def _name(row: ParetoRow, by: tuple[str, ...]) -> str:
    return " · ".join(text.level_name(n, lv) for n, lv in zip(by, row.level, strict=True))


def _words(pareto: Pareto) -> str:
    """What stands out, by name, from the highest ratio down."""
    worse, better = ([row for row in pareto.rows if stands(row) == stand]
                     for stand in ("worse", "better"))
    if not worse and not better:
        return text.RANK_NONE_OUT
    said = []
    if worse:
        words = text.RANK_OUT if mix_of(pareto.by) == MIX else text.RANK_OUT_PART
        said.append(words.format(names=_named(worse, pareto.by), mix=mix_words(pareto.by)))
    if better:
        said.append(text.RANK_BETTER.format(names=_named(better, pareto.by)))
    return " ".join(said)


def _named(rows: list[ParetoRow], by: tuple[str, ...]) -> str:
    ordered = sorted(rows, key=lambda row: -abs((row.ratio or 0.0) - 1))
    names = ", ".join(text.RANK_NAMED.format(name=_name(row, by), times=formats.times(row.ratio))
                      for row in ordered[:MOST_NAMED])
    more = len(rows) - MOST_NAMED
    return names + (text.RANK_MORE_NAMES.format(n=more) if more > 0 else "")


def _table(pareto: Pareto, shown: list[RatioRow], title: str, *, compared: bool) -> Component:
    rows = [
        (level.label, formats.count(row.n_defects), formats.share(row.share),
         formats.share(row.cumulative), formats.count(row.n_pieces), formats.share(row.rate),
         formats.decimal(row.expected) if compared else formats.NOT_KNOWN,
         formats.times(level.ratio),
         formats.times_range(level.low, level.high), level.note,
         dcc.Link(text.OPEN_RECORDS, href=level.link))
        for row, level in zip(pareto.rows, shown, strict=True)
    ]
    by = text.RANK_AND.join(text.DIMENSION_WORDS[name] for name in pareto.by)
    return table((text.with_capital(by), *text.RANK_HEADS), rows, label=title,
                 numeric=(1, 2, 3, 4, 5, 6, 7, 8))
