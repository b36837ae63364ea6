from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.chart import SIGNALS, bit, make_chart, names_of, standardised


def test_every_signal_has_a_bit_of_its_own() -> None:
    assert sum(bit(name) for name in SIGNALS) == 255
    assert names_of(bit("trend") | bit("outside_limits")) == ("outside_limits", "trend")
    assert names_of(0) == ()
    for name in SIGNALS:
        assert names_of(bit(name)) == (name,)


@pytest.mark.parametrize("lower", [np.nan, np.full(3, np.nan), -np.inf])
def test_a_limit_that_does_not_exist_is_never_crossed(lower) -> None:
    chart = make_chart("one-sided", 0.0, np.array([-50.0, 1.0, 5.0]), lower, 3.0)
    assert chart.signalled().tolist() == [3]


def test_limits_of_each_point() -> None:
    chart = make_chart("each", 0.0, np.array([2.0, 2.0, -2.0]), np.array([-1.0, -3.0, -1.0]),
                       np.array([3.0, 1.0, 3.0]), first_at=2)
    assert chart.at.tolist() == [2, 3, 4]
    assert chart.signalled().tolist() == [3, 4]


def test_a_point_on_the_line_lies_on_it_whatever_its_last_bit() -> None:
    value = np.array([0.1 + 0.2, 0.3, 0.4])
    z = standardised(value, 0.3, 0.1)
    assert z.tolist() == pytest.approx([0, 0, 1])
    assert z[0] == 0
    assert standardised(value, 0.3, 0.0).tolist() == [0, 0, np.inf]


def test_patterns_are_added_to_what_is_outside() -> None:
    patterns = np.full(2, bit("trend"), dtype=np.uint8)
    chart = make_chart("both", 0.0, np.array([0.0, 9.0]), -3.0, 3.0, patterns=patterns)
    assert [names_of(byte) for byte in chart.signals] == [
        ("trend",), ("outside_limits", "trend")]
