"""The hold list of a flag: for the person who walks to the shelves."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from qc.desk.cases import Case, CasePiece, by_status
from qc.domain.flags import FactorShare, Flag, named_causes
from qc.domain.instants import from_us
from qc.domain.kinds import findings_in_words
from reports import wording
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

AT_A_PRESS = frozenset({"press", "station", "time_since_start", "shop"})
HEAT_KINDS = frozenset({"calibration", "setting"})
SHIPPED = "shipped"
ON_THE_WAY_OUT = {"scrapped": 1, SHIPPED: 2}
"""What is not on the racks comes after what is."""

_DIGITS = re.compile(r"(\d+)")


def hold_list(
    case: Case, *, shop_name: str, zone: ZoneInfo, as_of_us: int, now_us: int | None = None
) -> Document:
    """The document: what is off, since when, how sure, what to do first, then every piece.

    ``now_us``: up to when it says what is done with the pieces, where that is later than the flag
    (``as_of_us``).
    """
    flag, pieces = case.flag, sorted(case.pieces, key=walking_order)
    as_of, now = from_us(as_of_us, zone), from_us(max(as_of_us, now_us or 0), zone)
    title = Title(
        over=shop_name, text=wording.HOLD_TITLE.format(where=_subject(flag)),
        under=_known(as_of, now, zone).format(flag=flag.id),
    )
    return Document(
        title=title, as_of=as_of, main=pieces_table(pieces, zone),
        blocks=(*_words(flag, pieces, zone), *_counts(pieces, zone)),
    )


def _known(as_of: datetime, now: datetime, zone: ZoneInfo) -> str:
    """Up to when the list knows; the place of the flag is left to be filled."""
    words = wording.KNOWN_UP_TO if long_minute(as_of) == long_minute(now) else (
        wording.KNOWN_AND_WHERE)
    return words.format(when=long_minute(as_of), now=long_minute(now), zone=zone.key,
                        flag="{flag}")


def _words(flag: Flag, pieces: list[CasePiece], zone: ZoneInfo) -> Iterable[Block]:
    yield _facts(flag, pieces, zone)
    yield Paragraph(heading=wording.FIRST_STEP, text=flag.next_step)
    hot = flag.kind in HEAT_KINDS or flag.factor.name in AT_A_PRESS
    yield (Caution(heading=wording.HOT, text=wording.HOT_WORDS) if hot
           else Caution(heading=wording.WARM, text=wording.WARM_WORDS))
    rivals = _rivals(flag)
    if rivals:
        others = wording.listed((wording.where(rival) for rival in rivals), "or")
        yield Caution(heading=wording.DOUBT, text=wording.DOUBT_WORDS.format(
            listed=wording.where(flag.factor), others=others))
    if any(piece.status == SHIPPED for piece in pieces):
        yield Caution(heading=wording.CALL, text=wording.CALL_WORDS.format(
            n=count(_n(piece for piece in pieces if piece.status == SHIPPED))))
        yield _shipped_by_job(pieces, zone)
    yield Paragraph(heading=wording.ON_THE_SHELVES, text=wording.SHELVES)


def _facts(flag: Flag, pieces: list[CasePiece], zone: ZoneInfo) -> Facts:
    def when(instant_us: int) -> str:
        return long_minute(from_us(instant_us, zone))

    touched = wording.PIECES_NONE
    if pieces:
        pressed = [piece.pressed_at_us for piece in pieces]
        touched = wording.PIECES_FROM_TO.format(
            n=count(sum(piece.n for piece in pieces)), first=when(min(pressed)),
            last=when(max(pressed)))
    return Facts(pairs=(
        (wording.WHAT, flag.message),
        (wording.SINCE, _since(flag, when)),
        (wording.STATE, wording.STATE_OPEN if flag.ended_at_us is None
         else wording.STATE_OVER.format(when=when(flag.ended_at_us))),
        (wording.SURE, _how_sure(flag)),
        (wording.SEEN, when(flag.signalled_at_us)),
        (wording.TOUCHED, touched),
    ))


def _since(flag: Flag, when: Callable[[int], str]) -> str:
    first, last = map(when, flag.changed_between_us)
    if first == last:
        return when(flag.changed_at_us)
    return wording.SINCE_BETWEEN.format(when=when(flag.changed_at_us), first=first, last=last)


def _how_sure(flag: Flag) -> str:
    return f"{flag.sure} {flag.settle or ''}".strip() or wording.NOT_SAID


def _rivals(flag: Flag) -> tuple[FactorShare, ...]:
    """The other candidates that count, where the cause is not settled."""
    return named_causes(flag.factor, flag.other_factors)[1:]


def _subject(flag: Flag) -> str:
    where = wording.where(flag.factor)
    platen = wording.PLATEN_WORDS.get(flag.platen or "")
    return f"{where}, {platen}" if platen else where


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A column of the pieces: how it is shown and what stands in it."""

    column: Column
    cell: Callable[[CasePiece], Cell]


