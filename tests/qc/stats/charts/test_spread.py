from __future__ import annotations

import datetime as dt
import tracemalloc
from statistics import fmean, stdev

import numpy as np
import pytest

from qc.stats.charts import spread
from qc.stats.charts.baselines import Baseline, Excluded, base_points
from qc.stats.charts.constants import c4, d2
from qc.stats.charts.spread import (
    deviation_sigma,
    equal_subgroups,
    factor_each,
    gathered,
    range_sigma,
    subgroups,
)
from tests.published import case


def _slow(values, labels) -> list[tuple[int, float, float, float]]:
    members: dict = {}
    for value, label in zip(values, labels, strict=True):
        members.setdefault(label, []).append(value)
    return [(len(own), fmean(own), max(own) - min(own), stdev(own) if len(own) > 1 else np.nan)
            for own in members.values()]


def _rows(groups) -> np.ndarray:
    return np.c_[groups.size, groups.mean, groups.spread_range, groups.deviation]


LABELS = {
    "whole numbers": lambda k: k,
    "falling": lambda k: -k,
    "texts": lambda k: f"lot {k % 7}{k}",
    "fractions": lambda k: k / 4,
    "days": lambda k: np.datetime64("2026-03-01") + (k * 37) % 101,
    "moments": lambda k: dt.datetime(2026, 3, 1) + dt.timedelta(hours=k),
    "of two types": lambda k: str(k) if k % 2 else k,
    "pairs": lambda k: frozenset((k, "press")),
    "yes and no": lambda k: k % 2 == 0,
}


@pytest.mark.parametrize("label", LABELS.values(), ids=LABELS)
@pytest.mark.parametrize("arrangement", ["together", "mixed"])
def test_any_label_gathers_as_a_plain_loop_does(label, arrangement: str) -> None:
    rng = np.random.default_rng(5)
    number = np.repeat(np.arange(40), rng.integers(1, 9, 40))
    if arrangement == "mixed":
        number = rng.permutation(number)
    labels = [label(int(k)) for k in number]
    if isinstance(labels[0], frozenset) or isinstance(labels[1], str):
        labels = np.array([*labels, None], dtype=object)[:-1]
    values = rng.normal(180, 3, len(number))
    np.testing.assert_allclose(_rows(subgroups(values, labels)), _slow(values, list(labels)),
                               rtol=1e-11, atol=1e-12)


@pytest.mark.parametrize("name", ["xbar_r_s_ishikawa_p66", "xbar_r_s_wafer_thickness",
                                  "xbar_r_s_vane_opening"])
def test_subgroups_as_recomputed_to_ten_digits(name: str) -> None:
    published = case(name)
    x = np.array(published["data"]["subgroups"], dtype=float)
    for groups in (equal_subgroups(x), subgroups(x.ravel(), np.repeat(np.arange(len(x)), 5))):
        for field, wanted in [("mean", "subgroup_mean"), ("spread_range", "subgroup_range"),
                              ("deviation", "subgroup_sd")]:
            np.testing.assert_allclose(getattr(groups, field), published["recomputed"][wanted],
                                       rtol=1e-9)


@pytest.mark.parametrize("block", [1, 7, 100])
def test_the_size_of_a_block_shows_nowhere(monkeypatch, block: int) -> None:
    rng = np.random.default_rng(6)
    labels = np.repeat(np.arange(50), rng.integers(1, 30, 50))
    values = rng.normal(size=len(labels))
    whole = _rows(subgroups(values, labels))
    monkeypatch.setattr(spread, "BLOCK", block)
    np.testing.assert_allclose(_rows(subgroups(values, labels)), whole, rtol=1e-12)


@pytest.mark.parametrize("size", [2, 5, 64, 65, 300])
def test_equal_sizes_are_summed_up_as_any_others(size: int) -> None:
    table = np.random.default_rng(size).normal(180, 2, (400, size))
    groups = equal_subgroups(table)
    np.testing.assert_allclose(_rows(groups), np.c_[
        np.full(400, size), table.mean(axis=1), np.ptp(table, axis=1), table.std(axis=1, ddof=1),
    ], rtol=1e-11)
    with_one_more = subgroups(np.r_[table.ravel(), 1.0, 2.0], np.arange(400 * size + 2) // size)
    np.testing.assert_allclose(_rows(with_one_more)[:400], _rows(groups), rtol=1e-11)


def test_members_stand_together_in_order_of_first_appearance() -> None:
    values, starts = gathered(np.arange(8.0), list("bacabbac"))
    assert values.tolist() == [0, 4, 5, 1, 3, 6, 2, 7]
    assert starts.tolist() == [0, 3, 6]
    rows, starts = gathered(np.arange(8.0).reshape(4, 2), [2, 1, 2, 1])
    assert rows.tolist() == [[0, 1], [4, 5], [2, 3], [6, 7]]
    assert starts.tolist() == [0, 2]


def test_nothing_is_sorted_or_copied_where_members_stand_together() -> None:
    values = np.arange(6.0)
    same, starts = gathered(values, [5, 5, 3, 3, 3, 9])
    assert same is values
    assert starts.tolist() == [0, 2, 5]


def test_a_long_series_needs_little_memory_beside_its_values() -> None:
    values, labels = np.random.default_rng(0).normal(size=1_000_000), np.arange(1_000_000) // 5
    tracemalloc.start()
    subgroups(values, labels)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2 * values.nbytes


@pytest.mark.parametrize("value", [0.1, 1 / 3, -7.7, 1e300])
def test_equal_values_do_not_vary(value: float) -> None:
    groups = equal_subgroups(np.full((4, 3), value))
    assert not groups.deviation.any()
    assert not groups.spread_range.any()
    assert groups.mean == pytest.approx(value)


def test_factors_follow_each_subgroups_own_size() -> None:
    size = np.array([2.0, 5.0, 2.0, 9.0])
    np.testing.assert_array_equal(factor_each(d2, size), [d2(2), d2(5), d2(2), d2(9)])
    assert factor_each(c4, np.array([4.0, 4.0])) == c4(4)
    assert range_sigma(np.array([1.0, 2.0]), np.array([2.0, 5.0])) == pytest.approx(
        (1 / d2(2) + 2 / d2(5)) / 2)
    assert deviation_sigma(np.array([1.0, 2.0]), np.array([2.0, 5.0])) == pytest.approx(
        (1 / c4(2) + 2 / c4(5)) / 2)


def test_a_baseline_chooses_among_subgroups() -> None:
    groups = equal_subgroups(np.arange(12.0).reshape(4, 3))
    base = base_points(Baseline(first=1, last=3, excluded=(Excluded(at=2, reason="wrong lot"),)), 4)
    assert groups.chosen(base).mean.tolist() == [1, 7]


@pytest.mark.parametrize(("labels", "message"), [
    ([1, 1], "values has 3 values and subgroup 2; they must be as many"),
    ([1.0, np.nan, 2.0], "subgroup is nan at position 2; every value needs one"),
    (["a", "a", None], "subgroup is None at position 3"),
    (np.array(["2026-01-01", "NaT", "2026-01-02"], dtype="M8[D]"), "subgroup is NaT at position 2"),
    ([["a", "b"], ["a", "b"], ["a", "b"]], "subgroup has 2 dimensions"),
])
def test_a_label_that_cannot_be_is_named(labels, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        subgroups(np.array([1.0, 2.0, 3.0]), labels)
