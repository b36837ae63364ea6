"""Hourly tallies kept beside the records."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.store.base import Change


def update_tallies(
    change: Change, *, before: npt.NDArray[np.int64], gone: npt.NDArray[np.int64],
    looks: pd.DataFrame, findings: pd.DataFrame,
) -> None:
    """Not kept yet."""
