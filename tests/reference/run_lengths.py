"""Run lengths the slow way: charts simulated point by point, plain dense chains, counted orders."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.stats import norm


@dataclass(frozen=True)
class Simulated:
    """Mean and standard deviation of simulated run lengths, with the standard error of each."""

    lengths: np.ndarray

    @property
    def mean(self) -> float:
        return float(self.lengths.mean())

    @property
    def mean_error(self) -> float:
        return float(self.lengths.std(ddof=1) / np.sqrt(len(self.lengths)))

    @property
    def sd(self) -> float:
        return float(self.lengths.std(ddof=1))

    @property
    def sd_error(self) -> float:
        # from the fourth moment; run lengths are far from normal
        d = self.lengths - self.mean
        return float(np.sqrt(((d**4).mean() - (d**2).mean() ** 2) / (4 * self.sd**2 * len(d))))

    def share_by(self, n: float) -> float:
        return float((self.lengths <= n).mean())


class Ewma:
    """Many EWMA charts side by side."""

    def __init__(self, n: int, *, weight: float, width: float, exact: bool = False) -> None:
        self.z, self.i = np.zeros(n), 0
        self.weight, self.width, self.exact = weight, width, exact

    def signals(self, x: np.ndarray) -> np.ndarray:
        self.i += 1
        self.z = self.weight * x + (1 - self.weight) * self.z
        variance = self.weight / (2 - self.weight)
        if self.exact:
            variance *= 1 - (1 - self.weight) ** (2 * self.i)
        return np.abs(self.z) > self.width * np.sqrt(variance)

    def keep(self, which: np.ndarray) -> None:
        self.z = self.z[which]


class Cusum:
    """Many tabular CUSUMs side by side."""

    def __init__(self, n: int, *, reference: float, decision: float, head_start: float = 0.0,
                 two_sided: bool = True) -> None:
        self.up, self.down = np.full(n, head_start), np.full(n, head_start)
        self.k, self.h, self.two_sided = reference, decision, two_sided

    def signals(self, x: np.ndarray) -> np.ndarray:
        self.up = np.maximum(0, self.up + x - self.k)
        self.down = np.maximum(0, self.down - x - self.k)
        return (self.up > self.h) | (self.two_sided & (self.down > self.h))

    def keep(self, which: np.ndarray) -> None:
        self.up, self.down = self.up[which], self.down[which]


class Rules:
    """Many charts under supplementary rules, with a window of past points looked at anew."""

    def __init__(self, n: int, *, limit: float = 3.0, two_of_three: bool = False,
                 four_of_five: bool = False, one_side: int = 0, trend: int = 0,
                 alternating: int = 0, stratification: int = 0, mixture: int = 0) -> None:
        self.past = np.full((n, 0), np.nan)
        self.limit, self.two_of_three, self.four_of_five = limit, two_of_three, four_of_five
        self.one_side, self.trend, self.alternating = one_side, trend, alternating
        self.stratification, self.mixture = stratification, mixture

    def signals(self, x: np.ndarray) -> np.ndarray:
        self.past = np.column_stack((self.past, x))[:, -15:]
        found = np.abs(x) > self.limit
        if self.two_of_three:
            found |= self._of(2, 2, 3)
        if self.four_of_five:
            found |= self._of(1, 4, 5)
        for length, pattern in ((self.one_side, self._sided), (self.trend, self._trending),
                                (self.alternating, self._turning),
                                (self.stratification, self._hugging),
                                (self.mixture, self._mixed)):
            if length and self.past.shape[1] >= length:
                found |= pattern(self.past[:, -length:])
        return found

    def keep(self, which: np.ndarray) -> None:
        self.past = self.past[which]

    def _of(self, line: float, needed: int, window: int) -> np.ndarray:
        newest, x = self.past[:, -window:], self.past[:, -1]
        above = (x > line) & ((newest > line).sum(axis=1) >= needed)
        return above | ((x < -line) & ((newest < -line).sum(axis=1) >= needed))

    @staticmethod
    def _sided(w: np.ndarray) -> np.ndarray:
        return (w > 0).all(axis=1) | (w < 0).all(axis=1)

    @staticmethod
    def _trending(w: np.ndarray) -> np.ndarray:
        d = np.diff(w, axis=1)
        return (d > 0).all(axis=1) | (d < 0).all(axis=1)

    @staticmethod
    def _turning(w: np.ndarray) -> np.ndarray:
        d = np.sign(np.diff(w, axis=1))
        return (d[:, 1:] * d[:, :-1] < 0).all(axis=1)

    @staticmethod
    def _hugging(w: np.ndarray) -> np.ndarray:
        return (np.abs(w) < 1).all(axis=1)

    @staticmethod
    def _mixed(w: np.ndarray) -> np.ndarray:
        return (np.abs(w) > 1).all(axis=1) & (w > 0).any(axis=1) & (w < 0).any(axis=1)


Points = Callable[[int], np.ndarray]


def simulated(chart: Ewma | Cusum | Rules, n: int, points: Points) -> Simulated:
    """Run lengths of charts that begin with the points of this process."""
    lengths, going, at = np.zeros(n), np.arange(n), 0
    while len(going):
        at += 1
        hit = chart.signals(points(len(going)))
        lengths[going[hit]] = at
        going = going[~hit]
        chart.keep(~hit)
    return Simulated(lengths)


def simulated_in_use(
    chart: Ewma | Cusum | Rules, n: int, *, calm: Points, changed: Points, before: int
) -> Simulated:
    """Run lengths from a change on, of those charts that have not signalled ``before`` points."""
    going = n
    for _ in range(before):
        hit = chart.signals(calm(going))
        chart.keep(~hit)
        going -= int(hit.sum())
    return simulated(chart, going, changed)


def ewma_chain_arl(shift: float, *, weight: float, width: float, n_states: int) -> float:
    """Brook & Evans (1972): the EWMA in steps of its band; error falls with n_states squared."""
    h = width * np.sqrt(weight / (2 - weight))
    edge = np.linspace(-h, h, n_states + 1)
    middle = (edge[1:] + edge[:-1]) / 2
    reach = norm.cdf((edge - (1 - weight) * middle[:, None]) / weight - shift)
    q = np.diff(reach, axis=1)
    return float(np.linalg.solve(np.eye(n_states) - q, np.ones(n_states))[n_states // 2])


def cusum_chain_arl(shift: float, *, reference: float, decision: float, n_states: int) -> float:
    """Brook & Evans (1972): the upper sum in steps; the lowest state is half as wide."""
    step = 2 * decision / (2 * n_states - 1)
    state = np.arange(n_states) * step
    upper = np.concatenate(([-np.inf], state + step / 2))
    q = np.diff(norm.cdf(upper - state[:, None] + reference - shift), axis=1)
    return float(np.linalg.solve(np.eye(n_states) - q, np.ones(n_states))[0])


def two_sided_chain(shift: float, *, reference: float, decision: float, n_states: int,
                    at: tuple[float, float]) -> tuple[float, float]:
    """Average and standard deviation for both sums at once, on a grid of pairs, from a pair."""
    step = 2 * decision / (2 * n_states - 1)
    value = np.arange(n_states) * step
    fine = norm.ppf((np.arange(4000) + 0.5) / 4000) + shift
    q = np.zeros((n_states**2, n_states**2))
    for i, up in enumerate(value):
        for j, down in enumerate(value):
            a = np.rint(np.maximum(0, up + fine - reference) / step).astype(int)
            b = np.rint(np.maximum(0, down - fine - reference) / step).astype(int)
            inside = (a < n_states) & (b < n_states)
            np.add.at(q[i * n_states + j], a[inside] * n_states + b[inside], 1 / len(fine))
    start = int(np.rint(at[0] / step)) * n_states + int(np.rint(at[1] / step))
    left = np.eye(len(q)) - q
    mean = np.linalg.solve(left, np.ones(len(q)))
    square = np.linalg.solve(left, 2 * mean - 1)
    return float(mean[start]), float(np.sqrt(square[start] - mean[start] ** 2))


def orders_arl(*, trend: int = 0, alternating: int = 0, n_most: int = 150) -> float:
    """Average run length of rules on ups and downs alone, by counting orders of n values.

    The share of orders of n different values without a pattern, summed over n; what is left
    after ``n_most`` falls geometrically.
    """
    # share of orders by (rank of the last of n values, direction, length of the run so far)
    alive = {(0, 0, 0): np.ones(1)}  # direction, steps the same way, steps turning
    survived = [1.0, 1.0]
    for n in range(2, n_most + 1):
        following: dict[tuple[int, int, int], np.ndarray] = {}
        for (direction, same, turning), by_rank in alive.items():
            total = np.concatenate(([0.0], np.cumsum(by_rank)))
            # the new value takes each of n ranks with the same chance
            moves = {1: total / n, -1: (total[-1] - total) / n}
            for way, share in moves.items():
                run = same + 1 if way == direction else 1
                turns = turning + 1 if way == -direction else 1
                if (trend and run >= trend - 1) or (alternating and turns >= alternating - 1):
                    continue
                key = (way, run, turns)
                following[key] = following.get(key, 0) + share
        alive = following
        survived.append(float(sum(share.sum() for share in alive.values())))
    ratio = survived[-1] / survived[-2]
    return sum(survived) + survived[-1] * ratio / (1 - ratio)
