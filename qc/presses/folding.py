"""Where the zones of a print lie on the platen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.domain.piece_maps import SIDE

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintPlace:
    """A print on the platen, mm: its size, and its centre from the platen's, to the operator's
    right and toward the operator."""

    width: float
    height: float
    right: float = 0.0
    near: float = 0.0


def folded_zones(print_: PrintPlace | None, platen: tuple[float, float] | None) -> Floats:
    """The share of each zone of a print that lies over each cell of its platen, (9, 9).

    ``platen`` : width and height, mm. Zones and cells are numbered row by row from the far left.
    Where the print or the platen is not known the print is taken to fill the platen: each zone lies
    over the cell of its own name. What lies beyond the platen's edge counts at the edge.

    Raises
    ------
    ValueError
        A width or a height is not above 0.
    """
    if print_ is None or platen is None:
        return np.eye(SIDE * SIDE)
    across = _overlap(print_.width, print_.right, platen[0])
    deep = _overlap(print_.height, print_.near, platen[1])
    return np.asarray(np.kron(deep, across), dtype=np.float64)


def _overlap(length: float, centre: float, whole: float) -> Floats:
    """Share of each third of the print over each third of the platen, along one direction."""
    if not (length > 0 and whole > 0):
        raise ValueError(f"a print of {length:g} mm on a platen of {whole:g} mm; both must be "
                         "above 0")
    parts = np.linspace(-0.5, 0.5, SIDE + 1) * length + centre
    cells = np.linspace(-0.5, 0.5, SIDE + 1) * whole
    cells[0], cells[-1] = -np.inf, np.inf
    low = np.maximum(parts[:-1, None], cells[None, :-1])
    high = np.minimum(parts[1:, None], cells[None, 1:])
    return np.maximum(high - low, 0.0) * SIDE / length
