"""The pieces a case touches: where they are now, and the list to take along."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.tables import table
from dashboard.formats import Clock
from dashboard.text import cases as case_text
from qc.desk.cases import Case, by_status
from qc.domain.kinds import findings_in_words
from qc.domain.whereabouts import STATUS_WORDS, STATUSES
from reports.pdf import MOST_ROWS

MOST_PIECES = 200
FORMS = {"csv": "text/csv", "html": "text/html", "pdf": "application/pdf",
         "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


def pieces_panel(case: Case, clock: Clock) -> Component:
    """Counts by where they are, what to decide first, and the pieces."""
    counted = by_status(case.pieces)
    head = html.Div(
        [html.H3(f"{text.PIECES_AT_RISK}: {formats.count(case.flag.pieces_at_risk)}"),
         html.Div([_take("case-take", case_text.TAKE_CSV),
                   _take("case-take-xlsx", case_text.TAKE_XLSX),
                   _take("case-take-html", case_text.TAKE_HTML),
                   _take("case-take-pdf", case_text.TAKE_PDF,
                         disabled=len(case.pieces) > MOST_ROWS)], className="takes")],
        className="piece-head",
    )
    if not case.pieces:
        return html.Section([head, html.P(text.PIECES_NONE)], className="paper")
    return html.Section(
        [head, _where(counted), _call(counted), _cut(case),
         html.P(case_text.ON_THE_HOLD_LIST, className="on-paper"),
         html.Div(_table(case, clock), className="piece-list")], className="paper")


def _take(name: str, words: str, *, disabled: bool = False) -> Component:
    return html.Button(words, id=name, className="button", type="button", disabled=disabled)


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
    if len(case.pieces) <= MOST_PIECES:
        return None
    return html.P(text.PIECES_CUT.format(shown=MOST_PIECES, total=formats.count(len(case.pieces))),
                  className="source")


def _table(case: Case, clock: Clock) -> Component:
    rank = {status: at for at, status in enumerate(STATUSES)}
    first = sorted(case.pieces, key=lambda piece: rank[piece.status])[:MOST_PIECES]
    rows = [
        (piece.piece_id, _status(piece.status, piece.shipped_at_us, clock), piece.job or "",
         clock.short_minute(piece.pressed_at_us), piece.press or "", piece.transfer_lot or "",
         piece.operator or "", findings_in_words(piece.defects),
         text.DISPOSITION_WORDS.get(piece.disposition or "", ""))
        for piece in first
    ]
    return table(text.PIECE_HEADS, rows, label=text.PIECES_AT_RISK)


def _status(status: str, shipped_us: int | None, clock: Clock) -> str:
    words = STATUS_WORDS[status]
    return words if shipped_us is None else f"{words} {clock.short_minute(shipped_us)}"
