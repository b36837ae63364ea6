"""The presses: health of each platen, its latest map and its drift."""

from __future__ import annotations

import pandas as pd

from qc.desk.shop import Shop
from qc.domain.machine_checks import MachineCheck
from qc.domain.platens import CalibrationSignal, DriftSeries, PlatenHealth, PlatenMap
from qc.domain.pulls import PullCheck
from qc.domain.service import SurveyFound
from qc.errors import NotFound
from qc.presses import drift, health, signals, surveys
from qc.presses.checks import machine_checks
from qc.presses.pulls import pull_checks
from qc.presses.repeatability import repeatability
from qc.presses.service import survey_found
from qc.presses.uncertainty import probe_uncertainty
from qc.store.records import read_records, read_versions

TOLERANCES = {"dwell_s": "dwell_tolerance_s", "pressure_kpa": "pressure_tolerance_kpa",
              "pressure_dial": "dial_tolerance"}
"""The setting with the tolerance of each quantity that is checked."""


def press_health(shop: Shop, *, as_of_us: int) -> tuple[PlatenHealth, ...]:
    """Every platen of the shop, most urgent first."""
    return health.platen_health(
        *_records(shop, as_of_us), as_of_us=as_of_us, default_uncertainty_c=_default_c(shop),
        guard=float(shop.settings["guard_factor"]),
    )


def calibration_signals(shop: Shop, *, as_of_us: int) -> tuple[CalibrationSignal, ...]:
    """What the surveys up to a moment say needs service, ended signals too."""
    return signals.calibration_signals(
        *_records(shop, as_of_us), as_of_us=as_of_us, default_uncertainty_c=_default_c(shop)
    )


def survey_map(
    shop: Shop, press: str, platen: str, *, as_of_us: int, survey_id: str | None = None
) -> PlatenMap:
    """A survey of a platen as a grid of errors: the latest, or the one named."""
    found, limits, _ = _platen(shop, press, platen, as_of_us)
    named = [survey for survey in found if survey_id in (None, survey.survey_id)]
    if not named:
        raise NotFound(f"the {platen} platen of press {press} has no survey {survey_id!r}")
    return surveys.platen_map(named[-1], limits)


def latest_surveys(shop: Shop, *, as_of_us: int) -> dict[tuple[str, str], PlatenMap]:
    """The latest survey of every platen that has one, by (press, upper or lower)."""
    readings, presses, _ = _records(shop, as_of_us)
    limits = surveys.limits_of(presses)
    return {platen: surveys.platen_map(found[-1], limits.get(platen[0]))
            for platen, found in surveys.surveys_of(readings, as_of_us=as_of_us).items()}


def instrument_codes(shop: Shop) -> tuple[str, ...]:
    """The instruments on the shop's list."""
    return tuple(read_records(shop.store, "instruments")["instrument"].astype(str))


def platen_drift(shop: Shop, press: str, platen: str, *, as_of_us: int) -> DriftSeries:
    """All surveys of a platen with the line of its drift and where that leads."""
    return drift.drift_series(*_platen(shop, press, platen, as_of_us))


def judged_surveys(
    shop: Shop, press: str, platen: str, *, as_of_us: int
) -> tuple[SurveyFound, ...]:
    """Every survey of a platen, oldest first, each judged by the shop's rule and by the tolerance
    of its day."""
    readings, _, instruments = _records(shop, as_of_us)
    by_platen = surveys.surveys_of(readings, as_of_us=as_of_us)
    versions = read_versions(shop.store, "presses", as_of_us=as_of_us)
    asked = surveys.limits_over_time(versions).get(press, surveys.LimitsOverTime())
    pooled, guard = repeatability(by_platen), float(shop.settings["guard_factor"])
    return tuple(
        survey_found(one, asked.at(one.at_us), probe_uncertainty(
            one.instrument, instruments, default_c=_default_c(shop), at_us=one.at_us,
            at_c=one.setpoint_c), pooled, guard=guard)
        for one in by_platen.get((press, platen), []))


def press_checks(shop: Shop, *, as_of_us: int) -> tuple[MachineCheck, ...]:
    """The latest check of every timer and gauge, those out of tolerance first."""
    tolerances = {quantity: float(shop.settings[name]) for quantity, name in TOLERANCES.items()}
    checks = read_records(shop.store, "machine_checks", as_of_us=as_of_us)
    return machine_checks(checks, tolerances, as_of_us=as_of_us)


def press_pulls(shop: Shop, *, as_of_us: int) -> tuple[PullCheck, ...]:
    """The latest pulls of paper or film at every press and station, uneven ones first."""
    return pull_checks(read_records(shop.store, "pull_checks", as_of_us=as_of_us),
                       as_of_us=as_of_us)


def _platen(
    shop: Shop, press: str, platen: str, as_of_us: int
) -> tuple[list[surveys.Survey], surveys.Limits, float]:
    readings, presses, _ = _records(shop, as_of_us)
    by_platen = surveys.surveys_of(readings, as_of_us=as_of_us)
    found = by_platen.get((press, platen))
    if not found:
        raise NotFound(f"the {platen} platen of press {press} has no survey yet")
    limits = surveys.limits_of(presses).get(press, surveys.Limits())
    return found, limits, repeatability(by_platen).offset_c(as_of_us)


def _records(shop: Shop, as_of_us: int) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    store = shop.store
    return (
        read_records(store, "platen_readings", as_of_us=as_of_us),
        read_versions(store, "presses", as_of_us=as_of_us),
        read_records(store, "instruments", as_of_us=as_of_us),
    )


def _default_c(shop: Shop) -> float:
    return float(shop.settings["probe_uncertainty_c"])