def pieces_table(pieces: list[CasePiece], zone: ZoneInfo) -> Table:
    """Every piece in its own row, with a box to tick; in the order given."""
    wanted = [one for one in _columns(zone) if one.column.key != "n" or _has_blocks(pieces)]
    return Table(
        title=wording.PIECES, note=wording.PIECES_NOTE,
        columns=tuple(one.column for one in wanted),
        rows=tuple(tuple(one.cell(piece) for one in wanted) for piece in pieces),
    )


def _has_blocks(pieces: list[CasePiece]) -> bool:
    return any(piece.n != 1 for piece in pieces)


def _columns(zone: ZoneInfo) -> tuple[_Wanted, ...]:
    names = wording.COLUMN_WORDS
    pressed = Column(key="pressed_at", name=names["pressed_at"].format(zone=zone.key),
                     kind="moment")
    return (
        _Wanted(Column(key="piece_id", name=names["piece_id"]), lambda piece: piece.piece_id),
        _Wanted(Column(key="n", name=wording.PIECES_COUNT, kind="count"), lambda piece: piece.n),
        _Wanted(Column(key="location", name=names["location"], words=wording.place),
                lambda piece: piece.location),
        _Wanted(Column(key="job", name=names["job"]), lambda piece: piece.job),
        _Wanted(Column(key="status", name=names["status"], words=wording.status),
                lambda piece: piece.status),
        _Wanted(_shipped_column(zone), lambda piece: _moment(piece.shipped_at_us, zone)),
        _Wanted(Column(key="press", name=names["press"]), lambda piece: piece.press),
        _Wanted(Column(key="operator", name=names["operator"]), lambda piece: piece.operator),
        _Wanted(Column(key="transfer_lot", name=names["transfer_lot"]),
                lambda piece: piece.transfer_lot),
        _Wanted(Column(key="garment_lot", name=names["garment_lot"]),
                lambda piece: piece.garment_lot),
        _Wanted(pressed, lambda piece: from_us(piece.pressed_at_us, zone)),
        _Wanted(Column(key="disposition", name=names["disposition"], words=wording.disposition),
                lambda piece: piece.disposition),
        _Wanted(Column(key="defects", name=names["defects"], words=findings_in_words),
                lambda piece: piece.defects or None),
        _Wanted(Column(key="found", name=wording.FOUND, kind="tick"), lambda piece: None),
    )


def _shipped_column(zone: ZoneInfo) -> Column:
    return Column(key="shipped_at", name=wording.COLUMN_WORDS["shipped_at"].format(zone=zone.key),
                  kind="moment")


def _moment(instant_us: int | None, zone: ZoneInfo) -> datetime | None:
    return None if instant_us is None else from_us(instant_us, zone)


def _shipped_by_job(pieces: list[CasePiece], zone: ZoneInfo) -> Table:
    """What to tell the customer about: each job that left, most pieces with a defect first."""
    def n_bad(mine: list[CasePiece]) -> int:
        return len([piece for piece in mine if piece.defects])

    rows = []
    jobs = _grouped([piece for piece in pieces if piece.status == SHIPPED], "job")
    for job, mine in sorted(jobs, key=lambda one: -n_bad(one[1])):
        left = [piece.shipped_at_us for piece in mine if piece.shipped_at_us is not None]
        rows.append((job or wording.NOT_SAID, _n(mine), n_bad(mine),
                     _moment(max(left), zone) if left else None, None))
    return Table(title=wording.SHIPPED_BY_JOB, rows=tuple(rows), columns=(
        Column(key="job", name=wording.COLUMN_WORDS["job"]),
        Column(key="n", name=wording.PIECES_COUNT, kind="count"),
        Column(key="n_with_defect", name=wording.WITH_DEFECT, kind="count"),
        _shipped_column(zone),
        Column(key="called", name=wording.CALLED, kind="tick"),
    ))


