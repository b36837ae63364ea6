"""Units gathered into blocks: everything that is the same for detection stands once.

Units of a slot that share every factor, cell, job and slot of pressing are one block, so that
cost follows the variety of the work and not the number of pieces.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from qc.monitor.evidence import Bools, Floats, Ints


@dataclass(slots=True, kw_only=True, eq=False)
class Blocks:
    """Blocks in the order they were seen.

    ``row`` (blocks, factors): the stream row of the block's level of each factor, -1 where it has
    none; ``group`` (blocks, factors): number of its (row, slot of pressing, job); ``y`` (blocks,
    kinds) faults. ``z_*``: faults with a zone, by block.
    """

    n: Floats
    pressed: Ints
    seen: Ints
    cell: Ints
    job: Ints
    row: Ints
    group: Ints
    y: Floats
    z_block: Ints
    z_kind: Ints
    z_zone: Ints
    z_n: Floats

    def __len__(self) -> int:
        return len(self.n)

    def kept(self, keep: Bools) -> Blocks:
        """The blocks chosen by a mask."""
        new = np.cumsum(keep) - 1
        z_keep = keep[self.z_block]
        out = {
            f.name: getattr(self, f.name)[z_keep if f.name.startswith("z_") else keep]
            for f in fields(self)
        }
        out["z_block"] = new[out["z_block"]]
        return Blocks(**out)


class BlockStore:
    """Blocks that grow at the end; ``blocks`` are all so far."""

    def __init__(self, n_factors: int, n_kinds: int) -> None:
        self.blocks = no_blocks(n_factors, n_kinds)
        self._room = {f.name: getattr(self.blocks, f.name) for f in fields(Blocks)}

    def add(self, more: Blocks) -> None:
        """Put blocks behind those so far; their ``z_block`` counts from 0."""
        view, offset = {}, len(self.blocks)
        for name, room in self._room.items():
            new, used = getattr(more, name), len(getattr(self.blocks, name))
            new = new + offset if name == "z_block" else new
            if used + len(new) > len(room):
                wider = np.empty((2 * (used + len(new)), *room.shape[1:]), dtype=room.dtype)
                wider[:used] = room[:used]
                self._room[name] = room = wider
            room[used : used + len(new)] = new
            view[name] = room[: used + len(new)]
        self.blocks = Blocks(**view)

    def keep(self, chosen: Bools) -> None:
        """Drop all blocks but those chosen."""
        self.blocks = self.blocks.kept(chosen)
        self._room = {f.name: getattr(self.blocks, f.name) for f in fields(Blocks)}


def no_blocks(n_factors: int, n_kinds: int) -> Blocks:
    """No blocks yet."""
    whole, real = np.zeros(0, dtype=np.int64), np.zeros(0)
    return Blocks(
        n=real, pressed=whole, seen=whole, cell=whole, job=whole,
        row=np.zeros((0, n_factors), dtype=np.int64),
        group=np.zeros((0, n_factors), dtype=np.int64), y=np.zeros((0, n_kinds)),
        z_block=whole, z_kind=whole, z_zone=whole, z_n=real,
    )


def distinct(columns: list[Ints]) -> tuple[Ints, Ints]:
    """Distinct rows of whole-number columns (-1 and up): the first of each, and which one each is.

    In rising order of the columns. The columns become one number; where it would no longer fit,
    what stands so far is numbered anew.
    """
    key, size = np.zeros(len(columns[0]), dtype=np.int64), 1
    for column in columns:
        low = int(column.min(initial=0))
        width = int(column.max(initial=0)) - low + 1
        if size * width >= 2**62:
            used, key = np.unique(key, return_inverse=True)
            size = len(used)
        key, size = key * width + (column - low), size * width
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    return first, which.astype(np.int64)
