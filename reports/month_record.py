"""A month on paper or in a spreadsheet: for the manager's review, and for the file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from zoneinfo import ZoneInfo

from qc.desk.before_after import Side
from qc.desk.month_record import MonthFlag, MonthRecord
from qc.desk.quality_cost import Price
from qc.desk.trends import trend_chart
from qc.domain.action_checks import VERDICT_HEADS
from qc.domain.case_words import cause_words
from qc.domain.instants import from_us
from qc.domain.kinds import plain_name
from qc.domain.ranking import ParetoRow
from reports import wording
from reports import wording_of_records as words
from reports.cells import count, long_minute
from reports.document import (
    Block,
    Caution,
    Column,
    Document,
    Facts,
    Paragraph,
    Picture,
    Table,
    Title,
)
from reports.parts import one_digit, ratio_cells, state_counts
from reports.picture.charts.drawing import chart_sheet
from reports.picture.sheet import WIDE, sheet_svg
from reports.picture.words import METHOD

RANKED_COLUMNS = ("defects", "expected", "ratio", "interval", "stands_out")


def month_document(record: MonthRecord, *, shop_name: str, zone: ZoneInfo) -> Document:
    """The document."""
    start, end, as_of = (from_us(us, zone) for us in (
        record.start_us, record.end_us, record.as_of_us))
    under = words.MONTH_UNDER.format(
        start=long_minute(start), end=long_minute(end), when=long_minute(as_of), zone=zone.key)
    title = Title(over=shop_name, text=f"{start:%B %Y}",
                  under=under if record.is_over else f"{under} {words.MONTH_STILL}")
    return Document(title=title, as_of=as_of, blocks=tuple(_blocks(record, zone)),
                    main=_days(record, zone))


def _blocks(record: MonthRecord, zone: ZoneInfo) -> Iterator[Block]:
    yield Facts(pairs=tuple(_facts(record)))
    if len(record.days.start_us) > 1:
        yield _picture(record, zone)
    if record.flags:
        yield _flags(record, zone)
    else:
        yield Paragraph(heading=words.MONTH_FLAGS, text=words.MONTH_FLAGS_NONE)
    if any(row.n_defects for row in record.kinds.rows):
        yield _kinds(record)
    for by, rows in record.ranked.items():
        if sum(row.level[0] is not None for row in rows) > 1:
            yield _ranked(by, rows)
    if record.platens:
        yield _platens(record)
    if record.flags or record.platens:
        yield Caution(heading=wording.HOT, text=wording.HOT_WORDS)


def _facts(record: MonthRecord) -> Iterator[tuple[str, str]]:
    before, after = record.against.before, record.against.after
    yield words.PIECES_MADE, count(after.n_pieces) if after.n_pieces else words.MONTH_NO_PIECES
    if after.n_pieces:
        yield words.AT_FIRST, _right(after)
        yield words.MONTH_BEFORE, _right(before)
        yield words.MONTH_MOVED, _moved(record)
        expected = sum(row.expected for row in record.kinds.rows)
        yield words.DEFECTS_FOUND, words.DEFECTS_EXPECTED.format(
            n=count(record.kinds.n_defects), expected=one_digit(expected))
        if record.price is not None:
            yield words.MONTH_COST, words.MONTH_COST_WORDS.format(
                total=_money(record.price, after.n_defective), each=_money(record.price, 1),
                before=_money(record.price, before.n_defective))
        yield words.NOW, state_counts(record.now)


def _right(side: Side) -> str:
    if side.share is None or side.low is None or side.high is None:
        return words.MONTH_BEFORE_NONE
    return words.MONTH_RIGHT.format(
        good=count(side.n_pieces - side.n_defective), n=count(side.n_pieces),
        bad=count(side.n_defective), share=_share(side.share), low=f"{100 * side.low:.1f}",
        high=_share(side.high))


def _moved(record: MonthRecord) -> str:
    verdict, ratio = words.MONTH_VERDICTS[record.against.verdict], record.against.comparison.ratio
    if record.against.verdict == "nothing" or not 0 < ratio.value < float("inf"):
        return verdict
    return words.MONTH_RATIO.format(verdict=verdict, ratio=f"{ratio.value:.2f}",
                                    low=f"{ratio.low:.2f}", high=f"{ratio.high:.2f}")


def _money(price: Price, n: int) -> str:
    amount = n * price.each
    said = count(round(amount)) if amount >= 100 else f"{amount:.2f}"
    return f"{price.currency} {said}".strip()


def _flags(record: MonthRecord, zone: ZoneInfo) -> Table:
    names = words.MONTH_COLUMNS
    return Table(
        title=words.MONTH_FLAGS, note=words.MONTH_FLAGS_NOTE,
        columns=(Column(key="signalled_at", name=names["signalled_at"].format(zone=zone.key),
                        kind="moment"),
                 Column(key="what", name=names["what"]), Column(key="found", name=names["found"]),
                 Column(key="state", name=names["state"])),
        rows=tuple(
            (from_us(one.flag.signalled_at_us, zone), f"{one.flag.message} ({one.flag.id})",
             _found(one), _state(one, zone))
            for one in record.flags))


def _found(one: MonthFlag) -> str | None:
    """The cause that was found, and whether what was done about it worked."""
    if one.case is None:
        return None
    cause, check = one.case.case.cause, one.case.check
    said = [words.MONTH_CAUSE.format(cause=cause_words(cause))] if cause else []
    said += [words.MONTH_WORKED.format(verdict=VERDICT_HEADS[check.verdict])] if check else []
    return "; ".join(said) or None


def _state(one: MonthFlag, zone: ZoneInfo) -> str:
    if one.case is None:
        return words.MONTH_FLAG_STATES["open" if one.flag.is_open else "ended"]
    closed = one.case.case.closed
    if closed is None:
        return words.MONTH_FLAG_STATES["worked_on"]
    return words.MONTH_FLAG_STATES["closed"].format(when=f"{from_us(closed.at_us, zone):%d %b}")


def _kinds(record: MonthRecord) -> Table:
    names = words.MONTH_COLUMNS
    return Table(
        title=words.BY_KIND, note=words.MONTH_DEFECTS_NOTE,
        columns=(Column(key="kind", name=names["kind"], words=plain_name),
                 Column(key="before", name=names["before"], kind="count"),
                 *_ranked_columns()),
        rows=tuple((row.level[0], record.kinds_before.get(row.level[0], 0), *_ranked_cells(row))
                   for row in record.kinds.rows if row.n_defects))


def _ranked(by: str, rows: tuple[ParetoRow, ...]) -> Table:
    names = words.MONTH_COLUMNS
    return Table(
        title=words.MONTH_RANKED[by], note=words.MONTH_RANKED_NOTE,
        columns=(Column(key=by, name=names[by],
                        words=wording.place if by == "location" else None),
                 Column(key="n", name=names["n"], kind="count"), *_ranked_columns()),
        rows=tuple((row.level[0] or wording.NOT_SAID, row.n_pieces, *_ranked_cells(row))
                   for row in rows))


def _ranked_columns() -> tuple[Column, ...]:
    names = words.MONTH_COLUMNS
    return (Column(key="defects", name=names["defects"], kind="count"),
            Column(key="expected", name=names["expected"], kind="figure"),
            Column(key="ratio", name=names["ratio"], kind="figure"),
            Column(key="interval", name=names["interval"]),
            Column(key="stands_out", name=names["stands_out"]))


def _ranked_cells(row: ParetoRow) -> tuple[int | str | None, ...]:
    return row.n_defects, one_digit(row.expected), *ratio_cells(row)


def _platens(record: MonthRecord) -> Table:
    names = words.MONTH_COLUMNS
    return Table(
        title=words.MONTH_PLATENS, note=words.MONTH_PLATENS_NOTE,
        columns=(Column(key="press", name=names["press"]),
                 Column(key="platen", name=names["platen"]),
                 Column(key="surveys", name=names["surveys"], kind="count"),
                 Column(key="out", name=names["out"], kind="count"),
                 Column(key="opened", name=names["opened"], kind="count"),
                 Column(key="closed", name=names["closed"], kind="count"),
                 Column(key="stands", name=names["stands"])),
        rows=tuple((one.health.press, wording.PLATEN_WORDS[one.health.platen], one.n_surveys,
                    one.n_out, one.n_opened, one.n_closed,
                    words.MONTH_IN_ORDER if one.health.state == "in_tolerance"
                    else one.health.reason)
                   for one in record.platens))


def _picture(record: MonthRecord, zone: ZoneInfo) -> Picture:
    """The share of each day about what its work usually gives."""
    days = record.days
    labels = tuple(f"{from_us(int(us), zone):%a} {from_us(int(us), zone).day}"
                   for us in days.start_us)
    sheet = replace(chart_sheet(trend_chart(days, labels)), title=words.MONTH_PICTURE_TITLE,
                    foot=(METHOD.format(source=days.source.removesuffix(".")),))
    return Picture(svg=sheet_svg(sheet, width=WIDE, carry_font=False), heading=words.MONTH_PICTURE,
                   words=sheet.verdict)


def _days(record: MonthRecord, zone: ZoneInfo) -> Table:
    names, days = words.MONTH_COLUMNS, record.days
    starts = [from_us(int(us), zone) for us in days.start_us]
    rows = tuple(
        (f"{start:%Y-%m-%d}", f"{start:%a}", int(n), int(bad), one_digit(usual * n), _share(share),
         f"{100 * low:.1f} to {_share(high)}")
        for start, n, bad, usual, share, low, high in zip(
            starts, days.n_pieces, days.n_defective, days.usual, days.share, days.low, days.high,
            strict=True))
    return Table(
        title=words.MONTH_DAYS, note=words.MONTH_DAYS_NOTE.format(source=record.against.source),
        columns=(Column(key="day", name=names["day"]),
                 Column(key="weekday", name=names["weekday"]),
                 Column(key="n", name=names["n"], kind="count"),
                 Column(key="n_defective", name=names["n_defective"], kind="count"),
                 Column(key="expected", name=names["expected"], kind="figure"),
                 Column(key="share", name=names["share"], kind="figure"),
                 Column(key="interval", name=names["interval"])),
        rows=rows)


def _share(value: float) -> str:
    return f"{100 * value:.1f} %"
