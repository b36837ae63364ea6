"""A small invented shop, look by look, with every case the counting rule knows."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

HOUR_US = 3_600_000_000
START_US = 1_772_323_200_000_000  # 2026-03-01 00:00 UTC


def looks_of_shop(seed: int = 1, n_pieces: int = 240) -> list[dict[str, Any]]:
    """Looks with their findings: repeat presses, later looks, blocks, blanks, two locations."""
    rng = np.random.default_rng(seed)
    looks = []
    for number in range(n_pieces):
        looks += _looks_of_piece(rng, number)
    rng.shuffle(looks)
    return looks


def _looks_of_piece(rng: np.random.Generator, number: int) -> list[dict[str, Any]]:
    pressed = START_US + int(rng.integers(0, 24 * 20)) * HOUR_US
    base = {
        "piece_id": f"B-{number:04d}", "location": [None, "chest", "back"][rng.integers(3)],
        "attempt": 1, "stage": "final", "pressed_at": pressed, "inspected_at": pressed + 60_000_000,
        "press": f"P{rng.integers(1, 5)}", "fabric": ["JERSEY", "RIB", "FLEECE"][rng.integers(3)],
        "transfer": ["FOAM", "FLOCK"][rng.integers(2)],
        "operator": [None, "ada", "bo"][rng.integers(3)],
        "transfer_lot": f"L{rng.integers(1, 4)}", "garment_lot": None,
        "job": f"J{number // 40}", "pieces": int(rng.choice([1, 1, 1, 12])), "defective": None,
    }
    looks = [base | {"findings": _findings(rng, base["pieces"], base["fabric"])}]
    if rng.random() < 0.25:
        stage = ["after_24h", "wash", "customer", "after_peel"][rng.integers(4)]
        looks.append(base | {"stage": stage, "inspected_at": pressed + 26 * HOUR_US,
                             "findings": _findings(rng, base["pieces"], base["fabric"])})
    if rng.random() < 0.15:
        looks.append(base | {"attempt": 2, "inspected_at": pressed + HOUR_US,
                             "findings": [("scorch", None, 1)]})
    for look in looks:
        if look["pieces"] > 1:
            look["defective"] = max((n for _, _, n in look["findings"]), default=0)
    return looks


def _findings(rng: np.random.Generator, pieces: int, fabric: str) -> list[tuple]:
    found = []
    for kind, rate in [("lifted_edge", 0.25 if fabric == "RIB" else 0.06), ("scorch", 0.05)]:
        if rng.random() < rate:
            n = int(rng.integers(1, pieces + 1))
            found.append((kind, ["top_left", "centre", None][rng.integers(3)], n))
            if rng.random() < 0.3 and n < pieces:
                found.append((kind, "bottom", 1))
    return found


def frames(looks: list[dict[str, Any]]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The looks and findings as frames: the position of a look is its number."""
    table = pd.DataFrame(looks).drop(columns="findings")
    table["defective"] = table["defective"].astype("Int64")
    table.index.name = "look"
    found = [
        {"look": at, "kind": kind, "zone": zone, "extent_mm": None, "n": n}
        for at, look in enumerate(looks) for kind, zone, n in look["findings"]
    ]
    return table, pd.DataFrame(found, columns=["look", "kind", "zone", "extent_mm", "n"])
