"""The calibration record of a press on paper: for the file, an auditor, or a customer who asks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from qc.desk.press_record import PressRecord
from qc.domain.instants import from_us
from qc.domain.platens import PlatenHealth
from qc.domain.service_words import decision_with_caution
from reports import wording
from reports.cells import long_minute
from reports.document import Block, Caution, Column, Document, Facts, Table, Title


def record_document(record: PressRecord, *, shop_name: str, zone: ZoneInfo) -> Document:
    """The document."""
    as_of = from_us(record.until_us, zone)
    since = (wording.RECORD_FROM_FIRST if record.since_us is None
             else long_minute(from_us(record.since_us, zone)))
    title = Title(
        over=shop_name, text=wording.RECORD_TITLE.format(press=record.press),
        under=wording.RECORD_PERIOD.format(since=since, until=long_minute(as_of), zone=zone.key),
    )
    return Document(title=title, as_of=as_of, blocks=tuple(_blocks(record, zone)),
                    main=_surveys(record, zone))


def _blocks(record: PressRecord, zone: ZoneInfo) -> Iterable[Block]:
    for platen in record.platens:
        yield _platen(platen, zone)
    yield Caution(heading=wording.HOT, text=wording.HOT_WORDS)
    if record.instruments:
        yield _instruments(record, zone)
    if record.orders:
        yield _orders(record, zone)
    if record.checks:
        yield _checks(record, zone)


def _platen(one: PlatenHealth, zone: ZoneInfo) -> Facts:
    return Facts(pairs=(
        (wording.RECORD_PLATEN, wording.PLATEN_WORDS[one.platen]),
        (wording.RECORD_STATE, one.reason),
        (wording.RECORD_TOLERANCES, wording.RECORD_TOLERANCE_WORDS.format(
            mean=_plain(one.temperature_tolerance_c), spread=_plain(one.uniformity_tolerance_c))),
        (wording.RECORD_RULE, wording.RECORD_RULE_WORDS.format(rule=one.rule)),
        (wording.RECORD_DUE, wording.NOT_SAID if one.due_at_us is None
         else long_minute(from_us(one.due_at_us, zone))),
    ))


def _surveys(record: PressRecord, zone: ZoneInfo) -> Table:
    names = wording.RECORD_COLUMNS
    columns = (
        Column(key="platen", name=names["platen"]),
        Column(key="measured_at", name=names["measured_at"].format(zone=zone.key), kind="moment"),
        Column(key="state", name=names["state"], words=wording.survey_state),
        Column(key="survey_id", name=names["survey_id"]),
        Column(key="instrument", name=names["instrument"]),
        Column(key="uncertainty_c", name=names["uncertainty_c"], kind="figure"),
        Column(key="setpoint_c", name=names["setpoint_c"], kind="figure"),
        Column(key="offset_c", name=names["offset_c"], kind="figure"),
        Column(key="spread_c", name=names["spread_c"], kind="figure"),
        Column(key="points", name=names["points"], kind="count"),
        Column(key="decision", name=names["decision"]),
        Column(key="entered_by", name=names["entered_by"]),
    )
    rows = tuple(
        (one.platen, from_us(one.survey.at_us, zone), one.survey.state, one.survey.survey_id,
         one.survey.instrument, _plain(one.survey.uncertainty_c), _plain(one.survey.setpoint_c),
         _signed(one.survey.offset_c), _plain(one.survey.spread_c), one.survey.n_points,
         _kept_together(decision_with_caution(one.survey)), one.entered_by or None)
        for one in record.surveys)
    return Table(title=wording.RECORD_SURVEYS, note=wording.RECORD_SURVEYS_NOTE, columns=columns,
                 rows=rows)


def _instruments(record: PressRecord, zone: ZoneInfo) -> Table:
    names = wording.RECORD_COLUMNS
    return Table(
        title=wording.RECORD_INSTRUMENTS,
        columns=(Column(key="instrument", name=names["instrument"]),
                 Column(key="uncertainty_c", name=names["uncertainty_c"], kind="figure"),
                 Column(key="parts", name=names["parts"]),
                 Column(key="calibrated_at", name=names["calibrated_at"], kind="moment"),
                 Column(key="due_at", name=names["due_at"], kind="moment")),
        rows=tuple(
            (one.code, _plain(one.uncertainty_c), "; ".join([*one.parts, one.caution]).strip("; "),
             _moment(one.calibrated_at_us, zone), _moment(one.due_at_us, zone))
            for one in record.instruments),
    )


def _orders(record: PressRecord, zone: ZoneInfo) -> Table:
    names = wording.RECORD_COLUMNS
    rows = []
    for one in record.orders:
        done = one.order.newest("done")
        rows.append((
            one.order.order_id, one.order.platen, from_us(one.order.opened_at_us, zone),
            one.order.words, decision_with_caution(one.found) if one.found else wording.NOT_YET,
            str(done.said["words"]) if done else wording.NOT_SAID,
            decision_with_caution(one.left) if one.left else wording.NOT_YET, one.next_step,
            None if one.pressed is None else one.pressed.n_pieces))
    return Table(
        title=wording.RECORD_ORDERS, rows=tuple(rows),
        columns=(Column(key="order", name=names["order"]),
                 Column(key="platen", name=names["platen"]),
                 Column(key="opened_at", name=names["opened_at"].format(zone=zone.key),
                        kind="moment"),
                 Column(key="why", name=names["why"]),
                 Column(key="as_found", name=wording.AS_FOUND),
                 Column(key="done", name=names["done"]),
                 Column(key="as_left", name=wording.AS_LEFT),
                 Column(key="state", name=wording.ORDER_STATE),
                 Column(key="pieces", name=names["pieces"], kind="count")),
    )


def _checks(record: PressRecord, zone: ZoneInfo) -> Table:
    names = wording.RECORD_COLUMNS
    return Table(
        title=wording.RECORD_CHECKS,
        columns=(Column(key="what", name=names["what"]),
                 Column(key="set_to", name=names["set_to"], kind="figure"),
                 Column(key="off_by", name=names["off_by"], kind="figure"),
                 Column(key="tolerance", name=names["tolerance"], kind="figure"),
                 Column(key="decision", name=names["decision"]),
                 Column(key="checked_at", name=names["measured_at"].format(zone=zone.key),
                        kind="moment")),
        rows=tuple((one.what, one.set_to, one.off_by, one.tolerance, one.state_words,
                    from_us(one.checked_at_us, zone)) for one in record.checks),
    )


def _moment(instant_us: int | None, zone: ZoneInfo) -> datetime | None:
    return None if instant_us is None else from_us(instant_us, zone)


def _kept_together(words: str) -> str:
    """A number and its % stay on one line."""
    return words.replace(" %", "\u00a0%")


def _plain(value: float | None) -> str:
    return wording.NOT_SAID if value is None else f"{value:.1f}"


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}".replace("-", "−")
