"""A small invented shop in a real store: four presses, forty days, one press that goes wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from qc.desk.shop import Shop, open_shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.store.inspections import add_inspections
from qc.store.records import add_records
from qc.store.settings import change_setting

START_US = 1_772_409_600_000_000  # Monday 2026-03-02 00:00 UTC
N_DAYS = 40
END_US = START_US + N_DAYS * DAY_US - 8 * HOUR_US  # 16:00 on the last day
BAD_FROM_DAY = 26
PRESSES = ("Anvil", "Brook", "Cedar", "Dune")
FABRICS = {"fleece-heavy": 0.035, "jersey-soft": 0.012, "rib-fine": 0.022}
TRANSFERS = ("film-matt", "foam-raised")


def build_shop(
    folder: Path, *, seed: int = 4, zone: str = "Europe/Lisbon", without: tuple[str, ...] = (),
    surveyed: bool = True,
) -> Shop:
    """The shop in a new store in ``folder``; press Cedar's edges lift from day 26 on.

    ``without``: columns this shop never records; not ``surveyed``: nobody probes its platens, so
    that the edges alone tell.
    """
    shop = open_shop(str(folder / "shop.db"), create=True)
    for name, value in (("timezone", zone), ("shop_name", "Lantern Yard Prints")):
        change_setting(shop.store, name=name, value=value, by="test", at_us=START_US)
    rng = np.random.default_rng(seed)
    add_records(shop.store, "presses", _presses(), by="test", at_us=START_US, source=None)
    _add_pieces(shop, rng, without)
    if surveyed:
        _add_surveys(shop, rng)
    shop.store.close()
    return open_shop(str(folder / "shop.db"))


def _presses() -> pd.DataFrame:
    return pd.DataFrame({
        "press": PRESSES, "name": [f"{p} swing press" for p in PRESSES],
        "heated_lower": "no", "temperature_tolerance_c": 5.0, "uniformity_tolerance_c": 8.0,
        "check_every_days": 30.0,
    })


def _add_pieces(shop: Shop, rng: np.random.Generator, without: tuple[str, ...]) -> None:
    looks, findings = [], []
    for day in range(N_DAYS):
        if day % 7 == 6:
            continue
        for press in PRESSES:
            fabric = rng.choice(list(FABRICS))
            job = f"J{day:03d}{press[0]}"
            for _ in range(int(rng.integers(20, 35))):
                at = START_US + day * DAY_US + 7 * HOUR_US + int(rng.integers(0, 9 * HOUR_US))
                if at < END_US:
                    _add_piece(looks, findings, rng, at, day, press, str(fabric), job)
    add_inspections(
        shop.store, pd.DataFrame(looks).drop(columns=list(without)), pd.DataFrame(findings),
        by="test", at_us=END_US, source="test",
        new_codes={"fabrics": list(FABRICS), "transfers": list(TRANSFERS)},
    )


def _add_piece(
    looks: list[dict], findings: list[dict], rng: np.random.Generator, at: int, day: int,
    press: str, fabric: str, job: str,
) -> None:
    rate = FABRICS[fabric] * (6 if press == "Cedar" and day >= BAD_FROM_DAY else 1)
    found = [("lifted_edge", rate, "bottom_right"), ("scorch", 0.012, None)]
    seen = [(kind, zone) for kind, p, zone in found if rng.random() < p]
    for kind, zone in seen:
        findings.append({"row": len(looks), "kind": kind, "zone": zone, "extent_mm": None, "n": 1})
    looks.append({
        "piece_id": f"S{len(looks):05d}", "attempt": 1, "inspected_at": at + 300_000_000,
        "pressed_at": at, "stage": "final", "press": press, "fabric": fabric,
        "transfer": str(rng.choice(TRANSFERS)), "location": str(rng.choice(["chest", "back"])),
        "job": job, "transfer_lot": f"T{day // 10}", "garment_lot": f"G{day // 14}{press[0]}",
        "operator": str(rng.choice(["Ada", "Bo"])),
        "disposition": "hold" if seen else "pass", "pieces": 1,
    })


def _add_surveys(shop: Shop, rng: np.random.Generator) -> None:
    rows = []
    for press in PRESSES:
        for week in range(6):
            drift = -1.1 * week if press == "Cedar" else 0.1 * week
            for row in range(1, 4):
                for col in range(1, 4):
                    corner = -2.5 if press == "Cedar" and (row, col) == (3, 3) else 0.0
                    rows.append({
                        "survey_id": f"{press}-{week}", "platen": "upper", "press": press,
                        "measured_at": START_US + week * 7 * DAY_US + 6 * HOUR_US,
                        "setpoint_c": 150.0, "row": row, "col": col, "instrument": "probe-1",
                        "reading_c": 150 + drift + corner + float(rng.normal(0, 0.3)),
                        "state": "routine",
                    })
    instruments = pd.DataFrame({"instrument": ["probe-1"], "uncertainty_c": [1.2], "k": [2.0]})
    add_records(shop.store, "instruments", instruments, by="test", at_us=START_US, source=None)
    add_records(shop.store, "platen_readings", pd.DataFrame(rows), by="test", at_us=END_US,
                source=None)
    checks = pd.DataFrame({
        "measured_at": [END_US - DAY_US, END_US - DAY_US + 60_000_000], "press": ["Cedar", "Dune"],
        "quantity": "dwell_s", "set_value": 15.0, "measured_value": [12.4, 15.0],
        "instrument": "watch-1", "state": "routine",
    })
    add_records(shop.store, "machine_checks", checks, by="test", at_us=END_US, source=None)
