"""The release record of a job: for the person who lets it leave, and for a customer who asks.

No names of people: the record may leave the house.
"""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from qc.desk.cases import CasePiece
from qc.desk.job_record import JobRecord
from qc.domain.instants import from_us
from qc.domain.kinds import findings_in_words, plain_name
from reports import wording
from reports import wording_of_records as words
from reports.cells import count, long_minute
from reports.document import (
    Block,
    Caution,
    Cell,
    Column,
    Document,
    Facts,
    Paragraph,
    Table,
    Title,
)
from reports.parts import platens_table, right_at_first, state_counts

OUT_OF_TOLERANCE = "recalibrate"


def release_document(record: JobRecord, *, shop_name: str, zone: ZoneInfo) -> Document:
    """The document."""
    as_of = from_us(record.as_of_us, zone)
    title = Title(over=shop_name, text=words.RELEASE_TITLE.format(job=record.job),
                  under=words.RELEASE_UNDER.format(when=long_minute(as_of), zone=zone.key))
    return Document(title=title, as_of=as_of, blocks=tuple(_blocks(record, zone)),
                    main=_pieces(record, zone))


def against_release(record: JobRecord) -> tuple[str, ...]:
    """What the records hold against letting the job leave, in sentences."""
    return tuple(_against(record))


def _blocks(record: JobRecord, zone: ZoneInfo) -> Iterator[Block]:
    yield Facts(pairs=tuple(_facts(record, zone)))
    against = against_release(record)
    if against:
        yield Caution(heading=words.AGAINST, text="\n".join(against))
    else:
        yield Paragraph(heading=words.AGAINST_NOTHING_TITLE, text=(
            words.AGAINST_NOT_SAID if record.ordered is None else words.AGAINST_NOTHING))
    names = words.JOB_COLUMNS
    if record.defects:
        yield Table(
            title=words.DEFECTS, note=words.DEFECTS_NOTE,
            columns=(Column(key="kind", name=names["kind"], words=plain_name),
                     Column(key="n", name=names["n"], kind="count"),
                     Column(key="now", name=names["now"])),
            rows=tuple((one.kind, one.n_pieces, state_counts(one.now)) for one in record.defects))
    if record.late:
        yield Table(
            title=words.LATE,
            columns=(Column(key="look", name=names["look"]),
                     Column(key="n", name=names["n"], kind="count"),
                     Column(key="n_defective", name=names["n_defective"], kind="count")),
            rows=tuple((words.LATE_WORDS[one.look], one.n_pieces, one.n_defective)
                       for one in record.late))
    if record.platens:
        yield platens_table(words.PLATENS, record.platens)
    yield Table(
        title=words.SIGNED,
        columns=(Column(key="what", name=names["what"]),
                 Column(key="write", name=names["write"], kind="write")),
        rows=tuple((one, None) for one in words.SIGN_ROWS))


def _facts(record: JobRecord, zone: ZoneInfo) -> Iterator[tuple[str, str]]:
    work = record.work
    for name, heading in (("fabric", words.FABRIC), ("transfer", words.TRANSFER)):
        yield heading, _levels(work[name])
    yield words.PLACE, _levels(tuple(
        None if one is None else wording.place(one) for one in work["location"]))
    for name, heading in (("transfer_lot", words.TRANSFER_LOT), ("garment_lot", words.GARMENT_LOT),
                          ("press", words.PRESSES)):
        yield heading, _levels(work[name])
    if record.pieces:
        first, last = (long_minute(from_us(record.pieces[at].pressed_at_us, zone))
                       for at in (0, -1))
        yield words.PRESSED, words.PRESSED_FROM_TO.format(first=first, last=last)
    yield words.ORDERED, wording.NOT_SAID if record.ordered is None else count(record.ordered)
    yield words.LOOKED_AT, count(record.n_pieces) if record.pieces else words.NONE_YET
    if record.first is not None:
        yield words.AT_FIRST, right_at_first(record.first)
        yield words.MAY_LEAVE, words.OF_ALL.format(
            n=count(record.n_releasable), all=count(record.n_pieces))


def _levels(levels: tuple[str | None, ...]) -> str:
    said = ", ".join(one for one in levels if one is not None)
    if not said:
        return wording.NOT_SAID
    return words.SOME_NOT_SAID.format(levels=said) if None in levels else said


def _against(record: JobRecord) -> Iterator[str]:
    if not record.pieces:
        yield words.AGAINST_NO_PIECES
    elif record.ordered is not None and record.n_pieces < record.ordered:
        yield words.AGAINST_FEWER.format(n=count(record.n_pieces), ordered=count(record.ordered))
    now = dict(record.now)
    for code, said in words.AGAINST_STATE.items():
        if now.get(code):
            yield said.format(n=_n_pieces(now[code]))
    elsewhere = sum(now.get(code, 0) for code in ("pass", "concession")) - record.n_releasable
    if elsewhere:
        yield words.AGAINST_OTHER_PLACE.format(n=_n_pieces(elsewhere))
    if record.n_complaints:
        yield words.AGAINST_COMPLAINT.format(n=_n_pieces(record.n_complaints))
    for one in record.flags:
        about_person = one.flag.factor.name == "operator"  # whose name stays in the house
        form = words.AGAINST_FLAG_PERSON if about_person else words.AGAINST_FLAG
        yield form.format(message=one.flag.message, n=count(one.n_pieces), flag=one.flag.id)
    for platen in record.platens:
        if platen.state == OUT_OF_TOLERANCE:
            yield words.AGAINST_PLATEN.format(
                platen=wording.PLATEN_WORDS[platen.platen].capitalize(), press=platen.press,
                reason=platen.reason)


def _n_pieces(n: int) -> str:
    return "1 piece" if n == 1 else f"{count(n)} pieces"


def _pieces(record: JobRecord, zone: ZoneInfo) -> Table:
    names = words.JOB_COLUMNS
    blocks = any(piece.n != 1 for piece in record.pieces)
    columns = (
        Column(key="piece_id", name=names["piece_id"]),
        *((Column(key="n", name=names["n"], kind="count"),) if blocks else ()),
        Column(key="location", name=names["location"], words=wording.place),
        Column(key="press", name=names["press"]),
        Column(key="transfer_lot", name=names["transfer_lot"]),
        Column(key="garment_lot", name=names["garment_lot"]),
        Column(key="pressed_at", name=names["pressed_at"].format(zone=zone.key), kind="moment"),
        Column(key="defects", name=names["defects"], words=findings_in_words),
        Column(key="disposition", name=names["disposition"], words=wording.disposition),
        Column(key="status", name=names["status"], words=wording.status),
    )
    return Table(title=words.PIECES, note=words.PIECES_NOTE, columns=columns,
                 rows=tuple(_row(piece, zone, blocks) for piece in record.pieces))


def _row(piece: CasePiece, zone: ZoneInfo, blocks: bool) -> tuple[Cell, ...]:
    return (piece.piece_id, *((piece.n,) if blocks else ()), piece.location, piece.press,
            piece.transfer_lot, piece.garment_lot, from_us(piece.pressed_at_us, zone),
            piece.defects or None, piece.disposition, piece.status)
