"""More than chance: a hand calculation, chance alone, and clumps of known size."""

from __future__ import annotations

import numpy as np
import pytest

from qc.stats.comparing.spread import ENOUGH_FREEDOM, spread_about


def test_by_hand() -> None:
    """Two groups of five samples of 100; X^2 summed on paper: 10/2.94 + 26/5.64 over 8."""
    seen = [2, 4, 1, 5, 3, 6, 6, 9, 3, 6]
    found = spread_about(seen, [3.0] * 5 + [1.0] * 5, [100] * 10, [0] * 5 + [1] * 5)
    by_hand = (10 / (3 * 0.97) + 18 / (6 * 0.94)) / 8
    assert found.freedom == 8 and found.is_known
    assert found.times == pytest.approx(max(1.0, by_hand**0.5))
    more = spread_about([0, 8, 0, 7, 0, 6, 6, 9, 3, 6], [3.0] * 5 + [1.0] * 5, [100] * 10,
                        [0] * 5 + [1] * 5)
    by_hand = ((3 * 3**2 + 5**2 + 4**2) / (3 * 0.97) + 18 / (6 * 0.94)) / 8
    assert more.times == pytest.approx(by_hand**0.5)


def test_chance_alone_and_clumps_of_four() -> None:
    """Pieces that fail four at a time vary twice as much: the root of 4."""
    rng = np.random.default_rng(5)
    n, group = np.full(4000, 400), np.arange(4000) // 40
    alone = spread_about(rng.binomial(400, 0.05, 4000), n * 1.0, n, group)
    clumped = spread_about(4 * rng.binomial(100, 0.05, 4000), n * 1.0, n, group)
    assert alone.times == pytest.approx(1, abs=0.03)
    assert clumped.times == pytest.approx(2, abs=0.05)


def test_too_little_is_said_and_counts_as_chance() -> None:
    few = spread_about([0, 9, 0], [1.0, 1.0, 1.0], [50, 50, 50], [0, 0, 0])
    assert (few.times, few.is_known) == (1.0, False) and few.freedom < ENOUGH_FREEDOM
    none = spread_about([0] * 20, [1.0] * 20, [50] * 20, [0] * 20)
    assert not none.is_known


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="seen is 7 at position 1; allowed: 0 to n"):
        spread_about([7], [1.0], [5], [0])
    with pytest.raises(ValueError, match="expected is -1"):
        spread_about([1], [-1.0], [5], [0])
    with pytest.raises(ValueError, match="group"):
        spread_about([1], [1.0], [5], [0, 1])
