"""What has left the buffer of slots: sums by stream row and cell, without explained changes."""

from __future__ import annotations

import numpy as np

from qc.domain.kinds import ZONES
from qc.monitor.blocks import Blocks
from qc.monitor.evidence import Bools, Floats, sum_by

_CELLS = 2**32


class Past:
    """Faults and pieces by (row, cell): ``row``, ``cell`` (pairs,), ``y`` and ``n`` (pairs,
    kinds); ``shop_y`` and ``shop_zoned`` over all rows."""

    def __init__(self, n_kinds: int) -> None:
        self.row, self.cell = (np.zeros(0, dtype=np.int64) for _ in range(2))
        self.y, self.n = (np.zeros((0, n_kinds)) for _ in range(2))
        self.shop_y = np.zeros(n_kinds)
        self.shop_zoned = np.zeros((n_kinds, len(ZONES)))
        self._zone_key = np.zeros(0, dtype=np.int64)
        self._zone_y = np.zeros(0)

    def take_in(self, blocks: Blocks, keep: Bools) -> None:
        """Add blocks that leave the buffer, of each kind those to ``keep`` (blocks, kinds)."""
        at, f = np.nonzero(blocks.row >= 0)
        key = blocks.row[at, f] * _CELLS + blocks.cell[at]
        used, pair = np.unique(
            np.concatenate([self.row * _CELLS + self.cell, key]), return_inverse=True
        )
        before = len(self.row)
        y, n = (np.empty((len(used), keep.shape[1])) for _ in range(2))
        for k in range(keep.shape[1]):
            for out, old, new in ((y, self.y, blocks.y[:, k]), (n, self.n, blocks.n)):
                out[:, k] = sum_by(pair[:before], old[:, k], len(used))
                out[:, k] += sum_by(pair[before:], (new * keep[:, k])[at], len(used))
        self.row, self.cell, self.y, self.n = used // _CELLS, used % _CELLS, y, n
        self.shop_y += (blocks.y * keep).sum(axis=0)
        self._take_in_zones(blocks, keep)

    def _take_in_zones(self, blocks: Blocks, keep: Bools) -> None:
        n_kinds, n_zones = self.shop_zoned.shape
        kept = keep[blocks.z_block, blocks.z_kind]
        kind, zone, n = blocks.z_kind[kept], blocks.z_zone[kept], blocks.z_n[kept]
        np.add.at(self.shop_zoned, (kind, zone), n)
        rows = blocks.row[blocks.z_block[kept]]
        at, f = np.nonzero(rows >= 0)
        key = (rows[at, f] * n_kinds + kind[at]) * n_zones + zone[at]
        used, which = np.unique(np.concatenate([self._zone_key, key]), return_inverse=True)
        self._zone_y = sum_by(which, np.concatenate([self._zone_y, n[at]]), len(used))
        self._zone_key = used

    def zoned_of(self, n_rows: int) -> Floats:
        """Faults by (kind, row, zone)."""
        shape = (n_rows, *self.shop_zoned.shape)
        out = np.zeros(int(np.prod(shape)))
        out[self._zone_key] = self._zone_y
        return out.reshape(shape).transpose(1, 0, 2)
