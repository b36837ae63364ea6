"""Looks over many slots, more than the buffer holds, drawn at random."""

from __future__ import annotations

import numpy as np
import pandas as pd

from qc.domain.counting import count_once
from qc.monitor.evidence import SLOT_US, Evidence, gather
from tests.qc.monitor.hand_shop import START_US

KINDS = ("bubble", "lifted_edge", "scorch")
PLACES = (None, "top_left", "centre", "bottom_right")


def long_shop(seed: int, *, n_slots: int = 450, per_slot: int = 8) -> Evidence:
    """Evidence of so many slots, with late looks, blocks, blanks and zones."""
    rng = np.random.default_rng(seed)
    n = n_slots * per_slot
    pressed = START_US + np.sort(rng.integers(0, n_slots * SLOT_US, n))
    looks = pd.DataFrame({
        "piece_id": [f"L{i}" for i in range(n)], "attempt": 1, "stage": "final",
        "inspected_at": pressed + rng.integers(1, SLOT_US, n), "pressed_at": pressed,
        "press": rng.choice(["P1", "P2", "P3"], n), "station": rng.choice(["A", "B"], n),
        "fabric": rng.choice(["rib", "fleece"], n), "transfer": rng.choice(["foam", "cut"], n),
        "location": rng.choice(np.array(["chest", None], dtype=object), n), "size": None,
        "job": [f"J{i // 25}" for i in range(n)], "garment_lot": None,
        "transfer_lot": [f"T{i // 400}" for i in range(n)],
        "operator": rng.choice(np.array(["ada", "bo", None], dtype=object), n),
        "disposition": "pass", "pieces": rng.choice([1, 1, 1, 20], n), "defective": 0,
    })
    again = looks.sample(frac=0.1, random_state=seed)
    late = again.assign(stage="after_24h", inspected_at=again["inspected_at"] + 7 * SLOT_US)
    looks = pd.concat([looks, late], ignore_index=True).rename_axis("look")
    faulty = np.flatnonzero(rng.random(len(looks)) < 0.15)
    findings = pd.DataFrame({
        "look": faulty, "kind": rng.choice(KINDS, len(faulty)),
        "zone": rng.choice(np.array(PLACES, dtype=object), len(faulty)), "n": 1,
    })
    return gather(count_once(looks, findings))
