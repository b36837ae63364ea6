"""Published check values: each file names its source and the status of its numbers."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

_FOLDER = Path(__file__).parent


def case(name: str) -> dict[str, Any]:
    """One published case by the name of its file."""
    return json.loads((_FOLDER / f"{name}.json").read_text(encoding="utf-8"))


def table(name: str) -> list[dict[str, str]]:
    """Rows of a published table; lines that begin with # are its header."""
    lines = (_FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
