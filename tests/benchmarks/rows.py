"""A large inspections file for the benchmarks: plain, valid, the same for the same seed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

PRESSES, FABRICS, TRANSFERS = 8, 6, 5
DAYS, JOB_MINUTES = 90, 240
_ZONES = ("top_left", "centre", "bottom_right")
START = "2026-01-05T06:00:00"


def inspection_rows(n: int, rng: np.random.Generator) -> pd.DataFrame:
    """Looks at single pieces over ninety days, about one in thirty with a finding.

    A press works on one job for four hours: one fabric, transfer, place, lot and operator.
    """
    minutes = np.sort(rng.integers(0, DAYS * 24 * 60, n))
    pressed = pd.Timestamp(START) + pd.to_timedelta(minutes, unit="min")
    press = rng.integers(0, PRESSES, n)
    job = (minutes // JOB_MINUTES) * PRESSES + press
    of_job = _job_things((DAYS * 24 * 60 // JOB_MINUTES) * PRESSES, rng)
    bad = rng.random(n) < 1 / 30
    return pd.DataFrame({
        "piece_id": [f"L{number:07d}" for number in range(n)],
        "inspected_at": (pressed + pd.Timedelta(minutes=4)).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "pressed_at": pressed.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "press": _codes("P", press + 1),
        **{name: column.to_numpy()[job] for name, column in of_job.items()},
        "job": _codes("J", 100 + job),
        "transfer_lot": _codes("T", 10 + minutes // 4000),
        "garment_lot": _codes("G", 10 + minutes // 2500),
        "temperature_c": np.round(rng.normal(150, 1.2, n), 1),
        "dwell_s": np.round(rng.normal(12, 0.2, n), 1),
        "pressure_kpa": np.round(rng.normal(300, 8, n), 0),
        "defects": np.where(bad, _findings(n, rng), ""),
        "disposition": np.where(bad, "hold", "pass"),
    })


def _job_things(n: int, rng: np.random.Generator) -> pd.DataFrame:
    return pd.DataFrame({
        "fabric": _codes("fabric_", rng.integers(1, FABRICS + 1, n)),
        "transfer": _codes("transfer_", rng.integers(1, TRANSFERS + 1, n)),
        "location": rng.choice(("front", "back"), n),
        "operator": _codes("op_", rng.integers(1, 7, n)),
    })


def _findings(n: int, rng: np.random.Generator) -> pd.Series:
    kind = rng.choice(("lifted_edge", "scorch", "bubble"), n)
    zone = rng.choice(_ZONES, n)
    return pd.Series(kind) + "@" + zone + ":" + rng.integers(2, 20, n).astype(str)


def write_inspections(path: Path, n: int, *, seed: int) -> Path:
    """The rows as a CSV file."""
    inspection_rows(n, np.random.default_rng(seed)).to_csv(path, index=False)
    return path


def _codes(prefix: str, numbers: np.ndarray) -> pd.Series:
    return prefix + pd.Series(numbers).astype(str)
