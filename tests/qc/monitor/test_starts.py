"""Which pieces are the first after a start of their press."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from qc.domain.instants import SECOND_US
from qc.monitor.evidence import _soon_after_start

MINUTE_US = 60 * SECOND_US
SHIFT_US = 6 * 60 * MINUTE_US


def early(*minutes, press=None, busy=None, seen=None):
    """Which pieces pressed in these minutes of a shift are early."""
    pressed = SHIFT_US + np.array(minutes, dtype=np.int64) * MINUTE_US
    press = np.zeros(len(pressed), dtype=np.int64) if press is None else np.array(press)
    busy = np.zeros(len(pressed), dtype=np.int64) if busy is None else np.array(busy) * MINUTE_US
    seen = pressed if seen is None else SHIFT_US + np.array(seen) * MINUTE_US
    return _soon_after_start(press, pressed, busy, seen).tolist()


def test_the_first_quarter_of_an_hour_after_a_pause_is_early():
    assert early(0, 10, 14, 16, 20, 41, 50, 60) == [True] * 3 + [False] * 2 + [True] * 2 + [False]


def test_a_stack_keeps_its_press_busy():
    assert early(0, 50, 60, busy=[40, 0, 0]) == [True, False, False]
    assert early(0, 50, 60) == [True, True, True]


def test_at_a_slow_press_a_usual_gap_is_no_pause_and_lunch_is_one():
    quick = [*range(0, 60, 2), 82, 84]
    assert early(*quick)[-2:] == [True, True]  # 24 minutes without a piece where 2 are usual
    slow = [*range(0, 180, 12), 192, 215, 227, 239, 285]
    assert early(*slow) == [True, True] + [False] * 17 + [True]  # 23 minutes are none, 46 are


def test_each_press_has_a_pace_of_its_own():
    minutes = [*range(0, 60, 2), 82, *range(0, 180, 12), 203]
    press = [0] * 31 + [1] * 16
    found = early(*minutes, press=press)
    assert found[30] and not found[-1]


@given(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2000), st.integers(0, 600)),
                min_size=1, max_size=80), st.integers(0, 2600))
def test_what_is_seen_later_changes_nothing_before(pieces, upto):
    press, minute, delay = np.array(pieces, dtype=np.int64).T
    pressed = SHIFT_US + minute * MINUTE_US
    seen = pressed + delay * MINUTE_US
    none = np.zeros(len(press), dtype=np.int64)
    slot = np.maximum(seen, pressed) // (240 * MINUTE_US)
    then = slot <= (SHIFT_US + upto * MINUTE_US) // (240 * MINUTE_US)
    whole = _soon_after_start(press, pressed, none, seen)
    part = _soon_after_start(press[then], pressed[then], none[then], seen[then])
    assert whole[then].tolist() == part.tolist()
