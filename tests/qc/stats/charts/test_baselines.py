from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline, Excluded, base_points, neighbours
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.shewhart_counts import p_chart
from qc.stats.charts.spread import moving_range_sigma
from tests.reference.charts import moving_ranges


def without(*places: int, first: int = 1, last: int = 6) -> Baseline:
    return Baseline(first=first, last=last,
                    excluded=tuple(Excluded(at=at, reason="power cut") for at in places))


def test_first_and_last_are_a_view_without_a_copy() -> None:
    x = np.arange(6.0)
    base = base_points((2, 4), 6)
    assert x[base.at].tolist() == [1, 2, 3]
    assert x[base.at].base is x
    assert (base.n, base.baseline) == (3, Baseline(first=2, last=4))
    assert base_points(None, 6).baseline == Baseline(first=1, last=6)


def test_excluded_points_are_left_out_and_stay_on_record() -> None:
    base = base_points(without(2, 5), 8)
    assert np.arange(1, 9)[base.at].tolist() == [1, 3, 4, 6]
    assert base.n == 4
    assert [base.holds(position) for position in (1, 2, 6, 7)] == [True, False, True, False]
    assert base.baseline.excluded[0].reason == "power cut"


def test_a_moving_range_never_reaches_over_an_excluded_point() -> None:
    x = [10.0, 11.0, 90.0, 12.0, 14.0, 13.0]
    base = base_points(without(3), 6)
    assert np.array(x)[neighbours(base)].tolist() == [11, 14, 13]
    kept = moving_ranges(x[:2]) + moving_ranges(x[3:])
    expected = sum(kept) / len(kept) * np.sqrt(np.pi) / 2
    assert moving_range_sigma(np.array(x), base) == pytest.approx(expected, rel=1e-12)


def test_charts_leave_excluded_points_out_of_their_estimates_and_still_plot_them() -> None:
    x = [10.0, 11.0, 90.0, 12.0, 14.0, 13.0]
    chart = individuals_chart(x, baseline=without(3))
    assert chart.charts[0].centre == pytest.approx(12.0)
    assert chart.charts[0].signalled().tolist() == [3]
    assert chart.baseline is not None and chart.baseline.excluded[0].at == 3
    assert ewma_chart(x, baseline=without(3)).charts[0].centre == pytest.approx(12.0)
    d, n = [1, 2, 30, 2, 1, 2], [50] * 6
    assert p_chart(d, n, baseline=without(3)).charts[0].centre == pytest.approx(8 / 250)


@pytest.mark.parametrize(
    ("baseline", "message"),
    [((0, 3), "baseline is 0:3; it must lie inside 1:6"),
     ((3, 2), "baseline is 3:2"),
     ((1, 7), "inside 1:6"),
     (without(7), "excluded has point 7; it must lie inside the baseline 1:6"),
     (without(2, 2), "excluded names point 2 twice"),
     (without(1, 2, 3, 4, 5, 6), "excluded leaves no point"),
     (Baseline(first=1, last=6, excluded=(Excluded(at=2, reason=" "),)), "gives no reason for")],
)
def test_a_baseline_that_cannot_be_is_refused(baseline, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        base_points(baseline, 6)


def test_a_moving_range_needs_two_neighbours() -> None:
    with pytest.raises(ValueError, match="3 points, no two of them neighbours"):
        individuals_chart([1, 2, 3, 4, 5, 6], baseline=without(2, 4, 6))
