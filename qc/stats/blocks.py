"""Long arrays in pieces that fit the processor's cache, so that a pass keeps nothing large."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

BLOCK = 1 << 15


def blocks(n: int) -> Iterator[slice]:
    """Slices that cover n values in order."""
    for start in range(0, n, BLOCK):
        yield slice(start, min(start + BLOCK, n))


def mean_of(values: npt.NDArray[np.float64]) -> float:
    """Mean, summed up about the first value: a level far from 0 costs no digits of the spread."""
    first = float(values[0])
    total = sum(float((values[part] - first).sum()) for part in blocks(len(values)))
    return first + total / len(values)
