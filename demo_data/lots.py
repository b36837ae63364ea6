"""Lots of transfers and of garments: one after another, with remainders of the last one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from demo_data.spec import LongLot, Range, ShopSpec

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

REMAINDER_DAYS = 5.0
REMAINDER_SHARE = 0.3


def lot_codes(
    spec: ShopSpec, things: Sequence[tuple[str, Range]], thing: Ints, at_day: Floats,
    job: Ints, letter: str, rng: np.random.Generator,
) -> tuple[Ints, tuple[str, ...]]:
    """The lot each piece is from, and the lots' names.

    ``things``: code and lot life of each transfer (or fabric); ``thing``: which one each piece
    has. For a few days after a change some jobs still use up the lot before.
    """
    code = np.full(len(thing), -1)
    names: list[str] = []
    remainder = rng.random(int(job.max(initial=0)) + 1)[job] < REMAINDER_SHARE
    for at, (name, life) in enumerate(things):
        longer = [lot for lot in spec.long_lots if lot.of == name]
        starts = lot_starts(life, longer, spec.days, rng)
        mine = np.flatnonzero(thing == at)
        day = at_day[mine]
        lot = np.searchsorted(starts, day, side="right") - 1
        before = remainder[mine] & (day - starts[lot] < REMAINDER_DAYS) & (lot > 0)
        code[mine] = len(names) + lot - before
        first = int(rng.integers(11, 80))
        names += [f"{letter}-{name}-{first + n:03d}" for n in range(len(starts))]
    return code, tuple(names)


def lot_starts(
    life: Range, longer: Sequence[LongLot], days: int, rng: np.random.Generator
) -> Floats:
    """Days at which lots begin, the first one before the shop's first day."""
    steps = rng.uniform(*life, int(days / life[0]) + 3)
    starts = np.floor(np.cumsum(steps) - steps[0] * (1 + rng.random()))
    starts = np.append(starts[starts < days], min(-1.0, starts[0]))
    for lot in longer:
        inside = (starts > lot.day - 2) & (starts < lot.day + lot.days + 2)
        starts = np.concatenate([starts[~inside], [lot.day, lot.day + lot.days]])
    return np.unique(starts[starts < days])
