"""Readings of measured streams: what people set against the recipe, and where the print sits.

Measurements of one job at one press in one slot move together, so they count as one reading:
their mean.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import SLOT_US, Bools, Evidence, Floats, Ints, sum_by

FACTORS_OF = {
    "setting": ("press", "operator", "fabric", "transfer", "shop"),
    "placement": ("operator", "press", "location", "shop"),
}


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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """Measurements gathered by job, press, person and slot, in the order they were seen.

    ``n`` measurements stand behind each ``value``, their mean; ``within`` is the standard
    deviation of one measurement inside a reading, as usual in these. ``again`` marks a further
    reading of a job at the same press with the same person: it says little that is new.
    """

    value: Floats
    n: Floats
    within: float
    again: Bools
    seen_slot: Ints
    seen_us: Ints
    pressed_us: Ints
    level: Mapping[str, Ints]
    n_levels: Mapping[str, int]


def gather_readings(evidence: Evidence, measurements: Measurements) -> Readings:
    """One reading for each job, press, person and slot."""
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
    n = np.bincount(group).astype(np.float64)
    mean = sum_by(group, measurements.deviation) / n
    seen_us = np.zeros(len(n), dtype=np.int64)
    np.maximum.at(seen_us, group, evidence.seen_us[unit])
    pressed_us = np.full(len(n), np.iinfo(np.int64).max)
    np.minimum.at(pressed_us, group, evidence.pressed_us[unit])
    order = np.lexsort((pressed_us, seen_us // SLOT_US))
    work = np.stack([c[first] for c in columns[1:]], axis=1)[order]
    _, first_of = np.unique(work, axis=0, return_index=True)
    again = np.ones(len(order), dtype=bool)
    again[first_of] = False
    return Readings(
        value=mean[order], n=n[order], within=_within(measurements.deviation, mean, n, group),
        again=again,
        seen_slot=slot[first][order], seen_us=seen_us[order],
        pressed_us=pressed_us[order],
        level={name: evidence.factors[name].codes[unit][first][order] for name in names},
        n_levels={name: len(evidence.factors[name].levels) for name in names},
    )


def _within(value: Floats, mean: Floats, n: Floats, group: Ints) -> float:
    """Robust standard deviation of one measurement about its reading; 0 if none has two."""
    several = n[group] > 1
    if not several.any():
        return 0.0
    gap = (value - mean[group])[several] / np.sqrt(1 - 1 / n[group][several])
    return 1.4826 * float(np.median(np.abs(gap)))


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
