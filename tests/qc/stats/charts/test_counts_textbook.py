"""Charts of counts against worked examples of a textbook, first limits and revised ones."""

from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Chart
from qc.stats.charts.rare_events import POWER, t_chart
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart
from tests.published import case

BOOK = case("counts_textbook")
CHARTS = {"p": p_chart, "np": np_chart, "u": u_chart, "c": c_chart}


def _charted(example: dict, **options) -> Chart:
    columns = [example[name] for name in ("count", "size") if name in example]
    return CHARTS[example["chart"]](*columns, **options).charts[0]


def _check(found: Chart, printed: dict) -> None:
    lines = [found.lower[0], found.centre, found.upper[0]]
    wanted = [printed["lower"], printed["centre"], printed["upper"]]
    assert lines == pytest.approx(wanted, abs=printed["tolerance"])
    assert found.signalled().tolist() == printed["signals"]


@pytest.mark.parametrize("name", BOOK["cases"])
def test_limits_as_printed(name: str) -> None:
    example = BOOK["cases"][name]
    assert sum(example["count"]) == example["total"]
    _check(_charted(example), example)


@pytest.mark.parametrize("name", [n for n, c in BOOK["cases"].items() if "revised" in c])
def test_limits_revised_without_the_points_whose_cause_was_found(name: str) -> None:
    example = BOOK["cases"][name]
    left_out = tuple(Excluded(at=at, reason="cause found") for at in example["excluded"])
    baseline = Baseline(first=1, last=len(example["count"]), excluded=left_out)
    _check(_charted(example, baseline=baseline), example["revised"])


def test_times_between_failures_transformed_as_printed() -> None:
    printed = BOOK["times"]
    x, y = np.array(printed["x"]), np.array(printed["y"])
    np.testing.assert_allclose(x ** printed["power"], y, atol=printed["tolerance"])
    found = t_chart(x)
    main, moving = found.charts
    assert main.signalled().tolist() == printed["signals"]
    # the printed power is rounded, so values differ by a factor x^(1/3.6 - 0.2777)
    stretch = x ** (POWER - printed["power"])
    np.testing.assert_allclose(moving.value, np.abs(np.diff(y * stretch)), atol=1e-4)
    assert main.centre**POWER == pytest.approx((y * stretch).mean(), abs=1e-5)
    assert main.lower[0] == 0
