"""Pieces as a list: what is said of each, with its defects as text."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.counting import CountedPieces

PIECE_COLUMNS = (
    "piece_id", "location", "press", "operator", "fabric", "transfer", "transfer_lot",
    "garment_lot", "job", "pressed_at", "disposition", "n",
)
LOOK_COLUMNS = ("piece_id", "attempt", "stage", "inspected_at", "pressed_at", "press", "operator",
                "fabric", "transfer", "location", "transfer_lot", "garment_lot", "job",
                "disposition", "pieces", "defective")
"""What is read of looks whose pieces are to be counted and listed."""


def listed_pieces(counted: CountedPieces, at: npt.NDArray[np.int64]) -> pd.DataFrame:
    """The pieces at positions ``at``, one row each: `PIECE_COLUMNS` and ``defects`` as text."""
    pieces = counted.pieces.loc[at, list(PIECE_COLUMNS)].reset_index(drop=True)
    faults = counted.faults
    mine = faults[faults["at"].isin(at)]
    zone = mine["zone"].astype(object)
    text = mine["kind"].astype(str) + ("@" + zone.where(zone.notna(), "").astype(str)).where(
        zone.notna(), ""
    )
    joined = text.groupby(mine["at"].to_numpy()).agg(";".join)
    pieces["defects"] = joined.reindex(at).fillna("").to_numpy()
    return pieces


def by_disposition(there: pd.DataFrame, n: pd.Series) -> tuple[tuple[str | None, int], ...]:
    """Pieces (``n`` in each row) by what `qc.desk.whereabouts` says is done with them now, most
    first; None where nobody said."""
    said = there["disposition"].astype(object)
    total = pd.Series(n.to_numpy()).groupby(
        said.where(said.notna(), "").to_numpy()).sum().sort_values(ascending=False, kind="stable")
    return tuple((str(name) or None, int(number)) for name, number in total.items())
