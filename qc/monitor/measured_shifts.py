"""A change of measured streams, and what it adds to the readings it touches."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from qc.monitor.evidence import Bools, Floats
from qc.monitor.measured_rivals import Rival
from qc.monitor.readings import Readings


@dataclass(slots=True, eq=False)
class Shift:
    """A change of measured streams. Instants are numbers of readings.

    ``first`` : factor and level it was explained by at its signal (its identity); ``factor`` and
    ``level`` what explains it best now. ``steps`` : (reading, shift) pairs that add up.
    ``absorbed`` : turned out to be one with a shift signalled earlier; what it still explains, a
    job during which that one came about, is in its steps.
    """

    first: tuple[str, int]
    factor: str
    level: int
    stream: int
    signalled: int
    signalled_slot: int
    rivals: list[Rival]
    steps: list[tuple[int, Floats]]
    end: int | None = None
    absorbed: bool = False
    looks: int = field(default=0)
    looked_from: int = field(default=0)

    @property
    def start(self) -> int:
        return self.steps[0][0]

    @property
    def shift(self) -> Floats:
        """The shift in force last, (d,)."""
        total: Floats = np.sum([delta for _, delta in self.steps], axis=0)
        return total

    @property
    def is_open(self) -> bool:
        return self.end is None and not self.absorbed


def touched(readings: Readings, shift: Shift) -> Bools:
    """Readings that a shift explains, also those yet to come: by when they were pressed."""
    pressed = readings.pressed_us
    mine: Bools = readings.level[shift.factor] == shift.level
    mine &= pressed >= pressed[shift.start]
    if shift.end is not None:
        mine &= pressed <= pressed[shift.end]
    return mine


def effect_of(readings: Readings, shift: Shift) -> Floats:
    """What a shift adds to each reading, (readings, d)."""
    out = np.zeros_like(readings.value)
    if shift.steps:
        mine = np.flatnonzero(touched(readings, shift))
        pressed = readings.pressed_us[mine]
        for start, delta in shift.steps:
            out[mine[pressed >= readings.pressed_us[start]]] += delta
    return out
