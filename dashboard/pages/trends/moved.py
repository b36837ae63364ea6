"""What moved since last week, a plain sentence each."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.charts import chart_box
from dashboard.components.ratios import RatioRow, ratio_rows
from dashboard.components.states import cautions, notice, waiting
from dashboard.components.tables import numbers, table
from dashboard.text import trends as words
from dashboard.view import ANY_DEFECT, records_address
from qc.desk.moved import BEFORE_DAYS, NOW_DAYS, LargestChanges, Moved


def moved_section() -> Component:
    """The section before its content."""
    return html.Section([html.H2(words.MOVED_HEADING), html.Div(waiting(160), id="trends-moved")],
                        className="section")


def moved_panel(found: LargestChanges) -> Component:
    """Sentences and strips of what moved; where nothing did, that, and all that was compared."""
    if not found.rows:
        return notice(words.MOVED_TOO_LITTLE_TITLE, words.MOVED_TOO_LITTLE_HELP)
    rows = [_row(row, found) for row in found.rows]
    if not found.moved:
        return notice(
            words.MOVED_NONE_TITLE, words.moved_none(found), numbers(_table(found, rows)),
            html.P(formats.unbroken(found.source), className="source"), tone="calm")
    said = html.Ul([html.Li(words.moved_sentence(row)) for row in found.moved], className="moves")
    out = rows[:len(found.moved)]
    return chart_box(
        ratio_rows(out, heading=words.MOVED_HEADS[0]), title=words.MOVED_TITLE,
        unit=words.MOVED_UNIT.format(now=NOW_DAYS, before=BEFORE_DAYS), source=found.source,
        table=_table(found, rows),
        extra=html.Div([said, cautions((words.MOVED_ONE_CAUSE,) if len(out) > 1 else ())]))


def _row(row: Moved, found: LargestChanges) -> RatioRow:
    more = row.n_defects > row.expected
    finite = row.ratio < float("inf")
    note = (words.MOVED_MORE_SHORT if more else words.MOVED_FEWER_SHORT) if row.stands_out else ""
    of = words.MOVED_OF.format(n=formats.count(row.n_pieces),
                               expected=formats.decimal(row.expected))
    return RatioRow(
        label=words.moved_name(row), n=row.n_defects, of=of, ratio=row.ratio if finite else None,
        low=row.low if finite else None, high=row.high if finite else None,
        stands=("worse" if more else "better") if row.stands_out else "", note=note,
        link=records_address([(row.dimension, row.level)], kind=ANY_DEFECT,
                             since_us=found.since_us, first=True))


def _table(found: LargestChanges, shown: list[RatioRow]) -> Component:
    rows = [
        (drawn.label, formats.count(row.n_defects), formats.count(row.n_pieces),
         formats.decimal(row.expected), formats.times(row.ratio),
         formats.times_range(row.low, row.high), formats.decimal(row.p_value, 4), drawn.note,
         dcc.Link(text.OPEN_RECORDS, href=drawn.link))
        for row, drawn in zip(found.rows, shown, strict=True)
    ]
    return table(words.MOVED_HEADS, rows, label=words.MOVED_HEADING, numeric=(1, 2, 3, 4, 5, 6))
