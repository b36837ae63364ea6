"""Shares of a bivariate normal the slow way: a fine grid of cells, sharing nothing."""

from __future__ import annotations

import math
from collections.abc import Callable


def share_inside(
    mean: tuple[float, float], sigma: tuple[float, float], correlation: float,
    bounds: tuple[float, float], height: Callable[[float], tuple[float, float]], steps: int = 4000,
) -> float:
    """Share between x bounds and, at each x, between the two heights; Simpson's rule."""
    width = (bounds[1] - bounds[0]) / steps
    total = 0.0
    for k in range(steps + 1):
        x = bounds[0] + k * width
        z = (x - mean[0]) / sigma[0]
        middle = mean[1] + correlation * sigma[1] * z
        inner = sigma[1] * math.sqrt(1 - correlation**2)
        low, high = ((y - middle) / (inner * math.sqrt(2)) for y in height(x))
        between = (math.erf(high) - math.erf(low)) / 2
        weight = 1 if k in (0, steps) else 4 if k % 2 else 2
        total += weight * between * math.exp(-z * z / 2) / (sigma[0] * math.sqrt(2 * math.pi))
    return total * width / 3
