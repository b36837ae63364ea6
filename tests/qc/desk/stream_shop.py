"""A small shop with everything a stream can be of, in a real store: pieces with where their print
sits and what was set, recipes, surveys of platens, checks of timers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from qc.desk.shop import Shop, open_shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.store.inspections import add_inspections
from qc.store.records import add_records
from qc.store.settings import change_setting

START_US = 1_772_409_600_000_000  # Monday 2026-03-02 00:00 UTC; the clocks change on 29 March
N_DAYS = 42
END_US = START_US + N_DAYS * DAY_US
RATES = {("rib", "film"): 0.12, ("jersey", "film"): 0.02, ("jersey", "foam"): 0.05}
RECIPES = {("rib", "film"): (155.0, 12.0), ("jersey", "film"): (150.0, 10.0)}
"""Temperature and dwell; jersey with foam has none."""
JIG_MOVED_DAY = 30


def build(folder: Path, *, seed: int = 11) -> tuple[Shop, pd.DataFrame, pd.DataFrame]:
    """The shop, and the looks and findings it was made from, for counting them a second way."""
    shop = open_shop(str(folder / "shop.db"), create=True)
    change_setting(shop.store, name="timezone", value="Europe/Lisbon", by="test", at_us=START_US)
    rng = np.random.default_rng(seed)
    looks, findings = _pieces(rng)
    add_inspections(
        shop.store, looks, findings, by="test", at_us=END_US, source="test",
        new_codes={"presses": ["P1", "P2"], "fabrics": ["rib", "jersey"],
                   "transfers": ["film", "foam"]})
    _press_records(shop, rng)
    shop.store.close()
    return open_shop(str(folder / "shop.db")), looks, findings


def _pieces(rng: np.random.Generator) -> tuple[pd.DataFrame, pd.DataFrame]:
    looks, findings = [], []
    for day in range(N_DAYS):
        if day % 7 == 6:
            continue
        for press in ("P1", "P2"):
            # one press runs the hard fabric every third day: its mix changes
            pair = ("rib", "film") if day % 3 == 0 and press == "P1" else (
                ("jersey", "film"), ("jersey", "foam"))[int(rng.integers(0, 2))]
            job = f"J{day:02d}{press}"
            for k in range(int(rng.integers(40, 60))):
                at = START_US + day * DAY_US + 6 * HOUR_US + k * 11 * 60_000_000
                looks.append(_look(rng, len(looks), at, press, pair, job, day))
                _find(rng, findings, len(looks) - 1, RATES[pair])
    return pd.DataFrame(looks), pd.DataFrame(findings)


def _look(
    rng: np.random.Generator, i: int, at: int, press: str, pair: tuple[str, str], job: str,
    day: int,
) -> dict:
    target = RECIPES.get(pair, (150.0, 10.0))
    moved = 2.5 if day >= JIG_MOVED_DAY else 0.0
    placed = i % 6 == 0
    return {
        "piece_id": f"S{i:05d}", "attempt": 1, "inspected_at": at + 120_000_000, "pressed_at": at,
        "stage": "final", "press": press, "station": "AB"[i // 2 % 2],
        "fabric": pair[0], "transfer": pair[1],
        "location": ["chest", "back"][i % 2], "job": job, "operator": ["Ada", "Bo"][day % 2],
        "transfer_lot": f"T{day // 10}", "garment_lot": f"G{day // 14}", "pieces": 1,
        "temperature_c": target[0] + round(float(rng.normal(0, 1)), 1),
        "dwell_s": target[1] + round(float(rng.normal(0.2, 0.3)), 1),
        "dx_mm": float(rng.normal(moved, 1)) if placed else None,
        "dy_mm": float(rng.normal(0, 1)) if placed else None,
        "rotation_deg": float(rng.normal(0, 0.5)) if placed else None, "disposition": "pass",
    }


def _find(rng: np.random.Generator, findings: list[dict], row: int, rate: float) -> None:
    zones = ("top_left", "bottom", "centre")
    for kind, chance in (("lifted_edge", rate), ("scorch", 0.006)):
        if rng.random() < chance:
            findings.append({"row": row, "kind": kind, "zone": zones[int(rng.integers(0, 3))],
                             "extent_mm": None, "n": 1})


def _press_records(shop: Shop, rng: np.random.Generator) -> None:
    recipes = [{"fabric": fabric, "transfer": transfer, "version": "1", "temperature_c": heat,
                "dwell_s": dwell} for (fabric, transfer), (heat, dwell) in RECIPES.items()]
    add_records(shop.store, "recipes", pd.DataFrame(recipes), by="test", at_us=START_US,
                source=None)
    readings, checks = [], []
    for week in range(12):
        at = START_US - 6 * 7 * DAY_US + week * 7 * DAY_US
        readings += [
            {"survey_id": f"s{week}", "platen": "upper", "press": "P1", "measured_at": at,
             "setpoint_c": 150.0, "row": row, "col": col, "state": "routine",
             "reading_c": 150 + 0.1 * row + float(rng.normal(0, 0.5))}
            for row in (1, 2, 3) for col in (1, 2, 3)]
        checks += [{"measured_at": at + minute * 60_000_000, "press": "P1", "quantity": "dwell_s",
                    "set_value": 12.0, "measured_value": 12.0 + float(rng.normal(0, 0.2)),
                    "state": "routine"} for minute in (0, 3)]
    for kind, rows in (("platen_readings", readings), ("machine_checks", checks)):
        add_records(shop.store, kind, pd.DataFrame(rows), by="test", at_us=END_US, source=None)
