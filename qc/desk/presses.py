"""The presses: health of each platen, its latest map and its drift."""

from __future__ import annotations

import pandas as pd

from qc.desk.shop import Shop
from qc.domain.machine_checks import MachineCheck
from qc.domain.platens import CalibrationSignal, DriftSeries, PlatenHealth, PlatenMap
from qc.errors import NotFound
from qc.presses import drift, health, signals, surveys
from qc.presses.checks import machine_checks
from qc.presses.repeatability import repeatability
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


def platen_drift(shop: Shop, press: str, platen: str, *, as_of_us: int) -> DriftSeries:
    """All surveys of a platen with the line of its drift and where that leads."""
    return drift.drift_series(*_platen(shop, press, platen, as_of_us))


def press_checks(shop: Shop, *, as_of_us: int) -> tuple[MachineCheck, ...]:
    """The latest check of every timer and gauge, those out of tolerance first."""
    tolerances = {quantity: float(shop.settings[name]) for quantity, name in TOLERANCES.items()}
    checks = read_records(shop.store, "machine_checks", as_of_us=as_of_us)
    return machine_checks(checks, tolerances, as_of_us=as_of_us)


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
