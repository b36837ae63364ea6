"""Measured streams: shifts of readings, found as they come in.

A level's mean since any start is held against its own past, which is itself uncertain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from qc.monitor.budget import AlarmBudget, slots_per_week
from qc.monitor.evidence import SLOT_US, Bools, Floats
from qc.monitor.readings import Characteristic, Readings

MEASURED_SHARE = 0.1
"""Part of the alarm budget that measured streams may spend."""

PRIOR_OF = {
    "press": 0.0, "operator": 0.0, "transfer": -1.0, "fabric": -1.0, "location": -1.0,
    "shop": -2.5,
}
"""Log prior of each factor being the cause; proposed starting values, no source."""

LONGEST = 120
"""Readings a window may reach back over."""

REMEMBERED = 1000
"""Readings of a level that its past is made of; more would say nothing new and cost time."""

BETWEEN_LEVELS = 0.5
"""Honest spread between levels, in sigmas of a reading; proposed starting value, no source."""

LEAST_READINGS = 3
AGAIN_SIGMA = 3.0
"""How much wider the sigma of a further reading of the same job is taken to be."""

WINSOR = 4.0
"""A single reading counts for no more than this many sigmas: a slip of the ruler is no trend."""

FOLLOWED = 120
"""Readings after its signal for which a shift is fitted again as more comes in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """One level of a factor as the explanation of a shift."""

    factor: str
    level: int
    start: int
    shift: float
    z: float
    tail: float
    score: float


@dataclass(slots=True, eq=False)
class Shift:
    """A change of a measured stream. ``start`` and ``signalled`` are positions of readings."""

    factor: str
    level: int
    start: int
    shift: float
    signalled: int
    rivals: list[Rival]
    end: int | None = None


def find_shifts(
    readings: Readings, characteristic: Characteristic, budget: AlarmBudget, *, as_of_us: int,
    n_characteristics: int,
) -> list[Shift]:
    """Shifts of one characteristic, found reading by reading as they came in."""
    run = _Watch(readings, characteristic)
    slots = np.unique(readings.seen_slot)
    for i, slot in enumerate(slots):
        if (slot + 1) * SLOT_US > as_of_us:
            break
        pace = slots_per_week(slots[: i + 1] * SLOT_US)
        run.look(int(slot), budget, pace, n_characteristics)
    return run.shifts


