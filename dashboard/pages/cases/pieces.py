"""The pieces a case touches: where they are now, and the list to take along."""

from __future__ import annotations

from typing import Any

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.tables import table
from dashboard.formats import Clock
from dashboard.text import cases as case_text
from dashboard.view import records_address
from qc.desk.cases import Case, by_status
from qc.domain.kinds import findings_in_words
from qc.domain.whereabouts import STATUS_WORDS, STATUSES
from reports.pdf import MOST_ROWS

MOST_PIECES = 200
TAKES = {"csv": "case-take", "xlsx": "case-take-xlsx", "html": "case-take-html",
         "pdf": "case-take-pdf"}
"""The button of each form of the list."""
SEEN_AT_ONCE = 6
"""So many rows can be seen without scrolling on any screen."""
FORMS = {"csv": "text/csv", "html": "text/html", "pdf": "application/pdf",
         "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


def pieces_panel(case: Case, clock: Clock) -> Component:
    """Counts by where they are, what to decide first, and the pieces."""
    counted = by_status(case.pieces)
    head = html.Div(
        [html.H3(f"{text.PIECES_AT_RISK}: {formats.count(case.flag.pieces_at_risk)}"),
         html.Div([_take("csv", case_text.TAKE_CSV),
                   _take("xlsx", case_text.TAKE_XLSX),
                   _take("html", case_text.TAKE_HTML),
                   _take("pdf", case_text.TAKE_PDF,
                         disabled=len(case.pieces) > MOST_ROWS),
                   html.Span(id="case-taking", role="status", className="hint")],
                  className="takes")],
        className="piece-head",
    )
    if not case.pieces:
        return html.Section([head, html.P(text.PIECES_NONE)], className="paper")
    return html.Section(
        [head, _where(counted), _call(counted), _cut(case),
         html.P(case_text.ON_THE_HOLD_LIST, className="on-paper"),
         html.Div(_table(case, clock), className="piece-list")], className="paper")


def _take(form: str, words: str, *, disabled: bool = False) -> Component:
    own: dict[str, Any] = {"data-busy": case_text.BUSY, "data-form": form}
    return html.Button(words, id=TAKES[form], className="button", type="button",
                       disabled=disabled, **own)


def _where(counted: dict[str, int]) -> Component:
    return html.Dl(
        [html.Div([html.Dt(STATUS_WORDS[status]), html.Dd(formats.count(n))])
         for status, n in counted.items()], className="facts where")


def _call(counted: dict[str, int]) -> Component | None:
    n = counted["shipped"]
    if not n:
        return None
    return html.P(case_text.CALL_FIRST.format(n=formats.count(n)), className="call")


def _cut(case: Case) -> Component | None:
    n = len(case.pieces)
    if n <= SEEN_AT_ONCE:
        return None
    said = text.PIECES_SCROLL.format(n=formats.count(n)) if n <= MOST_PIECES else (
        text.PIECES_CUT.format(shown=MOST_PIECES, total=formats.count(n)))
    return html.P(said, className="source")


def _table(case: Case, clock: Clock) -> Component:
    rank = {status: at for at, status in enumerate(STATUSES)}
    first = sorted(case.pieces, key=lambda piece: rank[piece.status])[:MOST_PIECES]
    rows = [
        (dcc.Link(piece.piece_id, href=records_address([("piece", piece.piece_id)])),
         _status(piece.status, piece.shipped_at_us, clock), piece.job or "",
         _moment(piece.pressed_at_us, clock), piece.press or "", piece.transfer_lot or "",
         piece.operator or "", findings_in_words(piece.defects),
         text.DISPOSITION_WORDS.get(piece.disposition or "", ""))
        for piece in first
    ]
    return table(text.PIECE_HEADS, rows, label=text.PIECES_AT_RISK)


def held_address(case: Case) -> str:
    """Where the looks of a case's level are whose pieces are on hold, since the change."""
    factor = case.flag.factor
    return records_address([(factor.name, factor.level), ("disposition", "hold")],
                           since_us=case.flag.changed_between_us[0])


def _status(status: str, shipped_us: int | None, clock: Clock) -> Any:
    words = STATUS_WORDS[status]
    return words if shipped_us is None else html.Span([f"{words} ", _moment(shipped_us, clock)])


def _moment(us: int, clock: Clock) -> Component:
    return html.Span(clock.short_minute(us), className="moment")
