"""Slopes between all pairs of points in order of size, without writing them all down."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from qc.stats.change.pair_order import count_descents, list_descents
from qc.stats.checks import Floats

FEW_POINTS = 1000
"""Up to this many points all slopes are written down and sorted."""
MOST_LISTED = 1_000_000
"""Slopes between two bounds are written down when they are no more than this (or 4 a point)."""
SAMPLE = 1_000_000


class PairSlopes:
    """Slopes of all pairs of points with different x, by their place in order of size.

    Notes
    -----
    The number of slopes below b is the number of pairs that y - b x puts in falling order, found
    by sorting. Bounds close in on the place asked for, guided by the slopes of a sample of pairs,
    until few slopes lie between; these are written down and sorted. The sample guides, it does
    not decide: the result is exact but for the rounding of y - b x.

    Source
    ------
    Matousek (1991), Information Processing Letters 39, 183-187; Dillencourt, Mount & Netanyahu
    (1992), Int. J. Comput. Geometry Appl. 2, 1-27 (both from memory).
    """

    def __init__(self, x: Floats, y: Floats) -> None:
        order = np.lexsort((y, x))
        self.x, self.y = x[order], y[order]
        ties = np.unique(x, return_counts=True)[1]
        self.n_pairs = (len(x) * (len(x) - 1) - int((ties * (ties - 1)).sum())) // 2
        self._bounds: dict[float, int] = {}
        self._all: Floats | None = None
        if len(x) <= FEW_POINTS:
            i, j = np.triu_indices(len(x), 1)
            self._all = np.sort(self._slopes(i, j))
        elif self.n_pairs:
            self._prepare()

    def at(self, places: Sequence[int]) -> Floats:
        """Slopes at these places (0 for the smallest), each inside 0..n_pairs - 1."""
        if self._all is not None:
            return self._all[list(places)]
        return np.array([self._at(place) for place in places])

    def _prepare(self) -> None:
        # about the middle, so that y - b x keeps its digits
        self._run = self.x - self.x.mean()
        self._rise = self.y - self.y.mean()
        self._sample = np.unique(self._slopes(*_scattered_pairs(len(self.x))))
        gaps = np.diff(self.x)
        steepest = 2 * np.ptp(self.y) / gaps[gaps > 0].min() + 1
        self._bounds = {-steepest: 0, steepest: self.n_pairs}
        self._hair = 64 * np.finfo(np.float64).eps * (np.ptp(self.y) / np.ptp(self.x))

    def _slopes(self, i: npt.NDArray[np.int64], j: npt.NDArray[np.int64]) -> Floats:
        run, rise = self.x[j] - self.x[i], self.y[j] - self.y[i]
        apart = run != 0
        slopes: Floats = rise[apart] / run[apart]
        return slopes

    def _n_below(self, bound: float) -> int:
        if bound not in self._bounds:
            self._bounds[bound] = count_descents(self._rise - bound * self._run)
        return self._bounds[bound]

    def _at(self, place: int) -> float:
        low = max(b for b, n in self._bounds.items() if n <= place)
        high = min(b for b, n in self._bounds.items() if n > place and b > low)
        enough = max(MOST_LISTED, 4 * len(self.x))
        step = 0
        while self._n_below(high) - self._n_below(low) > enough:
            if high - low <= 2 * self._hair + 4 * np.spacing(max(abs(low), abs(high))):
                return self._slope_between(low, high)
            bound = self._next_bound(place, low, high, step)
            step += 1
            if self._n_below(bound) <= place:
                low = bound
            else:
                high = bound
        return self._listed(place, low, high)

    def _next_bound(self, place: int, low: float, high: float, step: int) -> float:
        """A sampled slope a little before, then a little after where the place should lie by
        proportion; every third time the middle one, as many equal slopes spoil the proportion."""
        first = int(np.searchsorted(self._sample, low, side="right"))
        last = int(np.searchsorted(self._sample, high, side="left"))
        if first >= last:  # no sampled slope between: step off a value that many pairs share
            beside = low + self._hair + 2 * np.spacing(abs(low))
            return beside if step % 2 == 0 and beside < high else low + (high - low) / 2
        share = (place - self._n_below(low)) / (self._n_below(high) - self._n_below(low))
        by_share, reach = first + share * (last - first), 2 * (last - first) ** 0.5
        at = (by_share - reach, by_share + reach, (first + last) / 2)[step % 3]
        return float(self._sample[int(np.clip(at, first, last - 1))])

    def _listed(self, place: int, low: float, high: float) -> float:
        """The slope at the place among those between two bounds: pairs that change their order."""
        before, after = (self._rise - bound * self._run for bound in (low, high))
        order = np.argsort(before, kind="stable")
        i, j = list_descents(after[order])
        slopes = self._slopes(order[i], order[j])
        # rounding of y - b x may move a pair or two across a bound, never as far as the place
        at = min(max(place - self._n_below(low), 0), len(slopes) - 1)
        return float(np.partition(slopes, at)[at])

    def _slope_between(self, low: float, high: float) -> float:
        """The value shared by all slopes between two bounds a hair apart: that of some pair."""
        middle = low + (high - low) / 2
        order = np.argsort(self._rise - middle * self._run, kind="stable")
        slopes = self._slopes(order[:-1], order[1:])
        return float(slopes[np.argmin(np.abs(slopes - middle))])


def _scattered_pairs(n: int) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Pairs of positions spread evenly over all pairs, the same for the same n.

    Multiples of two irrational numbers (Roberts 2018, from the plastic number), so that no
    rhythm of the data meets a rhythm of the sample, and no random numbers are needed.
    """
    plastic = 1.3247179572447460
    k = np.arange(1, min(8 * n, SAMPLE) + 1)
    i, j = (((k / plastic**power) % 1 * n).astype(np.int64) for power in (1, 2))
    return i[i != j], j[i != j]
