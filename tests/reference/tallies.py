"""The counting rule told plainly, one record at a time, for small data: what tallies must hold."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

HOUR = 3_600_000_000
ORDER = ("prompt", "after_24h", "wash")
GROUP = {"after_peel": "prompt", "final": "prompt", "after_24h": "after_24h", "wash": "wash"}
FACTORS = ("operator", "transfer_lot", "garment_lot", "job")

Counts = dict[tuple[Any, ...], int]


class Piece:
    """All that is known of one piece at one place on the garment."""

    def __init__(self, looks: list[dict[str, Any]]) -> None:
        looks = sorted(looks, key=lambda one: one["inspected_at"])
        self.size = max(one["pieces"] for one in looks)
        self.fields = {name: next((one[name] for one in looks if one[name] is not None), None)
                       for name in ("press", "fabric", "transfer", "location", *FACTORS)}
        self.hour = looks[0]["pressed_at"] // HOUR * HOUR
        self.groups = [group for group in ORDER if any(GROUP[one["stage"]] == group
                                                       for one in looks)]
        if "prompt" not in self.groups:
            self.groups.append("late")
        self.faults: dict[tuple[str, Any], tuple[str, int]] = {}
        for one in looks:
            self._see(one)
        self.kinds = self._kinds()
        said = [one["defective"] or 0 for one in looks] + [n for _, n in self.kinds.values()]
        self.n_defective = min(max(said), self.size)

    def _see(self, one: dict[str, Any]) -> None:
        here: Counts = defaultdict(int)
        for kind, zone, n in one["findings"]:
            here[kind, zone] += min(n, one["pieces"])
        for key, n in here.items():
            first, largest = self.faults.get(key, (GROUP[one["stage"]], 0))
            self.faults[key] = (first, max(largest, n))

    def _kinds(self) -> dict[str, tuple[str, int]]:
        kinds: dict[str, tuple[str, int]] = {}
        for (kind, _), (group, n) in self.faults.items():
            first, total = kinds.get(kind, (group, 0))
            kinds[kind] = (first, total + n)
        return {kind: (group, min(n, self.size)) for kind, (group, n) in kinds.items()}


def pieces_of(looks: Iterable[dict[str, Any]]) -> list[Piece]:
    """Pieces of the first-attempt looks of the shop itself."""
    by_piece: dict[tuple[Any, Any], list[dict[str, Any]]] = defaultdict(list)
    for one in looks:
        if one["attempt"] == 1 and one["stage"] in GROUP:
            by_piece[one["piece_id"], one["location"]].append(one)
    return [Piece(group) for group in by_piece.values()]


def piece_tally(pieces: list[Piece]) -> tuple[Counts, Counts]:
    """Pieces and defective pieces by hour, press, fabric, transfer, location and look."""
    n: Counts = defaultdict(int)
    bad: Counts = defaultdict(int)
    for piece in pieces:
        for group in piece.groups:
            n[_place(piece, group)] += piece.size
        bad[_place(piece, piece.groups[0])] += piece.n_defective
    return dict(n), {key: count for key, count in bad.items() if count}


def defect_tally(pieces: list[Piece]) -> Counts:
    """Pieces with a defect of each kind, by the same and kind."""
    n: Counts = defaultdict(int)
    for piece in pieces:
        for kind, (group, count) in piece.kinds.items():
            n[(*_place(piece, group), kind)] += count
    return dict(n)


def factor_tally(pieces: list[Piece], factor: str) -> Counts:
    """Pieces, and pieces with a kind, by hour, level, fabric, transfer, location, look, kind."""
    n: Counts = defaultdict(int)
    for piece in pieces:
        cell = tuple(piece.fields[name] for name in ("fabric", "transfer", "location"))
        if factor == "zone":
            for (kind, zone), (group, count) in piece.faults.items():
                n[(piece.hour, zone, *cell, group, kind)] += count
            continue
        level = piece.fields[factor]
        for group in piece.groups:
            n[(piece.hour, level, *cell, group, None)] += piece.size
        for kind, (group, count) in piece.kinds.items():
            n[(piece.hour, level, *cell, group, kind)] += count
    return dict(n)


def _place(piece: Piece, group: str) -> tuple[Any, ...]:
    fields = (piece.fields[name] for name in ("press", "fabric", "transfer", "location"))
    return (piece.hour, *fields, group)
