"""What a mix of work would give at the rates of a stretch of time: indirect standardisation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

CELL_PIECES = 50.0
"""Pieces of the whole shop that stand in where a cell has few; a proposed starting value, no
source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PieceFaults:
    """Pieces and their faults of one kind.

    ``cell``: number of each piece's mix (fabric, transfer, location); ``had``: (pieces, looks),
    the groups of looks it had; ``n``: pieces in the row. Faults: ``at`` (piece), ``look`` at which
    first seen, ``count``.
    """

    cell: Ints
    had: Bools
    n: Floats
    at: Ints
    look: Ints
    count: Floats


def expected_faults(pieces: PieceFaults, base: Bools) -> Floats:
    """Faults expected of each piece at the rates of the pieces in ``base``.

    Notes
    -----
    A rate is a cell's faults over its pieces that had the look, drawn towards the shop's by
    `CELL_PIECES` pieces. A late look that a piece has not had yet expects nothing of it.

    Source
    ------
    Indirect standardisation: Breslow & Day (1987), Statistical Methods in Cancer Research II,
    section 2.3 (from memory).
    """
    n_cells = int(pieces.cell.max(initial=-1)) + 1
    expected = np.zeros(len(pieces.n))
    for look in range(pieces.had.shape[1]):
        had = pieces.had[:, look]
        weight = np.where(had & base, pieces.n, 0.0)
        mine = (pieces.look == look) & base[pieces.at]
        faults = np.bincount(pieces.cell[pieces.at[mine]], weights=pieces.count[mine],
                             minlength=n_cells)
        total = np.bincount(pieces.cell, weights=weight, minlength=n_cells)
        shop = faults.sum() / total.sum() if total.sum() else 0.0
        rate = (faults + CELL_PIECES * shop) / (total + CELL_PIECES)
        expected += np.where(had, pieces.n * rate[pieces.cell], 0.0)
    return expected


def observed_faults(pieces: PieceFaults) -> Floats:
    """Faults seen on each piece."""
    return np.bincount(pieces.at, weights=pieces.count, minlength=len(pieces.n)).astype(np.float64)
