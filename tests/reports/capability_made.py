"""Measured values in made files, judged, for their pictures."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from qc.desk.capability import (
    CapabilityRequest,
    FileCapability,
    FilePlacement,
    PlacementRequest,
    capability_of_file,
    placement_of_file,
)

DWELL = np.random.default_rng(7).normal(15.3, 0.4, 120).round(1)


def one(folder: Path, x: np.ndarray, name: str = "dwell_s", **asked: Any) -> FileCapability:
    """Judged as from a file."""
    path = folder / "log.csv"
    np.savetxt(path, x, header=name, comments="", fmt="%.17g")
    return capability_of_file(str(path), CapabilityRequest(value=name, **asked))


def two(folder: Path, x: np.ndarray, y: np.ndarray,
        names: tuple[str, str] = ("dx_mm", "dy_mm"), **asked: Any) -> FilePlacement:
    """Judged together as from a file."""
    path = folder / "log.csv"
    np.savetxt(path, np.column_stack((x, y)), header=",".join(names), comments="", fmt="%.17g",
               delimiter=",")
    return placement_of_file(str(path), PlacementRequest(values=names, **asked))
