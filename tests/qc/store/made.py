"""Looks, findings and records in stored units for the store's tests."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from qc.domain.instants import HOUR_US
from qc.store import Store
from qc.store.inspections import add_inspections
from qc.store.judging import Added

T0 = 1_767_225_600_000_000
"""2026-01-01 00:00 UTC."""
LOADED = T0 + 100 * HOUR_US
NO_FINDINGS = pd.DataFrame({"row": np.zeros(0, dtype=np.int64), "kind": [], "zone": [],
                            "extent_mm": [], "n": np.zeros(0, dtype=np.int64)})
CODES = {"presses": ["P1", "P2"], "fabrics": ["fleece", "rib"], "transfers": ["film", "foam"]}
KINDS = ("lifted_edge", "scorch", "bubble")
STAGES = ("after_peel", "final", "after_24h", "wash", "customer")


def look(piece_id: str, **fields: Any) -> dict[str, Any]:
    """One look with every default a parser would have filled."""
    row: dict[str, Any] = {
        "piece_id": piece_id, "attempt": 1, "inspected_at": T0 + 600_000_000, "pressed_at": T0,
        "stage": "final", "press": "P1", "fabric": "fleece", "transfer": "film",
        "location": "left_chest", "operator": "ann", "transfer_lot": "L1", "garment_lot": None,
        "job": "J1", "temperature_c": 160.0, "dx_mm": None, "defective": None,
        "disposition": "pass", "pieces": 1, "note": None,
    }
    return row | fields


def findings_of(*rows: tuple[Any, ...]) -> pd.DataFrame:
    """Findings from (row, kind, zone, extent_mm, n)."""
    return pd.DataFrame(rows, columns=["row", "kind", "zone", "extent_mm", "n"])


def add(store: Store, looks: list[dict[str, Any]], findings: pd.DataFrame = NO_FINDINGS,
        **more: Any) -> Added:
    """Load looks as a file would be."""
    given = {"by": "ann", "at_us": LOADED, "source": "test.csv", "new_codes": CODES} | more
    return add_inspections(store, pd.DataFrame(looks), findings, **given)


def random_looks(
    n: int, rng: np.random.Generator, *, n_pieces: int | None = None, first: int = 0
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Looks at pieces of a busy shop: repeats, late stages, blocks, blanks, repairs."""
    pieces = rng.integers(0, n_pieces or n, n) + first
    pressed = T0 + rng.integers(0, 50 * 3600, n) * 1_000_000
    size = np.where(rng.random(n) < 0.1, rng.integers(2, 30, n), 1)
    looks = pd.DataFrame({
        "piece_id": [f"p{piece:06d}" for piece in pieces],
        "attempt": np.where(rng.random(n) < 0.1, 2, 1),
        "inspected_at": pressed + rng.integers(0, 1000, n) * 1_000_000,
        "pressed_at": pressed,
        "stage": rng.choice(STAGES, n, p=[0.2, 0.5, 0.1, 0.1, 0.1]),
        "press": rng.choice(["P1", "P2"], n), "fabric": rng.choice(["fleece", "rib"], n),
        "transfer": rng.choice(["film", "foam"], n),
        "location": rng.choice(np.array(["left_chest", "full_back", None], dtype=object), n),
        "operator": rng.choice(np.array(["ann", "bo", None], dtype=object), n),
        "transfer_lot": rng.choice(["L1", "L2", "L3"], n),
        "garment_lot": rng.choice(np.array(["G1", None], dtype=object), n),
        "job": rng.choice(["J1", "J2"], n),
        "temperature_c": np.where(rng.random(n) < 0.2, np.nan, rng.normal(160, 1, n)),
        "disposition": "pass", "pieces": size,
        "defective": pd.array(np.where(size > 1, size // 3, 0), dtype="Int64"),
    })
    at = np.flatnonzero(rng.random(n) < 0.3)
    at = np.sort(np.concatenate([at, at[::3]]))
    findings = pd.DataFrame({
        "row": at, "kind": rng.choice(KINDS, len(at)),
        "zone": rng.choice(np.array(["top", "left", None], dtype=object), len(at)),
        "extent_mm": np.where(rng.random(len(at)) < 0.5, 4.0, np.nan),
        "n": np.minimum(rng.integers(1, 5, len(at)), size[at]),
    })
    return looks, findings
