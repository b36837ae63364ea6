"""Bars of a histogram: the stated rule, ties, limits at edges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.picture.capability.bins import MOST_BARS, counted


def test_the_width_is_that_of_the_rule() -> None:
    x = np.random.default_rng(1).normal(size=500)
    # numpy's estimator "fd" is an implementation of the same rule
    edges = np.histogram_bin_edges(x, bins="fd")
    assert counted(x, None, 9.0).width == pytest.approx(
        2 * np.subtract(*np.percentile(x, (75, 25))) / 500 ** (1 / 3))
    assert counted(x, None, 9.0).width == pytest.approx(edges[1] - edges[0], rel=0.1)


@pytest.mark.parametrize("step", [0.1, 0.25, 1.0, 5.0])
def test_every_bar_stands_for_as_many_steps(step: float) -> None:
    x = np.round(np.random.default_rng(2).normal(50, 8 * step, 300) / step) * step
    bars = counted(x, 50 - 20 * step, 50 + 20 * step)
    assert bars.step == pytest.approx(step)
    assert bars.width / step == pytest.approx(round(bars.width / step))
    # no edge lies at a value that can be read: each lies half way between two
    part = (bars.edges / step) % 1
    assert part == pytest.approx(0.5, abs=1e-6)


@pytest.mark.parametrize(("lower", "upper"), [(None, 1.0), (-1.0, None), (-1.0, 1.3)])
@pytest.mark.parametrize("decimals", [1, 12])
def test_an_edge_lies_at_a_limit(lower, upper, decimals: int) -> None:
    x = np.random.default_rng(3).normal(size=400).round(decimals)
    bars = counted(x, lower, upper)
    mixed = np.count_nonzero((bars.inside > 0) & (bars.outside > 0))
    assert mixed <= (1 if lower is not None and upper is not None else 0)
    beyond = (x > (9 if upper is None else upper)) | (x < (-9 if lower is None else lower))
    assert bars.outside.sum() == np.count_nonzero(beyond)


@given(st.lists(st.floats(-1e9, 1e9) | st.integers(-5, 5).map(float), min_size=1, max_size=80),
       st.floats(-10, 10))
def test_no_value_is_lost_and_bars_stay_few(values: list[float], upper: float) -> None:
    x = np.array(values)
    bars = counted(x, None, upper)
    assert bars.count.sum() == len(x)
    assert bars.outside.sum() == np.count_nonzero(x > upper)
    slack = 1e-9 + 1e-12 * np.abs(x).max()  # values of a rounding's size share an edge
    assert bars.edges[0] - slack <= x.min() and x.max() <= bars.edges[-1] + slack
    assert len(bars.count) <= MOST_BARS + 3


def test_one_value_far_out_widens_the_bars_and_says_so() -> None:
    bars = counted(np.array([5.0, 5.1, 5.0, 5.2, 1e6]), 4.0, 6.0)
    assert bars.widened
    assert bars.outside.tolist()[-1] == 1
    assert bars.count.sum() == 5


@pytest.mark.parametrize(("value", "outside"), [(5.0, 0), (6.0, 0), (6.5, 4)])
def test_values_all_equal_are_one_bar(value: float, outside: int) -> None:
    bars = counted(np.full(4, value), 4.0, 6.0)
    assert bars.equal
    assert bars.edges[0] < value < bars.edges[1]
    assert (bars.count.tolist(), bars.outside.tolist()) == ([4], [outside])
