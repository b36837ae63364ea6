"""A large inspections file for the benchmarks: plain, valid, the same for the same seed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

PRESSES, FABRICS, TRANSFERS = 8, 6, 5
_ZONES = ("top_left", "centre", "bottom_right")
_START = "2026-01-05T06:00:00"


def inspection_rows(n: int, rng: np.random.Generator) -> pd.DataFrame:
    """Looks at single pieces, about one in thirty with a finding, spread over ninety days."""
    minutes = np.sort(rng.integers(0, 90 * 24 * 60, n))
    pressed = pd.Timestamp(_START) + pd.to_timedelta(minutes, unit="min")
    kind = rng.choice(("lifted_edge", "scorch", "bubble"), n)
    zone = rng.choice(_ZONES, n)
    extent = rng.integers(2, 20, n).astype(str)
    finding = pd.Series(kind) + "@" + zone + ":" + extent
    bad = rng.random(n) < 1 / 30
    return pd.DataFrame({
        "piece_id": [f"L{number:07d}" for number in range(n)],
        "inspected_at": (pressed + pd.Timedelta(minutes=4)).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "pressed_at": pressed.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "press": _codes("P", rng.integers(1, PRESSES + 1, n)),
        "fabric": _codes("fabric_", rng.integers(1, FABRICS + 1, n)),
        "transfer": _codes("transfer_", rng.integers(1, TRANSFERS + 1, n)),
        "location": rng.choice(("front", "back"), n),
        "job": _codes("J", 100 + minutes // 480),
        "transfer_lot": _codes("T", 10 + minutes // 4000),
        "operator": _codes("op_", rng.integers(1, 7, n)),
        "temperature_c": np.round(rng.normal(150, 1.2, n), 1),
        "dwell_s": np.round(rng.normal(12, 0.2, n), 1),
        "pressure_kpa": np.round(rng.normal(300, 8, n), 0),
        "defects": np.where(bad, finding, ""),
        "disposition": np.where(bad, "hold", "pass"),
    })


def write_inspections(path: Path, n: int, *, seed: int) -> Path:
    """The rows as a CSV file."""
    inspection_rows(n, np.random.default_rng(seed)).to_csv(path, index=False)
    return path


def _codes(prefix: str, numbers: np.ndarray) -> pd.Series:
    return prefix + pd.Series(numbers).astype(str)
