"""Ranked defects: what each level of a dimension shows against what its mix would give."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

PIECE_DIMENSIONS = (
    "press", "fabric", "transfer", "location", "operator", "transfer_lot", "garment_lot", "job",
    "shift",
)
"""Dimensions that split the pieces; the denominator of a level is its own pieces."""

FINDING_DIMENSIONS = ("defect", "zone")
"""Dimensions that split the defects; the denominator of a level is all pieces."""

DIMENSIONS = ("defect", *PIECE_DIMENSIONS[:-1], "zone", "shift")
MIX = ("fabric", "transfer", "location")
"""What makes pieces hard or easy; the usual rates are of each combination of these."""

ORDERS = ("number", "ratio")


def mix_of(by: Sequence[str]) -> tuple[str, ...]:
    """What a ranking allows for: the mix without what it ranks by, or every level would be
    compared with itself."""
    return tuple(name for name in MIX if name not in by)


@dataclass(frozen=True, slots=True, kw_only=True)
class ParetoRow:
    """One level: ``level`` has a name for each dimension, None where the records say nothing.

    ``n_defects``: (piece, location, kind) pairs. ``share`` and ``cumulative`` are of all defects
    ranked, 0..1; None when there are none. ``ratio`` = defects over ``expected`` with its 95 %
    interval; None where nothing was expected. ``stands_out``: differs from its mix, after
    allowing for how many levels were compared.
    """

    level: tuple[str | None, ...]
    n_defects: int
    n_pieces: int
    rate: float | None
    share: float | None
    cumulative: float | None
    expected: float
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    p_value: float
    stands_out: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Pareto:
    """Levels by falling number of defects; ``n_pieces`` is every piece in the period.

    ``kinds``: the defect kinds ranked, empty for all. Instants are microseconds UTC; ``since_us``
    is inclusive, ``until_us`` exclusive, on the time of pressing.
    """

    by: tuple[str, ...]
    kinds: tuple[str, ...]
    since_us: int | None
    until_us: int | None
    as_of_us: int
    n_pieces: int
    n_defects: int
    rows: tuple[ParetoRow, ...]
