from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from qc.stats.capability.stability import BEYOND, between_p_value, beyond_p_value
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.spread import subgroups
from qc.stats.deviation import standard_deviation

RNG = np.random.default_rng(51)


def test_values_beyond_are_those_the_individuals_chart_signals() -> None:
    x = RNG.normal(size=300)
    x[[40, 200, 201]] += [6, 7, -6]
    n_signals = individuals_chart(x).charts[0].signalled().size
    assert n_signals >= 3
    assert beyond_p_value(x) == pytest.approx(
        stats.binom.sf(n_signals - 1, 300, BEYOND), rel=1e-9)


def test_nothing_beyond_is_no_evidence() -> None:
    assert beyond_p_value(np.array([1.0, 2, 1, 2, 1.5])) == 1


def test_between_subgroups_is_one_way_analysis_of_variance() -> None:
    parts = [RNG.normal(k / 3, 1, n) for k, n in enumerate((5, 3, 8, 2))]
    groups = subgroups(np.concatenate(parts), np.repeat(range(4), [5, 3, 8, 2]))
    assert between_p_value(groups) == pytest.approx(stats.f_oneway(*parts).pvalue, rel=1e-9)


def test_a_subgroup_of_one_counts_between_only() -> None:
    parts = [RNG.normal(size=4), RNG.normal(3, 1, 6), np.array([9.0])]
    groups = subgroups(np.concatenate(parts), np.repeat(range(3), [4, 6, 1]))
    mean = np.concatenate(parts).mean()
    between = sum(len(part) * (part.mean() - mean) ** 2 for part in parts) / 2
    within = sum(((part - part.mean()) ** 2).sum() for part in parts) / 8
    assert between_p_value(groups) == pytest.approx(stats.f.sf(between / within, 2, 8), rel=1e-9)


@pytest.mark.parametrize(("values", "labels"), [
    ([1.0, 2, 3], [1, 1, 1]), ([1.0, 1, 2, 2], [1, 1, 2, 2]),
])
def test_between_needs_two_subgroups_and_variation_within(values, labels) -> None:
    assert math.isnan(between_p_value(subgroups(np.array(values), labels)))


@pytest.mark.parametrize("values", [[0.1] * 9, [0.1 + 0.2, 0.3], [4.0]])
def test_equal_values_have_no_deviation(values) -> None:
    assert standard_deviation(np.array(values)) == 0


@pytest.mark.parametrize("scale", [1e-140, 1.0, 1e140])
def test_deviation_has_divisor_n_less_one(scale: float) -> None:
    assert standard_deviation(scale * np.array([1.0, 2, 4])) == pytest.approx(
        scale * math.sqrt(7 / 3), rel=1e-12)


@pytest.mark.parametrize(("scale", "words"), [(1e-170, "close together"),
                                             (1e-158, "close together"), (1e160, "far apart")])
def test_values_whose_squares_are_no_numbers_are_refused(scale: float, words: str) -> None:
    with pytest.raises(ValueError, match=f"dx from .* are too {words} to compute with"):
        standard_deviation(scale * np.array([1.0, 2, 4]), "dx")