class _Watch:
    """Readings as they come in, the shifts found so far, and what is left without them."""

    def __init__(self, readings: Readings, characteristic: Characteristic) -> None:
        self.readings, self.characteristic = readings, characteristic
        self.residual = readings.value.copy()
        self.shifts: list[Shift] = []
        self.of_level = {
            (factor, int(lv)): np.flatnonzero(level == lv)
            for factor, level in readings.level.items() for lv in np.unique(level) if lv >= 0
        }
        self.sigma = np.ones_like(self.residual)
        self._learnt = 0

    def look(self, slot: int, budget: AlarmBudget, pace: float, n_kinds: int) -> None:
        stop = int(np.searchsorted(self.readings.seen_slot, slot, side="right"))
        first = int(np.searchsorted(self.readings.seen_slot, slot, side="left"))
        self._learn(stop)
        self._follow(first, stop)
        for _ in range(4):
            if not self._alarms(first, stop, budget, pace, n_kinds):
                return
            self._explain(stop)

    def _learn(self, stop: int) -> None:
        """Fit the sigma of readings again when there are a tenth more: between jobs, and the
        measurements of one job averaged."""
        if stop < 1.1 * self._learnt:
            return
        self._learnt = stop
        centred = self.residual[:stop] - np.median(self.residual[:stop])
        within = self.readings.within**2 / self.readings.n
        grid = np.linspace(0, 3 * float(np.std(centred)) + 1e-9, 61)
        share = np.sqrt(grid[:, None] ** 2 + within[None, :stop])
        inside = (np.abs(centred) <= 0.6745 * np.maximum(share, 1e-12)).mean(axis=1)
        between = float(grid[int(np.argmax(inside >= 0.5))]) if (inside >= 0.5).any() else grid[-1]
        tails = float(np.std(np.clip(centred, *np.quantile(centred, (0.02, 0.98)))))
        scale = np.sqrt(between**2 + within)
        typical = float(np.sqrt(np.mean(scale[:stop] ** 2)))
        scale = scale * max(1.0, tails / max(typical, 1e-12))
        self.sigma = np.maximum(scale, self.characteristic.floor)
        self.sigma[self.readings.again] *= AGAIN_SIGMA

    def _alarms(
        self, first: int, stop: int, budget: AlarmBudget, pace: float, n_kinds: int
    ) -> bool:
        share = MEASURED_SHARE / len(self.readings.level)
        for factor, level in self.readings.level.items():
            here = np.unique(level[first:stop])
            here = here[here >= 0]
            alpha = budget.per_stream(pace, share, n_kinds * len(here))
            for lv in here:
                rival = self._fit(factor, int(lv), stop)
                if rival and rival.tail < alpha and self._matters(rival):
                    return True
        return False

    def _follow(self, first: int, stop: int) -> None:
        """Fit what is young and open again, with the readings that have come since."""
        for shift in self.shifts:
            young = stop - shift.signalled <= FOLLOWED
            touched = self.readings.level[shift.factor][first:stop] == shift.level
            if shift.end is not None or not young or not touched.any():
                continue
            self._take_out(shift, -1.0)
            rivals = self._rivals(stop)
            mine = [r for r in rivals if (r.factor, r.level) == (shift.factor, shift.level)]
            if rivals and (not mine or rivals[0].score > mine[0].score + 1.0):
                mine = rivals[:1]
            if mine:
                self._adopt(shift, mine[0], rivals)
            self._take_out(shift, 1.0)
        self._drop_twins()

    def _drop_twins(self) -> None:
        seen: set[tuple[str, int]] = set()
        for shift in sorted(self.shifts, key=lambda s: s.signalled):
            key = (shift.factor, shift.level)
            if shift.end is None and key in seen:
                self._take_out(shift, -1.0)
                self.shifts.remove(shift)
            if shift.end is None:
                seen.add(key)

    def _adopt(self, shift: Shift, best: Rival, rivals: list[Rival]) -> None:
        shift.factor, shift.level, shift.start = best.factor, best.level, best.start
        shift.shift = best.shift
        shift.rivals = [best, *(r for r in rivals if r is not best)][:8]

    def _matters(self, rival: Rival) -> bool:
        return abs(rival.shift) >= self.characteristic.least

    def _fit(self, factor: str, level: int, stop: int) -> Rival | None:
        """The best start of a shift of this level that goes on to the newest reading."""
        mine = self.of_level[factor, level]
        upto = int(np.searchsorted(mine, stop))
        mine = mine[max(upto - REMEMBERED, 0) : upto]
        known = any((s.factor, s.level, s.end) == (factor, level, None) for s in self.shifts)
        least = 1 if known else LEAST_READINGS  # an end shows at once; a beginning takes more
        if len(mine) == 0:
            return None
        sigma = self.sigma[mine]
        weight = 1.0 / sigma**2
        value = np.clip(self.residual[mine] / sigma, -WINSOR, WINSOR) * sigma
        if np.median(np.abs(self.residual[mine[-least:]]) / sigma[-least:]) > WINSOR:
            value = self.residual[mine]  # not one slip but every reading: a large shift
        n_now = np.arange(1, min(len(value), LONGEST) + 1)
        n_jobs = np.cumsum(~self.readings.again[mine][::-1])[n_now - 1]
        n_now = n_now[n_jobs >= least]
        if len(n_now) == 0:
            return None
        now_weight = np.cumsum(weight[::-1])[n_now - 1]
        now = np.cumsum((weight * value)[::-1])[n_now - 1] / now_weight
        past_weight = np.maximum(weight.sum() - now_weight, 0.0)
        past_sum = (weight * value).sum() - now * now_weight
        prior = 1.0 / (BETWEEN_LEVELS * float(np.median(sigma))) ** 2
        usual, variance = past_sum / (past_weight + prior), 1.0 / (past_weight + prior)
        z = (now - usual) / np.sqrt(1.0 / now_weight + variance)
        best = int(np.argmax(np.abs(z)))
        score = 0.5 * float(z[best]) ** 2 + PRIOR_OF[factor]
        score -= float(np.log(max(self.readings.n_levels[factor], 1)))
        return Rival(
            factor=factor, level=level, start=int(mine[len(value) - n_now[best]]),
            shift=float(now[best] - usual[best]), z=float(z[best]),
            tail=2.0 * float(ndtr(-abs(z[best]))), score=score,
        )

    def _rivals(self, stop: int) -> list[Rival]:
        rivals = [
            rival
            for factor, level in self.readings.level.items()
            for lv in np.unique(level[max(0, stop - LONGEST) : stop])
            if lv >= 0
            and (rival := self._fit(factor, int(lv), stop)) is not None
            and self._matters(rival)
        ]
        return sorted(rivals, key=lambda r: -r.score)

    def _explain(self, stop: int) -> None:
        """Make a shift of what stands out, or let it end or correct one of the same stream."""
        rivals = self._rivals(stop)
        best = rivals[0]
        for old in self.shifts:
            if (old.factor, old.level) == (best.factor, best.level) and old.end is None:
                self._revise(old, best, stop)
                return
        shift = Shift(
            factor=best.factor, level=best.level, start=best.start, shift=best.shift,
            signalled=stop - 1, rivals=rivals[:8],
        )
        self.shifts.append(shift)
        self._take_out(shift, 1.0)

    def _revise(self, old: Shift, news: Rival, stop: int) -> None:
        """The stream of an open shift stands out again: explained better, ended, or grown."""
        self._take_out(old, -1.0)
        rivals = self._rivals(stop)
        again = next((r for r in rivals if (r.factor, r.level) == (old.factor, old.level)), news)
        ended = -news.shift / old.shift > 0.4 and news.start > old.start
        to_beat = max(again.score, self._ended_score(old, news.start)) + 1.0
        if rivals and stop - old.signalled <= FOLLOWED and rivals[0].score > to_beat:
            self._adopt(old, rivals[0], rivals)
        elif ended:
            old.end = news.start - 1
        elif old.signalled == stop - 1 or news.start <= old.start:
            old.start, old.shift = again.start, again.shift
        else:
            old.shift += news.shift
        self._take_out(old, 1.0)

    def _ended_score(self, old: Shift, back: int) -> float:
        """Score of the old shift as one that lasted until this reading."""
        mine = self.of_level[old.factor, old.level]
        mine = mine[(mine >= old.start) & (mine < back)]
        weight = 1.0 / self.sigma[mine] ** 2
        z = abs(old.shift) * float(np.sqrt(weight.sum()))
        levels = float(np.log(max(self.readings.n_levels[old.factor], 1)))
        return 0.5 * z**2 + PRIOR_OF[old.factor] - levels

    def _take_out(self, shift: Shift, sign: float) -> None:
        """Take a shift out of the residuals (sign 1), or put it back (sign -1)."""
        mine: Bools = self.readings.level[shift.factor] == shift.level
        mine[: shift.start] = False
        if shift.end is not None:
            mine[shift.end + 1 :] = False
        self.residual[mine] -= sign * shift.shift


def start_interval(value: Floats, before: float, shift: float, sigma: float) -> tuple[int, int]:
    """Positions between which a step of known size began, 90 % of the posterior."""
    gain = np.cumsum(((value - before) * shift - 0.5 * shift**2)[::-1])[::-1] / sigma**2
    weight = np.exp(gain - gain.max())
    share = np.cumsum(weight / weight.sum())
    low = int(np.searchsorted(share, 0.05))
    high = min(int(np.searchsorted(share, 0.95)), len(share) - 1)
    return low, high
