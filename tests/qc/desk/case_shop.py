"""The small shop after its fault: a piece pressed again, shipped jobs, and weeks that follow."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.domain.instants import DAY_US, HOUR_US
from qc.store.inspections import add_inspections
from qc.store.records import add_records
from tests.dashboard.small_shop import END_US, FABRICS, PRESSES, START_US, TRANSFERS, build_shop

DONE_US = END_US + HOUR_US
"""When the platen of press Cedar was put right."""
SHIPPED_US = START_US + 38 * DAY_US
N_DAYS_AFTER = 20
LATER_US = END_US + (N_DAYS_AFTER + 1) * DAY_US


def case_shop(folder: Path, **more: object) -> Shop:
    """The small shop; jobs of the days before day 34 shipped on day 38."""
    shop = build_shop(folder, **more)  # type: ignore[arg-type]
    jobs = [{"job": f"J{day:03d}{press[0]}", "ordered": 30,
             "shipped_at": SHIPPED_US if day < 34 else None}
            for day in range(40) for press in PRESSES]
    frame = pd.DataFrame(jobs).astype({"shipped_at": "Int64"})
    add_records(shop.store, "jobs", frame, by="test", at_us=END_US, source=None)
    return shop


def go_on(shop: Shop, *, bad: bool, days: int = N_DAYS_AFTER, seed: int = 9) -> None:
    """Weeks that follow, at the usual rates or with press Cedar as bad as before."""
    rng = np.random.default_rng(seed)
    looks, findings = [], []
    for day in range(1, days + 1):
        for press in PRESSES:
            fabric = str(rng.choice(list(FABRICS)))
            rate = FABRICS[fabric] * (6 if bad and press == "Cedar" else 1)
            for _ in range(25):
                at = END_US + day * DAY_US + int(rng.integers(0, 8 * HOUR_US)) - 8 * HOUR_US
                if rng.random() < rate:
                    findings.append({"row": len(looks), "kind": "lifted_edge", "n": 1,
                                     "zone": "bottom_right", "extent_mm": None})
                looks.append({
                    "piece_id": f"N{len(looks):05d}", "attempt": 1, "stage": "final",
                    "inspected_at": at + 300_000_000, "pressed_at": at, "press": press,
                    "fabric": fabric, "transfer": str(rng.choice(TRANSFERS)), "pieces": 1,
                    "location": "chest", "job": f"N{day:03d}{press[0]}", "transfer_lot": "T9",
                    "garment_lot": "G9", "operator": "Ada", "disposition": "pass",
                })
    add_inspections(shop.store, pd.DataFrame(looks), pd.DataFrame(findings), by="test",
                    at_us=LATER_US, source="later")
