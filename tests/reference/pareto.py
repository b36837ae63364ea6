"""Ranked defects the slow way: plain loops over looks as dictionaries, counting included."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from tests.reference.comparisons import discoveries, poisson_ends, two_sided

Look = dict[str, Any]
GROUP = {"after_peel": "prompt", "final": "prompt", "after_24h": "after_24h", "wash": "wash"}
MIX = ("fabric", "transfer", "location")


def _pieces(looks: list[Look]) -> list[dict[str, Any]]:
    """Each (piece_id, location) once, with the groups of looks it had and its faults.

    A fault is (kind, zone) -> (group of the look that saw it first, most pieces seen with it).
    """
    pieces: dict[tuple[str, str | None], dict[str, Any]] = {}
    for look in sorted(looks, key=lambda look: look["inspected_at"]):
        if look["attempt"] != 1 or look["stage"] not in GROUP:
            continue
        key = (look["piece_id"], look["location"])
        piece = pieces.setdefault(key, {**look, "groups": set(), "faults": {}})
        group = GROUP[look["stage"]]
        piece["groups"].add(group)
        for kind, zone, n in look["findings"]:
            first, most = piece["faults"].get((kind, zone), (group, 0))
            piece["faults"][kind, zone] = (first, max(most, min(n, look["pieces"])))
    return list(pieces.values())


def _pairs(piece: dict[str, Any], by_zone: bool) -> dict[tuple[str, str | None], tuple[str, int]]:
    """(kind, zone) -> (group, n) of a piece; zones united unless ranked by zone."""
    if by_zone:
        return piece["faults"]
    united: dict[tuple[str, str | None], tuple[str, int]] = {}
    for (kind, _), (group, n) in piece["faults"].items():
        first, so_far = united.get((kind, None), (group, 0))
        united[kind, None] = (first, min(piece["pieces"], so_far + n))
    return united


def _level(by: tuple[str, ...], piece: dict[str, Any], kind: str, zone: str | None) -> tuple:
    special = {"defect": kind, "zone": zone}
    return tuple(special[name] if name in special else piece[name] for name in by)


def pareto(
    looks: list[Look], by: tuple[str, ...], *, kinds: tuple[str, ...] = (),
    since: int | None = None, until: int | None = None,
) -> list[dict[str, Any]]:
    """Rows as the command prints them, from looks with their findings."""
    pieces = _pieces(looks)
    for piece in pieces:
        piece["pairs"] = {
            pair: found for pair, found in _pairs(piece, "zone" in by).items()
            if not kinds or pair[0] in kinds
        }
        piece["cell"] = tuple(piece[name] for name in MIX if name not in by)
    seen = {pair for piece in pieces for pair in piece["pairs"]}
    count: dict[tuple, int] = defaultdict(int)
    exposed: dict[tuple, int] = defaultdict(int)
    for piece in pieces:
        for group in piece["groups"]:
            exposed[piece["cell"], group] += piece["pieces"]
        for pair, (group, n) in piece["pairs"].items():
            count[pair, piece["cell"], group] += n

    observed: dict[tuple, int] = defaultdict(int)
    expected: dict[tuple, float] = defaultdict(float)
    at_risk: dict[tuple, int] = defaultdict(int)
    inside = [
        piece for piece in pieces
        if (since is None or piece["pressed_at"] >= since)
        and (until is None or piece["pressed_at"] < until)
    ]
    only_pieces = not {"defect", "zone"} & set(by)
    for piece in inside:
        for kind, zone in seen or {("", None)}:
            level = _level(by, piece, kind, zone)
            for group in piece["groups"]:
                rate = count[(kind, zone), piece["cell"], group] / exposed[piece["cell"], group]
                expected[level] += piece["pieces"] * rate
        for (kind, zone), (_, n) in piece["pairs"].items():
            observed[_level(by, piece, kind, zone)] += n
    for level in expected:
        for piece in inside:
            matches = all(
                piece[name] == value for name, value in zip(by, level, strict=True)
                if name not in ("defect", "zone")
            )
            at_risk[level] += piece["pieces"] if matches else 0
    levels = [k for k in expected if only_pieces or expected[k] > 0 or observed[k] > 0]
    return _rows(levels, observed, expected, at_risk)


def _rows(levels: list[tuple], observed: dict, expected: dict, at_risk: dict) -> list[dict]:
    out = discoveries([two_sided(observed[k], expected[k]) for k in levels], 0.05)
    total = sum(observed[level] for level in levels)
    rows = []
    for level, stands_out in zip(levels, out, strict=True):
        low, high = poisson_ends(observed[level], 0.025)
        mean = expected[level]
        rows.append({
            "level": list(level), "defects": observed[level], "pieces": at_risk[level],
            "rate": observed[level] / at_risk[level],
            "share": observed[level] / total if total else None, "expected": mean,
            "ratio": observed[level] / mean if mean else None,
            "ratio_low": low / mean if mean else None,
            "ratio_high": high / mean if mean else None, "stands_out": stands_out,
        })
    rows.sort(key=lambda row: (-row["defects"], [(n is None, n or "") for n in row["level"]]))
    so_far = 0
    for row in rows:
        so_far += row["defects"]
        row["cumulative"] = so_far / total if total else None
    return rows
