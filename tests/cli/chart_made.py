"""Files to chart, and the answer of `qc chart --json` held against its contract."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.cli.running import Outcome

CHART = ("kind", "source", "sigma", "charts")
MORE = ("baseline", "cautions", "change")
POINT = ("at", "label", "value", "lower", "upper", "signals")


def csv_file(folder: Path, columns: dict[str, list[Any]], *, name: str = "data.csv",
             separator: str = ",") -> Path:
    """A CSV file with these columns."""
    lines = [separator.join(columns)]
    lines += [separator.join(map(str, row)) for row in zip(*columns.values(), strict=True)]
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def answered(outcome: Outcome) -> dict[str, Any]:
    """The answer, with the keys of the contract, then our own."""
    assert outcome.code == 0, outcome.err
    answer = outcome.json
    assert tuple(answer) == CHART + MORE
    for chart in answer["charts"]:
        assert tuple(chart) == ("name", "centre", "points")
        varying = chart["centre"] is None
        keys = (*POINT[:3], "centre", *POINT[3:]) if varying else POINT
        assert all(tuple(point) == keys for point in chart["points"])
    return answer


def column(chart: dict[str, Any], name: str) -> list[Any]:
    """One figure of every point."""
    return [point[name] for point in chart["points"]]


def signalling(chart: dict[str, Any], name: str = "outside_limits") -> list[int]:
    """Positions of the points with this signal."""
    return [point["at"] for point in chart["points"] if name in point["signals"]]
