"""Pairs that stand in falling order, counted or listed without looking at every pair."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from qc.stats.checks import Floats

Ints = npt.NDArray[np.int64]

BLOCK = 32
"""Blocks of this many values are compared pair by pair; larger ones are merged."""


def count_descents(values: Floats) -> int:
    """Number of pairs i < j with values[i] > values[j]; time n log n, memory 8 times the input.

    Notes
    -----
    Merge sort with all blocks of a level merged at once: a later value falls below as many earlier
    ones as stand above it in the sorted block before its own.
    """
    rank = _padded(_order(values))
    rows = rank.reshape(-1, BLOCK).T.astype(np.int32)
    near = sum(int(np.count_nonzero(rows[:-s] > rows[s:])) for s in range(1, BLOCK))
    return near + sum(int((end - first).sum()) for _, _, first, end in _merges(rank))


def list_descents(values: Floats) -> tuple[Ints, Ints]:
    """Positions (i, j), i < j, of all pairs with values[i] > values[j], in no order.

    Memory grows with the number of pairs: ask `count_descents` first.
    """
    order = _order(values)
    rank = _padded(order)
    rows = rank.reshape(-1, BLOCK).T
    near = [np.nonzero(rows[:-s] > rows[s:]) for s in range(1, BLOCK)]
    earlier = [block * BLOCK + at for at, block in near]
    later = [at + s for s, at in enumerate(earlier, start=1)]
    for left, right, first, end in _merges(rank):
        n_above = end - first
        within = np.arange(n_above.sum()) - np.repeat(np.cumsum(n_above) - n_above, n_above)
        earlier.append(order[left[np.repeat(first, n_above) + within]])
        later.append(order[np.repeat(right, n_above)])
    return np.concatenate(earlier), np.concatenate(later)


def _order(values: Floats) -> Ints:
    order = np.argsort(values)
    in_order = values[order]
    # equal values must keep their order, or they would count; the stable sort is much slower
    tied = len(values) > 1 and bool((in_order[1:] == in_order[:-1]).any())
    return np.argsort(values, kind="stable") if tied else order


def _padded(order: Ints) -> Ints:
    """Rank of each value, filled up with rising ranks to BLOCK times a power of two."""
    n = len(order)
    size = BLOCK
    while size < n:
        size *= 2
    rank = np.arange(size)
    rank[order] = np.arange(n)
    return rank


def _merges(rank: Ints) -> Iterator[tuple[Ints, Ints, Ints, Ints]]:
    """For each level: left halves sorted, right halves sorted, and for each value of a right half
    the places ``first`` to ``end`` of the larger values in its left half."""
    width = BLOCK
    while width < len(rank):
        halves = np.sort(rank.reshape(-1, width), axis=1)
        left, right = halves[0::2], halves[1::2]
        block = np.arange(len(left))[:, None]
        # the block's number on top makes all blocks one sorted list
        key = block * len(rank)
        first = np.searchsorted((left + key).ravel(), (right + key).ravel())
        yield left.ravel(), right.ravel(), first, np.repeat((block.ravel() + 1) * width, width)
        rank = halves.ravel()
        width *= 2
