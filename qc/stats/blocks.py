"""Long arrays in pieces that fit the processor's cache, so that a pass keeps nothing large."""

from __future__ import annotations

from collections.abc import Iterator

BLOCK = 1 << 15


def blocks(n: int) -> Iterator[slice]:
    """Slices that cover n values in order."""
    for start in range(0, n, BLOCK):
        yield slice(start, min(start + BLOCK, n))