def _counts(pieces: list[CasePiece], zone: ZoneInfo) -> Iterable[Table]:
    if not pieces:
        return
    yield _by_status(pieces)
    yield _by(pieces, "disposition", wording.BY_DISPOSITION, wording.disposition)
    yield _by(pieces, "press", wording.BY_PRESS)
    yield _by_job([piece for piece in pieces if piece.status not in ON_THE_WAY_OUT], zone)


def _by_status(pieces: list[CasePiece]) -> Table:
    counted = ((status, n) for status, n in by_status(tuple(pieces)).items() if n)
    return Table(title=wording.BY_STATUS, rows=tuple(counted), columns=(
        Column(key="status", name=wording.COLUMN_WORDS["status"], words=wording.status),
        Column(key="n", name=wording.PIECES_COUNT, kind="count"),
    ))


def _by_job(pieces: list[CasePiece], zone: ZoneInfo) -> Table:
    """The walk: which jobs to look for, how many pieces each, and pressed when."""
    def moment(instant_us: int) -> datetime:
        return from_us(instant_us, zone)

    rows = []
    for job, mine in _grouped(pieces, "job"):
        pressed = [piece.pressed_at_us for piece in mine]
        presses = sorted({piece.press for piece in mine if piece.press}, key=_natural)
        rows.append((
            job or wording.NOT_SAID, _n(mine), len([piece for piece in mine if piece.defects]),
            ", ".join(presses), moment(min(pressed)), moment(max(pressed)), None,
        ))
    return Table(title=wording.BY_JOB, rows=tuple(rows), columns=(
        Column(key="job", name=wording.COLUMN_WORDS["job"]),
        Column(key="n", name=wording.PIECES_COUNT, kind="count"),
        Column(key="n_with_defect", name=wording.WITH_DEFECT, kind="count"),
        Column(key="press", name=wording.COLUMN_WORDS["press"]),
        Column(key="first_pressed_at", name=wording.FIRST_PRESSED, kind="moment"),
        Column(key="last_pressed_at", name=wording.LAST_PRESSED, kind="moment"),
        Column(key="found", name=wording.FOUND, kind="tick"),
    ))


def _by(
    pieces: list[CasePiece], key: str, title: str, words: Callable[[str], str] | None = None
) -> Table:
    rows = tuple((level or wording.NOT_SAID, _n(mine)) for level, mine in _grouped(pieces, key))
    return Table(title=title, rows=rows, columns=(
        Column(key=key, name=wording.COLUMN_WORDS[key], words=words),
        Column(key="n", name=wording.PIECES_COUNT, kind="count"),
    ))


def _grouped(pieces: list[CasePiece], key: str) -> list[tuple[str | None, list[CasePiece]]]:
    groups: defaultdict[str | None, list[CasePiece]] = defaultdict(list)
    for piece in pieces:
        groups[getattr(piece, key)].append(piece)
    return sorted(groups.items(), key=lambda group: _natural(group[0]))


def _n(pieces: Iterable[CasePiece]) -> int:
    return sum(piece.n for piece in pieces)


def walking_order(piece: CasePiece) -> tuple[object, ...]:
    """By job as on the racks; what is not in the house any more comes last."""
    return (ON_THE_WAY_OUT.get(piece.status, 0), _natural(piece.job), piece.pressed_at_us,
            _natural(piece.piece_id), _natural(piece.location))


@lru_cache(maxsize=50_000)
def _natural(text: str | None) -> tuple[object, ...]:
    """Sorts J9 before J10; what is not said comes last."""
    if text is None:
        return (1,)
    parts = _DIGITS.split(text)
    numbers = (part.lstrip("0") for part in parts[1::2])
    return (0, tuple(zip(parts[::2], [*((len(n), n) for n in numbers), (0, "")], strict=True)),
            text)
