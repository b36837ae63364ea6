"""A service order on paper: why, the cautions, what to do, what was found and left."""

from __future__ import annotations

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from qc.desk.cases import CasePiece
from qc.domain.instants import from_us
from qc.domain.service import OrderStanding
from qc.domain.service_words import order_name, pressed_words, step_words, survey_words
from reports import wording
from reports.cells import long_minute
from reports.document import (
    Block,
    Caution,
    Column,
    Document,
    Facts,
    Paragraph,
    Table,
    Title,
)
from reports.hold_list import pieces_table, walking_order

GRID = 3
"""Rows and columns of the readings to fill in: nine points (common practice, no source)."""


def service_document(
    standing: OrderStanding, pieces: tuple[CasePiece, ...], *, shop_name: str, zone: ZoneInfo,
    as_of_us: int, heat_unit: str,
) -> Document:
    """The document; ``pieces``: those pressed since the last good check, where it was found out;
    ``heat_unit``: of temperatures, 'c' or 'f'."""
    order, as_of = standing.order, from_us(as_of_us, zone)
    title = Title(
        over=shop_name,
        text=wording.ORDER_TITLE.format(number=order.order_id, platen=order_name(order)),
        under=wording.ORDER_KNOWN.format(
            opened=long_minute(from_us(order.opened_at_us, zone)), by=order.opened_by,
            when=long_minute(as_of), zone=zone.key),
    )
    main = _steps()
    blocks = list(_blocks(standing, zone, heat_unit))
    if pieces:
        blocks.append(main)
        main = pieces_table(sorted(pieces, key=walking_order), zone)
    return Document(title=title, as_of=as_of, blocks=tuple(blocks), main=main)


def _blocks(standing: OrderStanding, zone: ZoneInfo, heat_unit: str) -> Iterable[Block]:
    order = standing.order
    due = None if order.due_us is None else long_minute(from_us(order.due_us, zone))
    surveys = ((wording.AS_FOUND, standing.found), (wording.AS_LEFT, standing.left),
               (wording.CHECK_SURVEY, standing.check))
    yield Facts(pairs=(
        (wording.ORDER_STATE, standing.next_step), (wording.ORDER_WHY, order.words),
        *((name, value) for name, value in order.evidence if not value.endswith(order.words)),
        (wording.ORDER_OWNER, order.owner or wording.NOT_SAID),
        (wording.ORDER_DUE, due or wording.NOT_SAID),
        *((name, wording.NOT_YET if found is None else survey_words(found, zone, heat_unit))
          for name, found in surveys),
    ))
    yield Caution(heading=wording.HOT, text=wording.HOT_WORDS)
    yield Caution(heading=wording.LOCK_OUT, text=wording.LOCK_OUT_WORDS)
    if standing.pressed is not None:
        yield Paragraph(heading=wording.ORDER_PIECES, text=pressed_words(standing.pressed, zone))
    if len(order.steps) > 1:
        yield _history(standing, zone)
    if order.is_open:
        for name, found in surveys[:2]:
            if found is None:
                yield _grid(name)


def _steps() -> Table:
    return Table(
        title=wording.ORDER_STEPS, note=wording.ORDER_STEPS_NOTE,
        columns=(Column(key="step", name=wording.ORDER_STEP),
                 Column(key="figures", name=wording.ORDER_FIGURES, kind="write"),
                 Column(key="done", name=wording.ORDER_DONE, kind="tick")),
        rows=tuple((words, None, None) for words in wording.ORDER_DO),
    )


def _grid(name: str) -> Table:
    """Empty boxes for the readings of a survey."""
    columns = (Column(key="row", name=wording.ORDER_ROW),
               *(Column(key=f"col_{at + 1}", name=wording.ORDER_COLUMN.format(at + 1), kind="write")
                 for at in range(GRID)))
    return Table(
        title=f"{wording.ORDER_GRID}: {name.lower()}", note=wording.ORDER_GRID_NOTE,
        columns=columns, rows=tuple((str(at + 1), *(None,) * GRID) for at in range(GRID)),
    )


def _history(standing: OrderStanding, zone: ZoneInfo) -> Table:
    return Table(
        title=wording.ORDER_HISTORY,
        columns=(Column(key="at", name=wording.ORDER_WHEN.format(zone=zone.key), kind="moment"),
                 Column(key="by", name=wording.ORDER_WHO),
                 Column(key="what", name=wording.ORDER_WHAT)),
        rows=tuple((from_us(step.at_us, zone), step.by, step_words(step, zone))
                   for step in standing.order.steps[1:]),
    )
