from __future__ import annotations

import numpy as np
import pytest

from qc.stats.change.pair_order import count_descents, list_descents


def _plain(values) -> set[tuple[int, int]]:
    n = len(values)
    return {(i, j) for i in range(n) for j in range(i + 1, n) if values[i] > values[j]}


@pytest.mark.parametrize("n", [0, 1, 2, 3, 31, 32, 33, 64, 65, 129, 400])
@pytest.mark.parametrize("kinds", [2, 7, 10**6])
def test_the_same_pairs_as_looking_at_every_pair(n, kinds) -> None:
    values = np.random.default_rng(n).integers(0, kinds, n).astype(float)
    wanted = _plain(values.tolist())
    i, j = list_descents(values)
    assert set(zip(i.tolist(), j.tolist(), strict=True)) == wanted
    assert count_descents(values) == len(i) == len(wanted)


def test_rising_falling_and_equal() -> None:
    rising = np.arange(5000.0)
    assert count_descents(rising) == 0
    assert count_descents(rising[::-1]) == 5000 * 4999 // 2
    assert count_descents(np.full(5000, 0.1)) == 0
    assert count_descents(np.r_[rising[::-1], rising[::-1]]) == sum(
        int((rising < v).sum()) * 3 for v in rising)
