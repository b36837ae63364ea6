"""Two groups each against its usual: by hand, bounds, and held as often as said."""

from __future__ import annotations

import math

import numpy as np
import pytest

from qc.stats.comparing.against_usual import compare_to_usual
from qc.stats.comparing.comparisons import compare_rates


def test_it_is_the_ratio_of_two_standardised_ratios() -> None:
    """30 seen of 20 expected against 18 of 24: (30/20) / (18/24) = 2."""
    found = compare_to_usual(30, 600, 20.0, 18, 700, 24.0)
    plain = compare_rates(30, 20.0, 18, 24.0)
    assert found.ratio.value == pytest.approx(2)
    assert (found.ratio.low, found.ratio.high) == pytest.approx((plain.ratio.low, plain.ratio.high))
    assert (found.p_value, found.mid_p) == pytest.approx((plain.p_value, plain.mid_p))
    assert found.judged_p == pytest.approx(found.mid_p)
    at_before = 18 / 24 * 20 / 600  # what the work after would have shown at the level before
    assert found.difference.value == pytest.approx(30 / 600 - at_before)
    assert found.difference.low == pytest.approx(at_before * (found.ratio.low - 1))


def test_spread_stretches_the_interval_on_the_log_scale() -> None:
    one, two = (compare_to_usual(30, 600, 20.0, 18, 700, 24.0, spread=s) for s in (1.0, 2.0))
    assert math.log(two.ratio.high / 2) == pytest.approx(2 * math.log(one.ratio.high / 2))
    assert math.log(2 / two.ratio.low) == pytest.approx(2 * math.log(2 / one.ratio.low))
    assert two.judged_p > one.judged_p and two.mid_p == one.mid_p


def test_none_on_one_side() -> None:
    now = compare_to_usual(0, 300, 9.0, 12, 400, 10.0, spread=1.5)
    assert now.ratio.value == now.ratio.low == 0 and 0 < now.ratio.high < 1
    assert now.difference.high < 0
    before = compare_to_usual(12, 400, 10.0, 0, 300, 9.0, spread=1.5)
    assert before.ratio.value == math.inf and before.ratio.low > 1
    assert 0 < before.difference.low < before.difference.value == 0.03
    neither = compare_to_usual(0, 400, 10.0, 0, 300, 9.0)
    assert math.isnan(neither.ratio.value) and math.isnan(neither.difference.low)


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    """Exact intervals hold at least 95 of 100; clumps of three need the spread to."""
    rng, rounds = np.random.default_rng(4), 1500
    held = {1.0: 0, 3**0.5: 0}
    for spread in held:
        clump = round(spread**2)
        for _ in range(rounds):
            d, d0 = (clump * int(rng.poisson(mean / clump)) for mean in (48.0, 30.0))
            found = compare_to_usual(d, 900, 24.0, d0, 1000, 30.0, spread=spread)
            held[spread] += found.ratio.low <= 2 <= found.ratio.high
    assert all(0.94 < count / rounds < 0.985 for count in held.values()), held


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match=r"spread is 0\.9"):
        compare_to_usual(1, 10, 1.0, 1, 10, 1.0, spread=0.9)
    with pytest.raises(ValueError, match="exposure is 0"):
        compare_to_usual(1, 10, 0.0, 1, 10, 1.0)
