from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from qc.stats.blocks import BLOCK, blocks, mean_of
from qc.stats.charts.cusum import cusum_chart


@pytest.mark.parametrize("n", [0, 1, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 7])
def test_blocks_cover_every_value_once(n: int) -> None:
    seen = np.zeros(n, dtype=int)
    for part in blocks(n):
        seen[part] += 1
        assert part.stop - part.start <= BLOCK
    assert (seen == 1).all()


@pytest.mark.parametrize("offset", [0.0, 160.0, -1e6, 1e9, 1e12])
def test_a_mean_keeps_its_digits_far_from_0(offset: float) -> None:
    x = offset + np.random.default_rng(2).normal(0, 1e-3, 2 * BLOCK + 5)
    exact = sum(map(Fraction, x.tolist())) / len(x)
    assert abs(Fraction(mean_of(x)) - exact) <= Fraction(np.spacing(abs(offset) + 1e-3))


def test_sums_far_from_0_are_those_near_it() -> None:
    near = np.random.default_rng(3).normal(0, 1e-3, 200)
    far = near + 2.0**30
    near = far - 2.0**30  # the same values, as the offset rounds them
    one, other = (cusum_chart(x, sigma=1e-3).charts[0].value for x in (near, far))
    assert other == pytest.approx(one, abs=2e-5)
