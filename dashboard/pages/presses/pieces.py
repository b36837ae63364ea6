"""What the finished pieces say about a press."""

from __future__ import annotations

from dash import dcc, html
from dash.development.base_component import Component

from dashboard import formats, text
from dashboard.components.charts import chart_box, drawn
from dashboard.components.states import mark
from dashboard.components.tables import table
from dashboard.figures.pieces import pieces_figure
from dashboard.formats import Clock
from dashboard.view import PressesView, address
from qc.desk.piece_maps import PressPieces
from qc.domain.piece_maps import SIDE, PieceMap
from qc.domain.platens import place_on_platen


def pieces_panel(found: PressPieces, scheme: str, clock: Clock) -> Component:
    """The map of a press's defects with what stands out in words."""
    one = found.map
    if one.why_not:
        return html.Section([html.H3(text.PIECES_MAP_TITLE.format(press=one.press)),
                             html.P(text.PIECES_MAP_WHY_NOT.format(why=one.why_not))],
                            className="paper")
    title = text.PIECES_MAP_TITLE.format(press=one.press)
    words = " ".join(text.with_capital(sentence) for sentence in found.words)
    words = words or text.PIECES_MAP_NOTHING
    return chart_box(
        drawn("pieces", pieces_figure(one, scheme), label=f"{title}. {words}"), title=title,
        unit=text.PIECES_MAP_UNIT, description=words,
        source=text.PIECES_MAP_SOURCE.format(
            since=clock.day(one.since_us), n=formats.count(one.n_pieces),
            unplaced=formats.count(one.n_unplaced)),
        extra=html.P(text.OPERATOR_STANDS, className="edge-word"),
        table=table(text.PIECES_MAP_HEADS, _rows(one), label=title, numeric=(1, 2, 3)),
    )


def spots_list(found: tuple[PressPieces, ...]) -> Component | None:
    """Presses whose finished pieces point at a place of the platen, each a link to it."""
    named = [one for one in found if one.words]
    if not named:
        return None
    rows = [
        html.Li([dcc.Link(one.map.press, href="/presses" + address(PressesView(
                    press=one.map.press))), html.Span(f" {text.with_capital(words)}")])
        for one in named for words in one.words]
    return html.Section([html.H2([mark("watch", text.SPOTS_TITLE)]),
                         html.Ul(rows, className="spots")], className="section")


def _rows(one: PieceMap) -> list[tuple[Component | str, ...]]:
    spots = {spot.place for spot in one.spots}
    rows: list[tuple[Component | str, ...]] = []
    for row in range(1, SIDE + 1):
        for col in range(1, SIDE + 1):
            seen, usual = float(one.seen[row - 1, col - 1]), float(one.expected[row - 1, col - 1])
            rows.append((
                place_on_platen(row, col, SIDE, SIDE), formats.count(seen),
                formats.decimal(usual), formats.times(seen / usual if usual else None),
                text.TOO_MANY_HERE if (row, col) in spots else "",
            ))
    return rows
