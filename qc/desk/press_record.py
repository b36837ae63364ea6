"""The calibration record of a press: every survey with its instrument, rule, decision and risk."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.check_words import CheckLine, check_lines
from qc.desk.heat_words import in_heat_unit
from qc.desk.presses import judged_surveys, press_health
from qc.desk.service import service_orders
from qc.desk.shop import Shop
from qc.domain.platens import PlatenHealth
from qc.domain.service import OrderStanding, SurveyFound
from qc.errors import InputError, NotFound
from qc.presses.surveys import number_or_none
from qc.presses.uncertainty import probe_uncertainty
from qc.store.records import read_records, survey_authors


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentUsed:
    """An instrument of the record: its expanded uncertainty (k = 2) with its parts in words, and
    its own calibration, microseconds UTC; None is not known."""

    code: str
    uncertainty_c: float
    parts: tuple[str, ...]
    caution: str
    calibrated_at_us: int | None
    due_at_us: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyEntry:
    """A survey of the record, and who entered it."""

    platen: str
    survey: SurveyFound
    entered_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PressRecord:
    """All that is known of a press's calibration from ``since_us`` to ``until_us``; None: from the
    first record on."""

    press: str
    since_us: int | None
    until_us: int
    platens: tuple[PlatenHealth, ...]
    surveys: tuple[SurveyEntry, ...]
    instruments: tuple[InstrumentUsed, ...]
    orders: tuple[OrderStanding, ...]
    checks: tuple[CheckLine, ...]


def press_record(
    shop: Shop, press: str, *, until_us: int, since_us: int | None = None
) -> PressRecord:
    """The record of one press.

    Raises
    ------
    NotFound
        There is no such press.
    InputError
        The period is empty.
    """
    if since_us is not None and since_us >= until_us:
        raise InputError(f"the period is empty: since {shop.iso(since_us)} is not before until "
                         f"{shop.iso(until_us)}")
    health = press_health(shop, as_of_us=until_us)
    platens = tuple(one for one in health if one.press == press)
    if not platens:
        known = ", ".join(sorted({one.press for one in health})) or "none yet"
        raise NotFound(f"there is no press {press!r}; known: {known}")
    surveys = _surveys(shop, platens, since_us, until_us)
    return PressRecord(
        press=press, since_us=since_us, until_us=until_us, platens=platens, surveys=surveys,
        instruments=_instruments(shop, surveys, until_us),
        orders=tuple(one for one in service_orders(shop, as_of_us=until_us, count_pieces=True)
                     if one.order.press == press
                     and one.order.opened_at_us >= (since_us or 0)),
        checks=tuple(one for one in check_lines(shop, as_of_us=until_us) if one.press == press),
    )


def _surveys(
    shop: Shop, platens: tuple[PlatenHealth, ...], since_us: int | None, until_us: int
) -> tuple[SurveyEntry, ...]:
    authors = survey_authors(shop.store)
    found = [
        SurveyEntry(platen=platen.platen, survey=survey,
                    entered_by=authors.get((survey.survey_id, platen.platen), ""))
        for platen in platens
        for survey in judged_surveys(shop, platen.press, platen.platen, as_of_us=until_us)
        if since_us is None or survey.at_us >= since_us
    ]
    return tuple(sorted(found, key=lambda one: (one.platen != "upper", one.survey.at_us)))


def _instruments(
    shop: Shop, surveys: tuple[SurveyEntry, ...], until_us: int
) -> tuple[InstrumentUsed, ...]:
    listed = read_records(shop.store, "instruments", as_of_us=until_us)
    rows = {str(row["instrument"]): row for row in listed.to_dict("records")}
    used = {one.survey.instrument: one.survey.setpoint_c for one in surveys
            if one.survey.instrument}
    out, unit = [], shop.settings["temperature_unit"]
    for code, setpoint_c in sorted(used.items()):
        probe = probe_uncertainty(
            code, listed, default_c=float(shop.settings["probe_uncertainty_c"]), at_us=until_us,
            at_c=setpoint_c)
        row = rows.get(code, {})
        calibrated, due = (number_or_none(row.get(name)) for name in ("calibrated_at", "due_at"))
        out.append(InstrumentUsed(
            code=code, uncertainty_c=probe.expanded_c,
            parts=tuple(in_heat_unit(part.words, unit) for part in probe.parts),
            caution=in_heat_unit(probe.caution, unit),
            calibrated_at_us=None if calibrated is None else int(calibrated),
            due_at_us=None if due is None else int(due)))
    return tuple(out)
