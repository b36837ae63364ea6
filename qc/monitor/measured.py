"""Measured streams: what people set against the recipe, and where the print sits.

Readings of one job at one press in one slot move together, so they count as one reading: their
mean. A level's mean since any start is held against its own past, which is itself uncertain.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from qc.monitor.budget import AlarmBudget, slots_per_week
from qc.monitor.evidence import SLOT_US, Bools, Evidence, Floats, Ints, sum_by

MEASURED_SHARE = 0.1
"""Part of the alarm budget that measured streams may spend."""

FACTORS_OF = {
    "setting": ("press", "operator", "fabric", "transfer", "shop"),
    "placement": ("operator", "press", "location", "size", "garment_lot", "shop"),
}
PRIOR_OF = {
    "press": 0.0, "operator": 0.0, "transfer": -1.0, "fabric": -1.0, "location": -1.0,
    "size": -1.0, "garment_lot": -1.5, "shop": -2.5,
}
"""Log prior of each factor being the cause; proposed starting values, no source."""

LONGEST = 200
BETWEEN_LEVELS = 0.5
"""Honest spread between levels, in sigmas of a reading; proposed starting value, no source."""

LEAST_READINGS = 3

FOLLOWED = 120
"""Readings after its signal for which a shift is fitted again as more comes in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Characteristic:
    """One measured characteristic. ``least`` is the smallest change worth a flag and ``floor``
    the smallest sigma believed, both in the unit of the deviation; a ``relative`` deviation is a
    share of its target."""

    name: str
    kind: str
    unit: str
    least: float
    floor: float
    relative: bool = False


CHARACTERISTICS = (
    Characteristic(name="temperature_c", kind="setting", unit="degC", least=2.0, floor=0.8),
    Characteristic(name="temperature_lower_c", kind="setting", unit="degC", least=2.0, floor=0.8),
    Characteristic(name="dwell_s", kind="setting", unit="s", least=0.05, floor=0.02, relative=True),
    Characteristic(
        name="pressure_kpa", kind="setting", unit="kPa", least=0.06, floor=0.025, relative=True
    ),
    Characteristic(
        name="pressure_dial", kind="setting", unit="dial", least=0.1, floor=0.05, relative=True
    ),
    Characteristic(name="dx_mm", kind="placement", unit="mm", least=1.5, floor=0.7),
    Characteristic(name="dy_mm", kind="placement", unit="mm", least=1.5, floor=0.7),
    Characteristic(name="rotation_deg", kind="placement", unit="deg", least=0.7, floor=0.3),
)
"""Least changes and floors are proposed starting values, no source."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measurements:
    """One characteristic of the units that have it.

    ``unit``: positions in the evidence; ``value`` as recorded; ``target``: the recipe's value (or
    0 for a placement), same unit.
    """

    characteristic: Characteristic
    unit: Ints
    value: Floats
    target: Floats

    @property
    def deviation(self) -> Floats:
        gap = self.value - self.target
        return gap / self.target if self.characteristic.relative else gap


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Measurements gathered by job, press, person and slot, in the order they were seen."""

    value: Floats
    seen_slot: Ints
    seen_us: Ints
    pressed_us: Ints
    level: Mapping[str, Ints]
    n_levels: Mapping[str, int]
    of_unit: Ints


