"""A shift on paper or in a spreadsheet: for the hand-over, and for the manager in the morning."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from qc.desk.shift_record import ShiftPress, ShiftRecord
from qc.domain.flags import Flag
from qc.domain.instants import from_us
from qc.domain.kinds import findings_in_words, plain_name
from qc.domain.ranking import ParetoRow
from reports import wording
from reports import wording_of_records as words
from reports.cells import count, long_minute
from reports.document import Block, Caution, Column, Document, Facts, Paragraph, Table, Title
from reports.parts import (
    one_digit,
    platens_table,
    ratio_cells,
    right_at_first,
    state_counts,
)


def shift_document(record: ShiftRecord, *, shop_name: str, zone: ZoneInfo) -> Document:
    """The document."""
    start, end, as_of = (long_minute(from_us(us, zone)) for us in (
        record.start_us, record.end_us, record.as_of_us))
    under = words.SHIFT_UNDER.format(start=start, end=end, when=as_of, zone=zone.key)
    title = Title(over=shop_name, text=words.SHIFT_TITLE.format(start=start),
                  under=under if record.is_over else f"{under} {words.SHIFT_STILL}")
    return Document(title=title, as_of=from_us(record.as_of_us, zone),
                    blocks=tuple(_blocks(record)), main=_waiting(record, zone))


def _blocks(record: ShiftRecord) -> Iterator[Block]:
    yield Facts(pairs=tuple(_facts(record)))
    if record.new_flags:
        yield Caution(heading=words.FLAGS_NEW, text=_flags(record.new_flags))
    if record.open_flags:
        heading = words.FLAGS_OPEN if record.new_flags else words.FLAGS
        yield Caution(heading=heading, text=_flags(record.open_flags))
    if not record.new_flags and not record.open_flags:
        yield Paragraph(heading=words.FLAGS, text=words.FLAGS_NOTHING)
    if record.platens:
        yield platens_table(words.PLATENS_DUE, record.platens)
    if record.defects:
        yield _kinds(record.defects)
    if record.presses:
        yield _presses(record.presses)
    if record.settings:
        yield _settings(record)
    if record.new_flags or record.open_flags or record.settings or record.waiting:
        yield Caution(heading=wording.HOT, text=wording.HOT_WORDS)


def _facts(record: ShiftRecord) -> Iterator[tuple[str, str]]:
    total = record.total
    yield words.PIECES_MADE, words.NO_PIECES if total is None else count(total.n_pieces)
    if total is None:
        return
    yield words.AT_FIRST, right_at_first(total)
    yield words.DEFECTS_FOUND, words.DEFECTS_EXPECTED.format(
        n=count(record.n_defects), expected=one_digit(record.expected))
    yield words.NOW, state_counts(record.now)


def _flags(flags: tuple[Flag, ...]) -> str:
    return "\n".join(words.FLAG_LINE.format(n=n, message=flag.message, step=flag.next_step)
                     for n, flag in enumerate(flags, start=1))


def _kinds(rows: tuple[ParetoRow, ...]) -> Table:
    names = words.SHIFT_COLUMNS
    return Table(
        title=words.BY_KIND, note=words.BY_KIND_NOTE,
        columns=(Column(key="kind", name=names["kind"], words=plain_name),
                 Column(key="defects", name=names["defects"], kind="count"),
                 Column(key="expected", name=names["expected"], kind="figure")),
        rows=tuple((row.level[0], row.n_defects, one_digit(row.expected)) for row in rows))


def _presses(presses: tuple[ShiftPress, ...]) -> Table:
    names = words.SHIFT_COLUMNS
    return Table(
        title=words.BY_PRESS, note=words.BY_PRESS_NOTE,
        columns=(Column(key="press", name=names["press"]),
                 Column(key="n", name=names["n"], kind="count"),
                 Column(key="n_defective", name=names["n_defective"], kind="count"),
                 Column(key="defects", name=names["defects"], kind="count"),
                 Column(key="expected", name=names["expected"], kind="figure"),
                 Column(key="ratio", name=names["ratio"], kind="figure"),
                 Column(key="interval", name=names["interval"]),
                 Column(key="stands_out", name=names["stands_out"])),
        rows=tuple((one.press, one.share.n_pieces, one.share.n_defective, one.defects.n_defects,
                    one_digit(one.defects.expected), *ratio_cells(one.defects)) for one in presses))


def _settings(record: ShiftRecord) -> Table:
    names = words.SHIFT_COLUMNS
    return Table(
        title=words.SETTINGS, note=words.SETTINGS_NOTE,
        columns=(Column(key="press", name=names["press"]), Column(key="what", name=names["what"]),
                 Column(key="outside", name=names["outside"]),
                 Column(key="off_by", name=names["off_by"]),
                 Column(key="who", name=names["who"]), Column(key="on", name=names["on"])),
        rows=tuple((line.row.press, line.what,
                    words.OF_ALL.format(n=count(line.row.n_outside), all=count(line.row.n_told)),
                    line.off_by or None, line.who or None, line.on or None)
                   for line in record.settings))


def _waiting(record: ShiftRecord, zone: ZoneInfo) -> Table:
    names = words.SHIFT_COLUMNS
    columns = (
        Column(key="piece_id", name=names["piece_id"]),
        Column(key="location", name=names["location"], words=wording.place),
        Column(key="job", name=names["job"]), Column(key="press", name=names["press"]),
        Column(key="pressed_at", name=names["pressed_at"].format(zone=zone.key), kind="moment"),
        Column(key="found", name=names["found"], words=findings_in_words),
        Column(key="disposition", name=names["disposition"], words=wording.disposition),
        Column(key="done", name=names["done"], kind="tick"),
    )
    rows = tuple((one.piece_id, one.location, one.job, one.press, from_us(one.pressed_at_us, zone),
                  one.defects or None, one.disposition, None) for one in record.waiting)
    return Table(title=words.WAITING, columns=columns, rows=rows,
                 note=words.WAITING_NOTE if rows else words.WAITING_NONE)
