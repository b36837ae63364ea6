"""A small steady shop in any store: two presses, fifty days of work, sixty pieces a day."""

from __future__ import annotations

from math import prod

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.store import Store
from qc.store.inspections import add_inspections
from qc.store.records import add_records
from qc.store.settings import change_setting, read_settings

START_US = 1_772_409_600_000_000  # Monday 2026-03-02 00:00 UTC
N_DAYS = 50
END_US = START_US + N_DAYS * DAY_US
RATES = {"lifted_edge": 0.03, "scorch": 0.02}
_CODES = {"presses": ["P1", "P2"], "fabrics": ["fleece", "rib"], "transfers": ["film"]}


def filled(
    store: Store, *, n_days: int = N_DAYS, raised: tuple[tuple[str, int, int, float], ...] = (),
    zone: str = "UTC",
) -> Shop:
    """The shop in a store. ``raised``: edges of a press lift from a day to a day by a factor."""
    change_setting(store, name="timezone", value=zone, by="test", at_us=START_US)
    rng = np.random.default_rng(11)
    looks, findings = [], []
    for day in range(n_days):
        for number in range(60):
            press = ("P1", "P2")[number % 2]
            at = START_US + day * DAY_US + 8 * HOUR_US + number * HOUR_US // 8
            lifted = prod(ratio for name, first, stop, ratio in raised
                          if name == press and first <= day < stop)
            for kind, rate in RATES.items():
                if rng.random() < rate * (lifted if kind == "lifted_edge" else 1.0):
                    findings.append({"row": len(looks), "kind": kind, "zone": None,
                                     "extent_mm": None, "n": 1})
            looks.append(_look(f"{day:03d}-{number:02d}", at, press, day) | {
                "fabric": ("fleece", "rib")[number // 2 % 2],
                "operator": ("ann", "bo", "cy")[(number // 4 + day) % 3],
                "location": ("left_chest", "full_back")[number // 3 % 2]})
    add_inspections(store, pd.DataFrame(looks), pd.DataFrame(findings), by="test", at_us=START_US,
                    source="test", new_codes=_CODES)
    return Shop(store, read_settings(store))


def add_recipe(store: Store, version: str, *, valid_from: int | None, dwell_s: float) -> None:
    """A version of the recipe of half of the work."""
    row = {"fabric": "fleece", "transfer": "film", "version": version, "valid_from": valid_from,
           "dwell_s": dwell_s}
    add_records(store, "recipes", pd.DataFrame([row]), by="lee", at_us=END_US, source=None)


def _look(piece_id: str, at: int, press: str, day: int) -> dict[str, object]:
    return {
        "piece_id": piece_id, "attempt": 1, "inspected_at": at + 60_000_000, "pressed_at": at,
        "stage": "final", "press": press, "transfer": "film", "transfer_lot": f"L{day // 7}",
        "garment_lot": f"G{day // 9}", "job": f"J{day}-{press}", "disposition": "pass",
        "pieces": 1,
    }