def gather_readings(evidence: Evidence, measurements: Measurements) -> Readings:
    """One reading for each job, press, person, lot, size and slot."""
    unit = measurements.unit
    names = FACTORS_OF[measurements.characteristic.kind]
    names = tuple(name for name in names if name in evidence.factors)
    slot = evidence.seen_us[unit] // SLOT_US
    columns = [slot, evidence.job.codes[unit]]
    columns += [evidence.factors[name].codes[unit] for name in names]
    key = np.zeros(len(unit), dtype=np.int64)
    for column in columns:
        key = np.unique(key, return_inverse=True)[1] * (int(column.max(initial=0)) + 2) + column + 1
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    n = np.bincount(group)
    mean = sum_by(group, measurements.deviation) / n
    seen_us = np.zeros(len(n), dtype=np.int64)
    np.maximum.at(seen_us, group, evidence.seen_us[unit])
    pressed_us = np.full(len(n), np.iinfo(np.int64).max)
    np.minimum.at(pressed_us, group, evidence.pressed_us[unit])
    order = np.lexsort((pressed_us, seen_us // SLOT_US))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    return Readings(
        value=mean[order], seen_slot=slot[first][order], seen_us=seen_us[order],
        pressed_us=pressed_us[order],
        level={name: evidence.factors[name].codes[unit][first][order] for name in names},
        n_levels={name: len(evidence.factors[name].levels) for name in names},
        of_unit=rank[group],
    )


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

    def look(self, slot: int, budget: AlarmBudget, pace: float, n_kinds: int) -> None:
        stop = int(np.searchsorted(self.readings.seen_slot, slot, side="right"))
        first = int(np.searchsorted(self.readings.seen_slot, slot, side="left"))
        sigma = self._sigma(stop)
        self._follow(first, stop, sigma)
        for _ in range(4):
            if not self._alarms(first, stop, sigma, budget, pace, n_kinds):
                return
            self._explain(stop, sigma)

    def _alarms(
        self, first: int, stop: int, sigma: float, budget: AlarmBudget, pace: float, n_kinds: int
    ) -> bool:
        share = MEASURED_SHARE / len(self.readings.level)
        for factor, level in self.readings.level.items():
            here = np.unique(level[first:stop])
            here = here[here >= 0]
            alpha = budget.per_stream(pace, share, n_kinds * len(here))
            for lv in here:
                rival = self._fit(factor, int(lv), stop, sigma)
                if rival and rival.tail < alpha and self._matters(rival):
                    return True
        return False

    def _follow(self, first: int, stop: int, sigma: float) -> None:
        """Fit what is young and open again, with the readings that have come since."""
        for shift in self.shifts:
            young = stop - shift.signalled <= FOLLOWED
            touched = self.readings.level[shift.factor][first:stop] == shift.level
            if shift.end is not None or not young or not touched.any():
                continue
            self._take_out(shift, -1.0)
            rivals = self._rivals(stop, sigma)
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

    def _sigma(self, stop: int) -> float:
        value = self.residual[:stop]
        centre = np.median(value)
        spread = 1.4826 * float(np.median(np.abs(value - centre)))
        tails = float(np.std(np.clip(value - centre, -4 * spread, 4 * spread)))
        return max(spread, tails, self.characteristic.floor)

    def _fit(self, factor: str, level: int, stop: int, sigma: float) -> Rival | None:
        """The best start of a shift of this level that goes on to the newest reading."""
        mine = np.flatnonzero(self.readings.level[factor][:stop] == level)
        known = any((s.factor, s.level, s.end) == (factor, level, None) for s in self.shifts)
        least = 1 if known else LEAST_READINGS  # an end shows at once; a beginning takes more
        if len(mine) < LEAST_READINGS:
            return None
        value = np.clip(self.residual[mine] / sigma, -50, 50)
        reach = min(len(value), LONGEST)
        n_now = np.arange(least, reach + 1)
        now = np.cumsum(value[::-1])[n_now - 1] / n_now
        n_past = len(value) - n_now
        past_sum = value.sum() - now * n_now
        weight = 1.0 / BETWEEN_LEVELS**2
        usual, variance = past_sum / (n_past + weight), 1.0 / (n_past + weight)
        z = (now - usual) / np.sqrt(1.0 / n_now + variance)
        best = int(np.argmax(np.abs(z)))
        tail = 2.0 * float(ndtr(-abs(z[best])))
        score = 0.5 * float(z[best]) ** 2 + PRIOR_OF[factor]
        score -= float(np.log(max(self.readings.n_levels[factor], 1)))
        return Rival(
            factor=factor, level=level, start=int(mine[len(value) - n_now[best]]),
            shift=float(now[best] - usual[best]) * sigma, z=float(z[best]), tail=tail,
            score=score,
        )

    def _rivals(self, stop: int, sigma: float) -> list[Rival]:
        rivals = [
            rival
            for factor, level in self.readings.level.items()
            for lv in np.unique(level[max(0, stop - LONGEST) : stop])
            if lv >= 0 and (rival := self._fit(factor, int(lv), stop, sigma)) is not None
        ]
        return sorted(rivals, key=lambda r: -r.score)

    def _explain(self, stop: int, sigma: float) -> None:
        """Make a shift of what stands out, or let it end or correct one of the same stream."""
        rivals = self._rivals(stop, sigma)
        best = rivals[0]
        for old in self.shifts:
            if (old.factor, old.level) != (best.factor, best.level) or old.end is not None:
                continue
            self._take_out(old, -1.0)
            if old.signalled == stop - 1 or best.start <= old.start:
                again = self._fit(old.factor, old.level, stop, sigma)
                old.start, old.shift = (again or best).start, (again or best).shift
            elif -best.shift / old.shift > 0.4:
                old.end = best.start - 1
            else:
                old.shift += best.shift
            self._take_out(old, 1.0)
            return
        shift = Shift(
            factor=best.factor, level=best.level, start=best.start, shift=best.shift,
            signalled=stop - 1, rivals=rivals[:8],
        )
        self.shifts.append(shift)
        self._take_out(shift, 1.0)

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



def typical_targets(
    value: Floats, cell: Ints, target: Floats, order: Ints, *, n_first: int = 200
) -> Floats:
    """Targets with blanks filled by the median of the first readings of the same pairing."""
    out = target.copy()
    blank = np.isnan(out)
    for number in np.unique(cell[blank]):
        mine = order[(cell[order] == number)]
        out[(cell == number) & blank] = np.median(value[mine[:n_first]])
    return out


