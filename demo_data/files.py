"""A simulated shop as files: one plain CSV for each kind of record, and the truth beside them."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from zoneinfo import ZoneInfo

from demo_data.shop import SimulatedShop
from demo_data.truth import Planted
from qc.domain.instants import iso

LISTS = ("presses", "fabrics", "transfers", "placements", "instruments", "recipes", "jobs")
"""Kinds known before the first piece is pressed."""
WRITTEN_UP = frozenset({"jobs"})
"""Lists that are written up as the work goes on: they say what has left the house."""

RECORDS = ("platen_readings", "machine_checks", "pull_checks", "inspections")


def write_files(shop: SimulatedShop, folder: Path) -> dict[str, Path]:
    """Write one CSV for each kind of record and truth.json; where each kind went."""
    folder.mkdir(parents=True, exist_ok=True)
    written = {}
    for kind in (*LISTS, *RECORDS):
        written[kind] = folder / f"{kind}.csv"
        shop.frames[kind].to_csv(written[kind], index=False, lineterminator="\n")
    write_truth(shop, folder / "truth.json")
    return written


def write_truth(shop: SimulatedShop, path: Path) -> None:
    """What is planted, as JSON with times in the shop's zone."""
    zone = ZoneInfo(shop.zone)
    truth = [_planted_json(planted, zone) for planted in shop.truth]
    path.write_text(json.dumps(truth, indent=2) + "\n", encoding="utf-8")


def _planted_json(planted: Planted, zone: ZoneInfo) -> dict[str, object]:
    said = asdict(planted)
    start, end = said.pop("start_us"), said.pop("end_us")
    if not planted.within:
        del said["within"]
    return said | {"start": iso(start, zone), "end": None if end is None else iso(end, zone)}
