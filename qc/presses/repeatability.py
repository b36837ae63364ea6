"""How well surveys of an unchanged platen agree, pooled over all platens of the shop."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from qc.presses.surveys import Platen, Survey

FLOOR_C = 0.3
"""No contact probe repeats better on a working press (common practice, no source)."""
USUAL_OFFSET_C, USUAL_POINT_C = 0.6, 0.8
"""Taken until the shop's own surveys say better; weighs as much as this many pairs."""
USUAL_WEIGHT = 10
RECENT_PAIRS = 400
HALF_NORMAL_MEDIAN = 0.6744897501960817


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Repeatability:
    """Differences between successive surveys without an adjustment in between.

    ``at_us`` : time of the later survey of each pair, rising; ``offset_step_c`` : absolute
    difference of the two means; ``point_variance`` : variance of one point about its survey's mean.
    """

    at_us: npt.NDArray[np.int64]
    offset_step_c: npt.NDArray[np.float64]
    point_variance: npt.NDArray[np.float64]

    def offset_c(self, at_us: int) -> float:
        """Standard deviation of a survey's mean as known at a moment, degC.

        From the median step, which the few platens that truly moved hardly touch.
        """
        steps = self.offset_step_c[self._known(at_us)]
        own = float(np.median(steps)) / (HALF_NORMAL_MEDIAN * math.sqrt(2)) if len(steps) else 0.0
        return _blended(own, len(steps), USUAL_OFFSET_C)

    def point_c(self, at_us: int) -> float:
        """Standard deviation of one point about the mean of its survey, degC."""
        variances = self.point_variance[self._known(at_us)]
        variances = variances[~np.isnan(variances)]
        own = math.sqrt(float(np.median(variances))) if len(variances) else 0.0
        return _blended(own, len(variances), USUAL_POINT_C)

    def _known(self, at_us: int) -> slice:
        last = int(np.searchsorted(self.at_us, at_us, side="right"))
        return slice(max(0, last - RECENT_PAIRS), last)


def repeatability(surveys: Mapping[Platen, Sequence[Survey]]) -> Repeatability:
    """Pool the successive differences of all platens; surveys across an adjustment are no pair."""
    pairs = [
        (later.at_us, abs(later.offset_c - earlier.offset_c), _point_variance(earlier, later))
        for found in surveys.values()
        for earlier, later in zip(found, found[1:], strict=False)
        if later.state != "as_left" and not (earlier.partial or later.partial)
    ]
    pairs.sort(key=lambda pair: pair[0])
    return Repeatability(
        at_us=np.array([pair[0] for pair in pairs], dtype=np.int64),
        offset_step_c=np.array([pair[1] for pair in pairs], dtype=np.float64),
        point_variance=np.array([pair[2] for pair in pairs], dtype=np.float64),
    )


def _point_variance(earlier: Survey, later: Survey) -> float:
    before, after = earlier.deviations, later.deviations
    moved = np.array([after[point] - before[point] for point in after if point in before])
    free = len(moved) - 1
    if free < 2:
        return math.nan
    median_share = (1 - 2 / (9 * free)) ** 3  # median of chi-squared over its mean, Wilson-Hilferty
    return float(((moved - moved.mean()) ** 2).sum()) / (2 * free * median_share)


def _blended(own: float, n: int, usual: float) -> float:
    variance = (USUAL_WEIGHT * usual**2 + n * own**2) / (USUAL_WEIGHT + n)
    return max(FLOOR_C, math.sqrt(variance))
