"""The standard deviation of a sample, or the reason why it cannot be computed."""

from __future__ import annotations

import numpy as np

from qc.stats.checks import Floats, varies

SMALLEST, LARGEST = 1e-150, 1e150
"""Between these a square is a number with all its digits."""


def standard_deviation(values: Floats, name: str = "values") -> float:
    """Standard deviation of at least two values, divisor n - 1; 0 where they do not vary.

    Raises
    ------
    ValueError
        The values are so far apart, or so close, that their squares are no numbers.
    """
    if not varies(values):
        return 0.0
    with np.errstate(over="ignore", invalid="ignore", under="ignore"):
        sigma = float(values.std(ddof=1))
    if SMALLEST < sigma < LARGEST:
        return sigma
    apart = "close together" if sigma <= SMALLEST else "far apart"
    low, high = float(values.min()), float(values.max())
    raise ValueError(f"{name} from {low:g} to {high:g} are too {apart} to compute with")
