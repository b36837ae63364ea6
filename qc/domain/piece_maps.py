"""What finished pieces say about a platen: where on it defects are too many for chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.domain.kinds import ZONES

SIDE = 3
"""Cells of a map along each side: row 1, column 1 at the operator's far left, as in a survey."""

HEAT_KINDS = ("lifted_edge", "incomplete_cure")
"""Defects that a cold or light spot of a platen raises where it lies (common practice, no
source)."""

Place = tuple[int, int]
"""(row, column), from 1."""


def place_of(zone: str) -> Place:
    """Where a zone of a print lies that fills the platen."""
    row, col = divmod(ZONES.index(zone), SIDE)
    return row + 1, col + 1


def zone_at(place: Place) -> str:
    """The zone at a place."""
    return ZONES[(place[0] - 1) * SIDE + place[1] - 1]


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceSpot:
    """A place of a platen where defects are too many for chance.

    ``seen`` defects there, ``expected`` of the same mix of work at the usual rates; ``ratio`` of
    the two with its 95 % interval, with what the usual rests on counted. ``chance``: of so many
    anywhere in the shop by luck, all places, presses and periods looked at counted. ``n_jobs``:
    jobs they come from. ``stations``: where it shows: of one station alone, of all (then it is
    what they share), or
    empty where that cannot be told.
    """

    place: Place
    seen: float
    expected: float
    ratio: float
    low: float
    high: float
    chance: float
    n_jobs: int
    stations: tuple[str, ...] = ()
    n_stations: int = 0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceMap:
    """Defects of one press folded over its platen, pressed from ``since_us`` up to ``until_us``.

    ``seen``, ``expected`` : (3, 3), defects with a zone and those the same mix of work gives at the
    other presses; read-only. ``n_pieces`` looked at on the day; ``n_unplaced`` defects whose zone
    nobody wrote down. ``spots``: what stands out, surest first. ``why_not``: why nothing can be
    said, in words.
    """

    press: str
    since_us: int
    until_us: int
    seen: npt.NDArray[np.float64]
    expected: npt.NDArray[np.float64]
    n_pieces: int
    n_unplaced: int
    spots: tuple[PieceSpot, ...] = ()
    why_not: str = ""
