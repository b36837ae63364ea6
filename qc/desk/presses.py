"""The presses: health of each platen, its latest map and its drift."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from qc.desk.heat_words import in_heat_unit
from qc.desk.kept_results import made_of
from qc.desk.kept_surveys import known_surveys
from qc.desk.shop import Shop
from qc.domain.machine_checks import MachineCheck
from qc.domain.platens import CalibrationSignal, DriftSeries, PlatenHealth, PlatenMap
from qc.domain.pulls import PullCheck
from qc.domain.service import SurveyFound
from qc.errors import NotFound
from qc.presses import drift, health, signals, surveys
from qc.presses.checks import machine_checks
from qc.presses.pulls import pull_checks
from qc.presses.service import survey_found
from qc.presses.uncertainty import probe_uncertainty
from qc.store.records import read_records, read_versions

EVER_US = 2**62
"""All records given count."""
TOLERANCES = {"dwell_s": "dwell_tolerance_s", "pressure_kpa": "pressure_tolerance_kpa",
              "pressure_dial": "dial_tolerance"}
"""The setting with the tolerance of each quantity that is checked."""


def press_health(shop: Shop, *, as_of_us: int) -> tuple[PlatenHealth, ...]:
    """Every platen of the shop, most urgent first, its sentences in the unit the shop reads."""
    known, unit = known_surveys(shop, as_of_us=as_of_us), shop.settings["temperature_unit"]
    found = health.health_of(
        known.by_platen, known.pooled, *_lists(shop, as_of_us), as_of_us=as_of_us,
        default_uncertainty_c=_default_c(shop), guard=float(shop.settings["guard_factor"]),
    )
    return tuple(
        replace(one, reason=in_heat_unit(one.reason, unit), uncertainty_parts=tuple(
            in_heat_unit(part, unit) for part in one.uncertainty_parts))
        for one in found)


def calibration_signals(shop: Shop, *, as_of_us: int) -> tuple[CalibrationSignal, ...]:
    """What the surveys up to a moment say needs service, ended signals too."""
    return signals.calibration_signals(
        read_records(shop.store, "platen_readings", as_of_us=as_of_us), *_lists(shop, as_of_us),
        as_of_us=as_of_us, default_uncertainty_c=_default_c(shop)
    )


def survey_map(
    shop: Shop, press: str, platen: str, *, as_of_us: int, survey_id: str | None = None
) -> PlatenMap:
    """A survey of a platen as a grid of errors: the latest, or the one named."""
    found, limits, _ = _platen(shop, press, platen, as_of_us)
    named = [at for at, survey in enumerate(found) if survey_id in (None, survey.survey_id)]
    if not named:
        raise NotFound(f"the {platen} platen of press {press} has no survey {survey_id!r}")
    upto = found[:named[-1] + 1]
    return surveys.platen_map(upto[-1], limits, surveys.grid_of(upto))


def latest_surveys(shop: Shop, *, as_of_us: int) -> dict[tuple[str, str], PlatenMap]:
    """The latest survey of every platen that has one, by (press, upper or lower)."""
    limits = surveys.limits_of(_lists(shop, as_of_us)[0])
    return {platen: surveys.platen_map(found[-1], limits.get(platen[0]), surveys.grid_of(found))
            for platen, found in known_surveys(shop, as_of_us=as_of_us).by_platen.items()}


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
    of its day, and what is wrong with its probe in the unit the shop reads."""
    known, unit = known_surveys(shop, as_of_us=as_of_us), shop.settings["temperature_unit"]
    versions, instruments = _lists(shop, as_of_us)
    asked = surveys.limits_over_time(versions).get(press, surveys.LimitsOverTime())
    pooled, guard = known.pooled, float(shop.settings["guard_factor"])
    found = (
        survey_found(one, asked.at(one.at_us), probe_uncertainty(
            one.instrument, instruments, default_c=_default_c(shop), at_us=one.at_us,
            at_c=one.setpoint_c), pooled, guard=guard)
        for one in known.by_platen.get((press, platen), []))
    return tuple(replace(one, caution=in_heat_unit(one.caution, unit)) for one in found)


def press_checks(shop: Shop, *, as_of_us: int) -> tuple[MachineCheck, ...]:
    """The latest check of every timer and gauge, those out of tolerance first."""
    tolerances = {quantity: float(shop.settings[name]) for quantity, name in TOLERANCES.items()}
    return made_of(
        shop, "machine_checks", lambda checks: machine_checks(checks, tolerances, as_of_us=EVER_US),
        as_of_us=as_of_us, given=tuple(tolerances.items()))


def press_pulls(shop: Shop, *, as_of_us: int) -> tuple[PullCheck, ...]:
    """The latest pulls of paper or film at every press and station, uneven ones first."""
    return made_of(shop, "pull_checks", lambda pulls: pull_checks(pulls, as_of_us=EVER_US),
                   as_of_us=as_of_us)


def _platen(
    shop: Shop, press: str, platen: str, as_of_us: int
) -> tuple[list[surveys.Survey], surveys.Limits, float]:
    known = known_surveys(shop, as_of_us=as_of_us)
    found = known.by_platen.get((press, platen))
    if not found:
        raise NotFound(f"the {platen} platen of press {press} has no survey yet")
    presses, _ = _lists(shop, as_of_us)
    limits = surveys.limits_of(presses).get(press, surveys.Limits())
    return found, limits, known.pooled.offset_c(as_of_us)


def _lists(shop: Shop, as_of_us: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Every version of the presses, and the instruments."""
    return (read_versions(shop.store, "presses", as_of_us=as_of_us),
            read_records(shop.store, "instruments", as_of_us=as_of_us))


def _default_c(shop: Shop) -> float:
    return float(shop.settings["probe_uncertainty_c"])
