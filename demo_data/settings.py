"""Recipes of every fabric with every transfer, and what the presses showed at each piece."""

from __future__ import annotations

import numpy as np
import pandas as pd

from demo_data.plan import Floats, Plan
from demo_data.spec import Fabric, ShopSpec, Transfer
from demo_data.world import Changes

LOWER_PLATEN_C = 110.0
MARGIN_C = 5.0


def recipe_frame(spec: ShopSpec, valid_from: str) -> pd.DataFrame:
    """One recipe for each fabric with each transfer, in file form."""
    rows = [_recipe(f, t) for f in spec.fabrics for t in spec.transfers]
    frame = pd.DataFrame(rows)
    frame.insert(3, "valid_from", valid_from)
    return frame


def _recipe(fabric: Fabric, transfer: Transfer) -> dict[str, object]:
    temperature = min(transfer.temperature_c, fabric.heat_limit_c - MARGIN_C)
    dwell = transfer.dwell_s + fabric.dwell_more_s
    return {
        "fabric": fabric.code, "transfer": transfer.code, "version": "1",
        "temperature_c": temperature, "temperature_low_c": temperature - 5,
        "temperature_high_c": temperature + 5,
        "dwell_s": dwell, "dwell_low_s": dwell - 2, "dwell_high_s": dwell + 2,
        "pressure_kpa": transfer.pressure_kpa, "pressure_low_kpa": transfer.pressure_kpa - 40,
        "pressure_high_kpa": transfer.pressure_kpa + 40,
        "pressure_dial": transfer.pressure_dial,
        "pressure_low_dial": transfer.pressure_dial - 1,
        "pressure_high_dial": transfer.pressure_dial + 1,
        "peel": transfer.peel, "peel_wait_s": transfer.peel_wait_s, "cover": transfer.cover,
        "second_press_s": transfer.second_press_s,
    }


def shown_settings(
    spec: ShopSpec, plan: Plan, changes: Changes, rng: np.random.Generator
) -> dict[str, Floats]:
    """Settings as shown at each piece, (pieces,), nan where the press does not show them.

    Set once for a job with a little slack, then read off a display with its own step.
    """
    pressure = changes.scaled["pressure"]
    temperature = _of_pair(spec, plan, "temperature_c") + _by_job(plan, rng, 0.7)
    temperature += changes.moved["temperature_c"]
    dwell = _of_pair(spec, plan, "dwell_s") * changes.scaled["dwell_s"]
    dwell *= 1 + _by_job(plan, rng, 0.012)
    gauge = np.array([press.pressure == "kpa" for press in spec.presses])[plan.code["press"]]
    heated = np.array([press.heated_lower for press in spec.presses])[plan.code["press"]]
    kpa = _of_pair(spec, plan, "pressure_kpa") * pressure + _by_job(plan, rng, 5)
    kpa += rng.normal(0, 3, plan.n)
    dial = _of_pair(spec, plan, "pressure_dial") * pressure + _by_job(plan, rng, 0.12)
    wait = _of_pair(spec, plan, "peel_wait_s") * rng.lognormal(0, 0.2, plan.n)
    return {
        "temperature_c": np.round(temperature + rng.normal(0, 0.5, plan.n)),
        "temperature_lower_c": np.where(
            heated, np.round(LOWER_PLATEN_C + rng.normal(0, 0.8, plan.n)), np.nan),
        "dwell_s": _to_step(dwell, 0.5),
        "second_press_s": _of_pair(spec, plan, "second_press_s"),
        "pressure_kpa": np.where(gauge, _to_step(kpa, 5), np.nan),
        "pressure_dial": np.where(gauge, np.nan, _to_step(dial, 0.5)),
        "peel_wait_s": np.round(wait),
    }


def _of_pair(spec: ShopSpec, plan: Plan, name: str) -> Floats:
    table = np.array([
        [float(_recipe(f, t)[name]) for t in spec.transfers]  # type: ignore[arg-type]
        for f in spec.fabrics
    ])
    return table[plan.code["fabric"], plan.code["transfer"]]


def _by_job(plan: Plan, rng: np.random.Generator, sd: float) -> Floats:
    return rng.normal(0, sd, len(plan.names["job"]))[plan.code["job"]]


def _to_step(value: Floats, step: float) -> Floats:
    return np.round(value / step) * step
