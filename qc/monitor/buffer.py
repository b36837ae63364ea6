"""The newest slots of all streams: what was seen, what was expected, how it clumps.

Arrays are (kind, row, slot); zones of the print (kind, zone row, zone, slot), for the rows that
have zones. Slot 0 of the buffer is slot ``base`` of the shop. Totals are over all slots, also
those that have left the buffer.
"""

from __future__ import annotations

import numpy as np

from qc.domain.kinds import ZONES
from qc.monitor.evidence import Floats, Ints

WINDOW = 192
"""Slots a window may reach back: about eight weeks of a two-shift shop."""

ROOM = 2 * WINDOW


class Buffer:
    """Counts by kind, row and slot."""

    def __init__(self, n_kinds: int) -> None:
        self.n_kinds = n_kinds
        self.base = 0
        self.extra: dict[tuple[int, int], Floats] = {}
        """What explained changes of one zone add to ``expected``, (rows, slots) by (kind, zone)."""
        shape = (n_kinds, 0, ROOM)
        self.observed, self.expected, self.clump = (np.zeros(shape) for _ in range(3))
        self.zoned = np.zeros((n_kinds, 0, len(ZONES), ROOM))
        self.observed_total, self.expected_total = (np.zeros((n_kinds, 0)) for _ in range(2))
        self.zoned_total = np.zeros((n_kinds, 0, len(ZONES)))

    def grow(self, n_rows: int, n_zone_rows: int) -> None:
        """Make room for so many rows and rows with zones."""
        if n_rows > self.observed.shape[1]:
            for name in ("observed", "expected", "clump", "observed_total", "expected_total"):
                setattr(self, name, _longer(getattr(self, name), 1, 2 * n_rows))
            self.extra = {key: _longer(a, 0, 2 * n_rows) for key, a in self.extra.items()}
        if n_zone_rows > self.zoned.shape[1]:
            for name in ("zoned", "zoned_total"):
                setattr(self, name, _longer(getattr(self, name), 1, 2 * n_zone_rows))

    def shift(self) -> None:
        """Let the older half go."""
        self.base += WINDOW
        for array in (self.observed, self.expected, self.clump, self.zoned, *self.extra.values()):
            array[..., :WINDOW] = array[..., WINDOW:]
            array[..., WINDOW:] = 0.0

    def forget_before(self, slot: int) -> None:
        """Forget what was seen before a slot; what was expected is for the caller to rebuild."""
        upto = max(slot - self.base, 0)
        self.observed[..., :upto] = 0.0
        self.zoned[..., :upto] = 0.0

    def add_observed(self, kind: Ints, row: Ints, slot: Ints, n: Floats) -> None:
        np.add.at(self.observed, (kind, row, slot - self.base), n)
        np.add.at(self.observed_total, (kind, row), n)

    def add_zoned(self, kind: Ints, zone_row: Ints, zone: Ints, slot: Ints, n: Floats) -> None:
        np.add.at(self.zoned, (kind, zone_row, zone, slot - self.base), n)
        np.add.at(self.zoned_total, (kind, zone_row, zone), n)

    def add_expected(self, kind: int, row: Ints, slot: Ints, mean: Floats) -> None:
        """Add what is expected of groups of one job, row and slot each."""
        at = row * ROOM + (slot - self.base)  # adding at one index is several times as fast
        np.add.at(self.expected[kind].reshape(-1), at, mean)
        np.add.at(self.clump[kind].reshape(-1), at, mean**2)
        np.add.at(self.expected_total[kind], row, mean)

    def add_extra(self, kind: int, zone: int, row: Ints, slot: Ints, mean: Floats) -> None:
        """Add what a change of one zone adds to what is expected."""
        shape = self.expected.shape[1:]
        extra = self.extra.setdefault((kind, zone), np.zeros(shape))
        np.add.at(extra.reshape(-1), row * ROOM + (slot - self.base), mean)

    def clear_expected(self, kind: int) -> None:
        """Forget what was expected of a kind."""
        self.expected[kind] = 0.0
        self.clump[kind] = 0.0
        self.expected_total[kind] = 0.0
        self.extra = {key: a for key, a in self.extra.items() if key[0] != kind}


def _longer(array: Floats, axis: int, length: int) -> Floats:
    more = [(0, 0)] * array.ndim
    more[axis] = (0, length - array.shape[axis])
    return np.pad(array, more)
