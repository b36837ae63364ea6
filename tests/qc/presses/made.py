"""Surveys of an invented shop, as frames in stored units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from qc.domain.instants import DAY_US
from qc.presses.health import platen_health
from qc.presses.signals import calibration_signals

T0 = 1_767_225_600_000_000
"""2026-01-01 00:00 UTC."""
GRID = [(row, col) for row in (1, 2, 3) for col in (1, 2, 3)]
EVEN = (1.0, 0.4, -0.6, 0.2, 0.0, -0.2, 0.6, -0.4, -1.0)
"""A pattern of nine points with mean 0 and spread 2.0 degC."""
DEFAULT_C = 3.8
INSTRUMENT_COLUMNS = ["instrument", "uncertainty_c", "k", "calibrated_at", "due_at"]


def survey(
    day: float, offset: float = 0.0, *, press: str = "P1", platen: str = "upper",
    pattern: Sequence[float] = EVEN, setpoint: float = 165.0, **more: Any,
) -> list[dict[str, Any]]:
    """The rows of one survey of nine points (or as many as the pattern has)."""
    row = {
        "survey_id": f"{press}-{day}-{more.get('state', 'routine')}", "press": press,
        "measured_at": T0 + round(day * DAY_US), "platen": platen, "setpoint_c": setpoint,
        "instrument": "K1", "state": "routine",
    } | more
    return [
        row | {"row": at[0], "col": at[1], "reading_c": setpoint + offset + less}
        for at, less in zip(GRID, pattern, strict=False)
    ]


def readings(*surveys: list[dict[str, Any]]) -> pd.DataFrame:
    columns = ["survey_id", "measured_at", "press", "platen", "setpoint_c", "row", "col",
               "reading_c", "instrument", "state"]
    return pd.DataFrame([row for one in surveys for row in one], columns=columns)


def presses(*codes: str, **fields: Any) -> pd.DataFrame:
    row = {"heated_lower": "no", "temperature_tolerance_c": 4.0, "uniformity_tolerance_c": 6.0,
           "check_every_days": 7.0} | fields
    return pd.DataFrame([{"press": code} | row for code in codes])


def instruments(uncertainty_c: float | None = 1.0, k: float | None = 2.0,
                due_day: float | None = 400) -> pd.DataFrame:
    due = None if due_day is None else T0 + round(due_day * DAY_US)
    return pd.DataFrame([["K1", uncertainty_c, k, T0, due]], columns=INSTRUMENT_COLUMNS)


def health_at(day: float, frame: pd.DataFrame, listed: pd.DataFrame | None = None,
              probes: pd.DataFrame | None = None) -> list[Any]:
    return list(platen_health(
        frame, presses("P1") if listed is None else listed,
        instruments() if probes is None else probes,
        as_of_us=T0 + round(day * DAY_US), default_uncertainty_c=DEFAULT_C,
    ))


def signals_at(day: float, frame: pd.DataFrame, listed: pd.DataFrame | None = None) -> list[Any]:
    return list(calibration_signals(
        frame, presses("P1") if listed is None else listed, instruments(),
        as_of_us=T0 + round(day * DAY_US), default_uncertainty_c=DEFAULT_C,
    ))


def noisy_shop(
    rng: np.random.Generator, *, weeks: int = 26, drift_c_per_day: float = 0.0,
    corner_c: float = 0.0, start_day: float = 80.0,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Eight presses, three with a heated lower platen, honest noise; a fault on P0's upper one."""
    rows: list[list[dict[str, Any]]] = []
    listed = []
    for number in range(8):
        code, heated = f"P{number}", number % 3 == 0
        listed.append(presses(
            code, heated_lower="yes" if heated else "no",
            temperature_tolerance_c=rng.uniform(3, 5.5), uniformity_tolerance_c=rng.uniform(5, 8),
        ))
        for platen in ("upper", "lower") if heated else ("upper",):
            base, pattern = rng.normal(0, 0.4), rng.normal(0, 0.5, 9)
            for week in range(weeks):
                day = 7 * week + rng.uniform(0, 0.4)
                since = max(0.0, day - start_day) if (number, platen) == (0, "upper") else 0.0
                point = pattern + rng.normal(0, 0.8, 9)
                point[2] -= corner_c * (since > 0)
                rows.append(survey(
                    day, base + rng.normal(0, 0.5) + drift_c_per_day * since, press=code,
                    platen=platen, pattern=point, setpoint=165.0 if platen == "upper" else 110.0,
                    survey_id=f"{code}-{platen}-{week}",
                ))
    return readings(*rows), pd.concat(listed, ignore_index=True)
