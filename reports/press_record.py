"""The calibration record of a press on paper: for the file, an auditor, or a customer who asks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from qc.desk.press_record import PressRecord
from qc.domain.instants import from_us
from qc.domain.platens import PlatenHealth
from qc.domain.service_words import decision_with_caution
from qc.units import from_stored, unit
from reports import wording
from reports.cells import long_minute
from reports.document import Block, Caution, Column, Document, Facts, Table, Title


@dataclass(frozen=True, slots=True)
class _Heat:
    """Temperatures in the unit with this suffix."""

    suffix: str

    @property
    def symbol(self) -> str:
        return unit("temperature", self.suffix).symbol

    def plain(self, difference_c: float | None) -> str:
        return wording.NOT_SAID if difference_c is None else f"{self._shown(difference_c):.1f}"

    def signed(self, difference_c: float) -> str:
        return f"{round(self._shown(difference_c), 1) + 0.0:+.1f}".replace("-", "−")

    def setpoint(self, temperature_c: float) -> str:
        return f"{float(from_stored(temperature_c, 'temperature', self.suffix)):.1f}"

    def _shown(self, difference_c: float) -> float:
        return float(from_stored(difference_c, "temperature_difference", self.suffix))


def record_document(
    record: PressRecord, *, shop_name: str, zone: ZoneInfo, heat_unit: str
) -> Document:
    """The document; ``heat_unit``: of temperatures, 'c' or 'f'."""
    heat = _Heat(heat_unit)
    as_of = from_us(record.until_us, zone)
    since = (wording.RECORD_FROM_FIRST if record.since_us is None
             else long_minute(from_us(record.since_us, zone)))
    title = Title(
        over=shop_name, text=wording.RECORD_TITLE.format(press=record.press),
        under=wording.RECORD_PERIOD.format(since=since, until=long_minute(as_of), zone=zone.key,
                                           unit=heat.symbol),
    )
    return Document(title=title, as_of=as_of, blocks=tuple(_blocks(record, zone, heat)),
                    main=_surveys(record, zone, heat))


def _blocks(record: PressRecord, zone: ZoneInfo, heat: _Heat) -> Iterable[Block]:
    for platen in record.platens:
        yield _platen(platen, zone, heat)
    yield Caution(heading=wording.HOT, text=wording.HOT_WORDS)
    if record.instruments:
        yield _instruments(record, zone, heat)
    if record.orders:
        yield _orders(record, zone)
    if record.checks:
        yield _checks(record, zone)


def _platen(one: PlatenHealth, zone: ZoneInfo, heat: _Heat) -> Facts:
    return Facts(pairs=(
        (wording.RECORD_PLATEN, wording.PLATEN_WORDS[one.platen]),
        (wording.RECORD_STATE, one.reason),
        (wording.RECORD_TOLERANCES, wording.RECORD_TOLERANCE_WORDS.format(
            mean=heat.plain(one.temperature_tolerance_c),
            spread=heat.plain(one.uniformity_tolerance_c))),
        (wording.RECORD_RULE, wording.RECORD_RULE_WORDS.format(rule=one.rule)),
        (wording.RECORD_DUE, wording.NOT_SAID if one.due_at_us is None
         else long_minute(from_us(one.due_at_us, zone))),
    ))


def _surveys(record: PressRecord, zone: ZoneInfo, heat: _Heat) -> Table:
    names = wording.RECORD_COLUMNS
    columns = (
        Column(key="platen", name=names["platen"]),
        Column(key="measured_at", name=names["measured_at"].format(zone=zone.key), kind="moment"),
        Column(key="state", name=names["state"], words=wording.survey_state),
        Column(key="survey_id", name=names["survey_id"]),
        Column(key="instrument", name=names["instrument"]),
        Column(key=f"uncertainty_{heat.suffix}", name=names["uncertainty"], kind="figure"),
        Column(key=f"setpoint_{heat.suffix}", name=names["setpoint"], kind="figure"),
        Column(key=f"offset_{heat.suffix}", name=names["offset"], kind="figure"),
        Column(key=f"spread_{heat.suffix}", name=names["spread"], kind="figure"),
        Column(key="points", name=names["points"], kind="count"),
        Column(key="decision", name=names["decision"]),
        Column(key="entered_by", name=names["entered_by"]),
    )
    rows = tuple(
        (one.platen, from_us(one.survey.at_us, zone), one.survey.state, one.survey.survey_id,
         one.survey.instrument, heat.plain(one.survey.uncertainty_c),
         heat.setpoint(one.survey.setpoint_c),
         heat.signed(one.survey.offset_c), heat.plain(one.survey.spread_c), one.survey.n_points,
         _kept_together(decision_with_caution(one.survey)), one.entered_by or None)
        for one in record.surveys)
    return Table(title=wording.RECORD_SURVEYS, note=wording.RECORD_SURVEYS_NOTE, columns=columns,
                 rows=rows)


def _instruments(record: PressRecord, zone: ZoneInfo, heat: _Heat) -> Table:
    names = wording.RECORD_COLUMNS
    return Table(
        title=wording.RECORD_INSTRUMENTS,
        columns=(Column(key="instrument", name=names["instrument"]),
                 Column(key=f"uncertainty_{heat.suffix}", name=names["uncertainty"], kind="figure"),
                 Column(key="parts", name=names["parts"]),
                 Column(key="calibrated_at", name=names["calibrated_at"], kind="moment"),
                 Column(key="due_at", name=names["due_at"], kind="moment")),
        rows=tuple(
            (one.code, heat.plain(one.uncertainty_c),
             "; ".join([*one.parts, one.caution]).strip("; "),
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


