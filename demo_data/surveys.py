"""Platen surveys and machine checks: what the maintenance round of an invented shop writes down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from demo_data.clock import local_texts
from demo_data.plan import Floats, Plan, first_day, working_days
from demo_data.settings import LOWER_PLATEN_C
from demo_data.spec import Press, ShopSpec
from demo_data.world import PlatenChange
from qc.domain.instants import DAY_US, SECOND_US

UPPER_PLATEN_C = 160.0
SIDE = 3
SURVEY_AT_S = 6 * 3600 + 35 * 60
SURVEY_STEP_S = 240
PULLED = ("far_left", "far_right", "centre", "near_left", "near_right")
CHECKS_AT_S = 7 * 3600 - 600
AS_LEFT_AFTER_S = 3 * 3600
INSTRUMENTS = ("TP-1", "TP-2")
STOPWATCH, GAUGE = "SW-1", "PG-1"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Platen:
    """What one platen is like when nothing is wrong: ``pattern_c`` (3, 3) around the setpoint."""

    press: Press
    platen: str
    setpoint_c: float
    pattern_c: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Round:
    """One survey of one platen."""

    at_us: int
    state: str
    instrument: str
    extra_c: float = 0.0


def survey_frame(
    spec: ShopSpec, plan: Plan, changes: list[PlatenChange], rng: np.random.Generator
) -> pd.DataFrame:
    """Nine points of every platen on Mondays before the first job, and around each service."""
    parts = []
    for number, platen in enumerate(_platens(spec, rng)):
        for one in _rounds(spec, plan, platen, number):
            parts.append(_survey(platen, one, changes, rng))
    frame = pd.concat(parts, ignore_index=True).sort_values("at", kind="stable")
    frame["measured_at"] = local_texts(frame["at"].to_numpy(dtype=np.int64), spec.tz)
    columns = ["survey_id", "measured_at", "press", "platen", "setpoint_c", "row", "col",
               "reading_c", "instrument", "state"]
    return frame[columns].reset_index(drop=True)


def _platens(spec: ShopSpec, rng: np.random.Generator) -> list[_Platen]:
    found = []
    for press in spec.presses:
        for platen, setpoint in (("upper", UPPER_PLATEN_C), ("lower", LOWER_PLATEN_C)):
            # drawn for every press, so that a heated lower platen more changes nothing else
            pattern = rng.normal(0, 0.7, (SIDE, SIDE))
            pattern += rng.normal(0, 0.6) - pattern.mean()
            if platen == "upper" or press.heated_lower:
                found.append(_Platen(
                    press=press, platen=platen, setpoint_c=setpoint, pattern_c=pattern))
    return found


def _rounds(spec: ShopSpec, plan: Plan, platen: _Platen, number: int) -> list[_Round]:
    """When this platen is surveyed, and how far it is off until a service."""
    services = [s for s in spec.services
                if (s.press, s.platen) == (platen.press.code, platen.platen)]
    start = first_day(spec).weekday()
    at_s = SURVEY_AT_S + SURVEY_STEP_S * (number % 6)
    rounds = []
    for week, day in enumerate(d for d in working_days(spec) if (start + d) % 7 == 0):
        rounds.append(_Round(
            at_us=int(plan.midnights_us[day]) + at_s * SECOND_US, state="routine",
            instrument=INSTRUMENTS[week % 5 == 4],
            extra_c=sum(s.offset_c for s in services if day < s.day),
        ))
    for service in services:
        at_us = int(plan.midnights_us[service.day]) + at_s * SECOND_US
        rounds.append(_Round(at_us=at_us, state="as_found", instrument=INSTRUMENTS[0],
                             extra_c=service.offset_c))
        rounds.append(_Round(at_us=at_us + AS_LEFT_AFTER_S * SECOND_US, state="as_left",
                             instrument=INSTRUMENTS[0]))
    return rounds


def _survey(
    platen: _Platen, one: _Round, changes: list[PlatenChange], rng: np.random.Generator
) -> pd.DataFrame:
    error = platen.pattern_c + one.extra_c + rng.normal(0, 0.3)
    error = error + rng.normal(0, 0.35, (SIDE, SIDE))
    for change in changes:
        if (change.press, change.platen) == (platen.press.code, platen.platen):
            error = error + change_at(change, one.at_us)
    row, col = np.divmod(np.arange(SIDE * SIDE), SIDE)
    day = str(np.datetime64(one.at_us, "us"))[:10].replace("-", "")
    suffix = {"routine": "", "as_found": "-AF", "as_left": "-AL"}[one.state]
    return pd.DataFrame({
        "survey_id": f"S{day}-{platen.press.code}-{platen.platen[0].upper()}{suffix}",
        "at": one.at_us, "press": platen.press.code, "platen": platen.platen,
        "setpoint_c": platen.setpoint_c, "row": row + 1, "col": col + 1,
        "reading_c": np.round(platen.setpoint_c + error.ravel(), 1),
        "instrument": one.instrument, "state": one.state,
    })


def change_at(change: PlatenChange, at_us: int) -> Floats:
    """What a change does to the nine points at a moment, (3, 3) degC."""
    effect = np.zeros((SIDE, SIDE))
    if at_us < change.start_us or (change.end_us is not None and at_us >= change.end_us):
        return effect
    effect += change.per_day_c * (at_us - change.start_us) / DAY_US
    effect[change.row - 1, change.col - 1] += change.corner_c
    return effect


def check_frame(spec: ShopSpec, plan: Plan, rng: np.random.Generator) -> pd.DataFrame:
    """Timer and pressure of every press against a stopwatch and a gauge, once a week."""
    rows = []
    start = first_day(spec).weekday()
    for day in (d for d in working_days(spec) if (start + d) % 7 == 0):
        for number, press in enumerate(spec.presses):
            at = int(plan.midnights_us[day]) + (CHECKS_AT_S + 300 * number) * SECOND_US
            rows.append((at, press.code, "dwell_s", 15.0, rng.normal(15.05, 0.12), STOPWATCH))
            if press.pressure == "kpa":
                rows.append((at + 60 * SECOND_US, press.code, "pressure_kpa", 280.0,
                             rng.normal(281, 5), GAUGE))
            else:
                rows.append((at + 60 * SECOND_US, press.code, "pressure_dial", 5.0,
                             rng.normal(5, 0.15), GAUGE))
    at_us, code, quantity, wanted, measured, instrument = zip(*rows, strict=True)
    return pd.DataFrame({
        "measured_at": local_texts(np.array(at_us), spec.tz), "press": code,
        "quantity": quantity, "set_value": wanted, "measured_value": np.round(measured, 1),
        "instrument": instrument, "state": "routine",
    })


def pull_frame(spec: ShopSpec, plan: Plan, rng: np.random.Generator) -> pd.DataFrame:
    """Paper pulled at the corners and the centre of every press, once a week: even but for luck."""
    rows = []
    start = first_day(spec).weekday()
    for day in (d for d in working_days(spec) if (start + d) % 7 == 0):
        for number, press in enumerate(spec.presses):
            at = int(plan.midnights_us[day]) + (CHECKS_AT_S + 300 * number + 120) * SECOND_US
            grips = rng.choice([1, 2, 3], len(PULLED), p=[0.04, 0.9, 0.06])
            rows += [(at, press.code, place, int(grip))
                     for place, grip in zip(PULLED, grips, strict=True)]
    at_us, code, place, grip = zip(*rows, strict=True)
    return pd.DataFrame({
        "measured_at": local_texts(np.array(at_us), spec.tz), "press": code, "station": None,
        "place": place, "grip": grip, "method": "paper", "state": "routine",
    })
