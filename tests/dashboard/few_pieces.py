"""A shop on its first morning: five pieces, one of them scorched."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from qc.desk.shop import open_shop
from qc.domain.instants import SECOND_US
from qc.store.inspections import add_inspections
from tests.dashboard.small_shop import END_US

FIRST_US = END_US - 3600 * SECOND_US


def build_few(folder: Path) -> str:
    """Where the store is."""
    place = str(folder / "few.db")
    shop = open_shop(place, create=True)
    looks = pd.DataFrame([
        {"piece_id": f"F{i}", "attempt": 1, "inspected_at": FIRST_US + 60 * i * SECOND_US,
         "pressed_at": FIRST_US + (60 * i - 30) * SECOND_US, "stage": "final",
         "press": "P1" if i < 3 else "P2", "fabric": "jersey", "transfer": "film",
         "location": "chest", "disposition": "pass", "pieces": 1} for i in range(5)])
    found = pd.DataFrame([
        {"row": 1, "kind": "scorch", "zone": "centre", "extent_mm": None, "n": 1}])
    add_inspections(shop.store, looks, found, by="test", at_us=END_US, source="test", new_codes={
        "presses": ["P1", "P2"], "fabrics": ["jersey"], "transfers": ["film"]})
    shop.store.close()
    return place
