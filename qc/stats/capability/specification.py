"""The limits a measured characteristic must keep, and the value it aims at."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.stats.checks import Floats, finite


@dataclass(frozen=True, slots=True, kw_only=True)
class Specification:
    """Limits and target in the unit of the data; a limit that does not exist is None.

    Raises
    ------
    ValueError
        No limit at all, one that is not finite, lower not below upper, target outside the limits.
    """

    lower: float | None = None
    upper: float | None = None
    target: float | None = None

    def __post_init__(self) -> None:
        for name in ("lower", "upper", "target"):
            if getattr(self, name) is not None:
                finite(name, getattr(self, name))
        if self.lower is None and self.upper is None:
            raise ValueError("lower is None and upper is None; at least one must be a number")
        low, high = self.ends
        if not low < high:
            raise ValueError(f"lower is {low:g}; it must be below upper, {high:g}")
        if self.target is not None and not low <= self.target <= high:
            raise ValueError(f"target is {self.target:g}; it must lie within {low:g} to {high:g}")

    @property
    def ends(self) -> tuple[float, float]:
        """Both limits; an infinite one where there is none."""
        return (-np.inf if self.lower is None else self.lower,
                np.inf if self.upper is None else self.upper)

    @property
    def two_sided(self) -> bool:
        """Whether both limits exist."""
        return self.lower is not None and self.upper is not None

    def n_outside(self, values: Floats) -> int:
        """How many values lie beyond a limit; a value on a limit keeps it."""
        low, high = self.ends
        return int(np.count_nonzero((values < low) | (values > high)))
