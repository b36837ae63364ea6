"""How long a press has been running since it was idle: the first pieces after a cold start or a
break are another kind of work."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from qc.domain.instants import SECOND_US

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

PAUSE_S = 20 * 60
"""A press without a piece for so long has paused; its next piece is pressed after a start."""

FRESH_S = 15 * 60
"""Pieces pressed within this time of a start are the first ones."""

FRESH, LATER = "first 15 min", "later"
"""Levels of the factor ``time_since_start``; on one press alone it is "P3, first 15 min"."""


def seconds_since_start(press: Ints, pressed_us: Ints) -> Floats:
    """Seconds since the press's first piece after its last pause, (pieces,) in any order."""
    order = np.lexsort((pressed_us, press))
    when, who = pressed_us[order], press[order]
    begins = np.ones(len(order), dtype=bool)
    begins[1:] = (who[1:] != who[:-1]) | (np.diff(when) >= PAUSE_S * SECOND_US)
    begun = np.maximum.accumulate(np.where(begins, np.arange(len(order)), 0))
    since = np.empty(len(order))
    since[order] = (when - when[begun]) / SECOND_US
    return since


def start_levels(press: Ints, pressed_us: Ints) -> tuple[Ints, tuple[str, str]]:
    """Which of the two levels each piece is at, and their names."""
    return (seconds_since_start(press, pressed_us) >= FRESH_S).astype(np.int64), (FRESH, LATER)
