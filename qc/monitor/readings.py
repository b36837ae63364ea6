"""Readings of measured streams: what people set against the recipe, and where the print sits.

The measurements of one job at one press by one person in one slot make one reading: their mean.
Directions of a placement are read together, so that one slip of a jig is one change.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from qc.monitor.evidence import SLOT_US, Evidence, Floats, Ints, sum_by

FACTORS_OF = {
    "setting": ("press", "operator", "fabric", "transfer", "job", "shop"),
    "placement": ("operator", "press", "station", "location", "size", "job", "shop"),
}
SLIP = 4.0
"""A measurement further from the middle of its job's in that slot than so many least changes is
drawn in: a slip of the ruler or the pen, not a place. Proposed starting value, no source."""


LATE_SLOTS = 1
"""Slots of pressing by which further pieces of a job may be late and still be read with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Characteristic:
    """One measured characteristic. ``least`` is the smallest change worth a flag and ``floor``
    the smallest sigma between jobs believed, both in the unit of the deviation; a ``relative``
    deviation is a share of its target."""

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Readings of d characteristics, in the order they were seen.

    ``value``, ``n``, ``squares`` : (readings, d), the mean of n measurements and their sum of
    squares about it; n is 0 where a direction was not measured. ``job`` has no blanks: where none
    is recorded, a run of work stands for it. ``level`` is -1 where a factor was not recorded.
    """

    value: Floats
    n: Floats
    squares: Floats
    job: Ints
    seen_slot: Ints
    seen_us: Ints
    pressed_us: Ints
    pressed_last_us: Ints
    level: Mapping[str, Ints]

    def __len__(self) -> int:
        return len(self.seen_slot)


def streams_together(
    measurements: Iterable[Measurements],
) -> tuple[tuple[Measurements, ...], ...]:
    """Each setting by itself; the directions of a placement as one."""
    all_ = tuple(measurements)
    placed = tuple(m for m in all_ if m.characteristic.kind == "placement")
    alone = tuple((m,) for m in all_ if m.characteristic.kind != "placement")
    return (*alone, placed) if placed else alone


def gather_readings(
    evidence: Evidence, together: tuple[Measurements, ...], group: Ints | None = None
) -> Readings:
    """One reading for each job, press, person (and whatever else tells them apart) and slot.

    ``group`` : the reading each unit of the evidence belongs to, from `reading_groups`.
    """
    kind = together[0].characteristic.kind
    names = _factors(evidence, kind)
    if group is None:
        group = reading_groups(evidence, kind)
    unit = _units_of(together)
    used, reading = np.unique(group[unit], return_inverse=True)
    first = np.full(len(used), -1, dtype=np.int64)
    first[reading[::-1]] = unit[::-1]
    seen, pressed = evidence.seen_us[unit], evidence.pressed_us[unit]
    start = _extreme(reading, pressed, len(used), np.minimum)
    slot = evidence.seen_us[first] // SLOT_US
    order = np.lexsort((used, start, slot))
    rank = np.empty(len(order), dtype=np.int64)
    rank[order] = np.arange(len(order))
    first, slot = first[order], slot[order]
    level = {name: _codes(evidence, name)[first] for name in names}
    job = evidence.run.codes[first]
    visit = np.unique(_pair(slot, job), return_inverse=True)[1]
    of_unit = np.full(len(evidence.pressed_us), -1, dtype=np.int64)
    of_unit[unit] = rank[reading]
    means = [_means(m, of_unit[m.unit], visit) for m in together]
    value, n, squares = (np.stack(c, axis=1) for c in zip(*means, strict=True))
    start = start[order]
    kept = _in_time(slot, start, job, level.get("press", np.zeros_like(slot)))
    return Readings(
        value=value[kept], n=n[kept], squares=squares[kept], job=job[kept],
        seen_slot=slot[kept], pressed_us=start[kept],
        seen_us=_extreme(reading, seen, len(used), np.maximum)[order][kept],
        pressed_last_us=_extreme(reading, pressed, len(used), np.maximum)[order][kept],
        level={name: codes[kept] for name, codes in level.items()},
    )


def _in_time(slot: Ints, pressed_us: Ints, job: Ints, press: Ints) -> Ints:
    """Readings but for stragglers: a few more of a job that has been seen, when its press is long
    at other work. They say nothing new, and would lie on the wrong side of a change."""
    work = _pair(press, job)
    first = np.unique(work, return_index=True)[1]
    is_first = np.zeros(len(slot), dtype=bool)
    is_first[first] = True
    pressed = pressed_us // SLOT_US
    late = np.zeros(len(slot), dtype=bool)
    order = np.argsort(press, kind="stable")
    for mine in np.split(order, np.flatnonzero(np.diff(press[order])) + 1):
        latest = np.maximum.accumulate(pressed[mine])
        before = np.searchsorted(slot[mine], slot[mine]) - 1  # the last one seen in a slot before
        late[mine] = (before >= 0) & (pressed[mine] < latest[before] - LATE_SLOTS)
    return np.flatnonzero(is_first | ~late)


def _pair(slot: Ints, job: Ints) -> Ints:
    return (slot - slot.min(initial=0)) * (int(job.max(initial=0)) + 1) + job


def reading_groups(evidence: Evidence, kind: str) -> Ints:
    """A number for each unit: units of one reading have the same."""
    slot = evidence.seen_us // SLOT_US
    columns = [slot - slot.min(initial=0), evidence.run.codes]
    names = [name for name in _factors(evidence, kind) if name not in ("job", "shop")]
    columns += [evidence.factors[name].codes + 1 for name in names]
    key = np.zeros(len(slot), dtype=np.int64)
    size = 1
    for column in columns:
        width = int(column.max(initial=0)) + 1
        if size > np.iinfo(np.int64).max // (width + 1):
            used, key = np.unique(key, return_inverse=True)
            size = len(used)
        key, size = key * width + column, size * width
    return key


def _factors(evidence: Evidence, kind: str) -> tuple[str, ...]:
    return tuple(n for n in FACTORS_OF[kind] if n == "job" or n in evidence.factors)


def _codes(evidence: Evidence, name: str) -> Ints:
    return evidence.job.codes if name == "job" else evidence.factors[name].codes


def _units_of(together: tuple[Measurements, ...]) -> Ints:
    if len(together) == 1:
        return together[0].unit
    return np.unique(np.concatenate([m.unit for m in together]))


def _means(
    measurements: Measurements, reading: Ints, visit: Ints
) -> tuple[Floats, Floats, Floats]:
    """Mean, number and sum of squares of each reading, slips drawn in."""
    size = len(visit)
    value = _without_slips(measurements, visit[reading], size)
    n = np.bincount(reading, minlength=size).astype(np.float64)
    mean = sum_by(reading, value, size) / np.maximum(n, 1)
    squares = sum_by(reading, (value - mean[reading]) ** 2, size)
    return mean, n, squares


def _without_slips(measurements: Measurements, visit: Ints, n_visits: int) -> Floats:
    value = measurements.deviation
    reach = SLIP * measurements.characteristic.least
    low = _extreme(visit, value, n_visits, np.minimum)[visit]
    high = _extreme(visit, value, n_visits, np.maximum)[visit]
    at = np.flatnonzero(high - low > reach)
    if len(at) == 0:
        return value
    at = at[np.lexsort((value[at], visit[at]))]
    begin = np.flatnonzero(np.concatenate([[True], np.diff(visit[at]) != 0]))
    size = np.diff(np.concatenate([begin, [len(at)]]))
    middle = 0.5 * (value[at[begin + (size - 1) // 2]] + value[at[begin + size // 2]])
    middle = np.repeat(middle, size)
    out = value.copy()
    several = np.repeat(size >= 3, size)
    drawn = np.clip(value[at], middle - reach, middle + reach)
    out[at] = np.where(several, drawn, value[at])
    return out


def _extreme(group: Ints, value: np.ndarray, size: int, how: np.ufunc) -> np.ndarray:
    limits = np.finfo(value.dtype) if value.dtype.kind == "f" else np.iinfo(value.dtype)
    out = np.full(size, limits.max if how is np.minimum else limits.min, dtype=value.dtype)
    how.at(out, group, value)
    return out


def typical_targets(value: Floats, cell: Ints, target: Floats, seen_us: Ints) -> Floats:
    """Targets with blanks filled by what was usual in the first slot the pairing was seen in.

    Nothing seen later changes it, so that looking back gives what was known then.
    """
    out, blank = target.copy(), np.isnan(target)
    if not blank.any():
        return out
    which, names = pd.factorize(cell)
    slot = seen_us // SLOT_US
    earliest = np.full(len(names), np.iinfo(np.int64).max)
    np.minimum.at(earliest, which, slot)
    first = slot == earliest[which]
    usual = pd.Series(value[first]).groupby(which[first]).median().to_numpy()
    out[blank] = usual[which[blank]]
    return out
