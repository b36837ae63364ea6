from __future__ import annotations

import numpy as np
import pytest

from qc.presses.drift import trend_of
from qc.presses.lines import DRIFT_C_PER_DAY, KNOTS_PER_GAP, STILL_C_PER_DAY, lines_of
from qc.presses.surveys import surveys_of
from tests.qc.presses.made import readings, survey
from tests.reference import lines as plain

WEEKS = np.arange(-19, 1) * 7.0
SERIES = {
    "drift": [-1.0, -0.2, 0.3, 1.1, 1.6, 2.4],
    "late": [0.2, -0.1, 0.1, 0.0, 1.4, 2.9],
    "step": [1.9, 2.2, 2.0, -0.4, -0.1, 0.2],
    "noise": [0.3, -0.4, 0.1, 0.2, -0.3, 0.1],
}


@pytest.mark.parametrize("name", SERIES)
@pytest.mark.parametrize("days", [[-35, -28, -21, -14, -7, 0], [-40, -29, -27, -12, -4, 0]])
def test_the_fan_is_that_of_a_plain_average_over_paths(name: str, days: list[float]) -> None:
    days, sigma = [float(day) for day in days], 0.4
    found = lines_of(np.array(days), np.array(SERIES[name]), sigma)
    paths = plain.paths(days, KNOTS_PER_GAP)
    for ahead in (0.0, 10.0, 60.0):
        parts = plain.mixture(days, SERIES[name], sigma, ahead, paths)
        low, high = found.between(np.array([ahead]))
        assert low[0] == pytest.approx(plain.quantile(parts, 0.025), abs=2e-4)
        assert high[0] == pytest.approx(plain.quantile(parts, 0.975), abs=2e-4)
        below = sum(w * plain.norm.cdf(1.0, mean, sd) for w, mean, sd in parts)
        assert found.below(1.0, ahead) == pytest.approx(below, abs=1e-4)


@pytest.mark.parametrize(("name", "kind"), [
    ("drift", "line"), ("late", "hinge"), ("step", "step"), ("noise", "line"),
])
def test_the_likeliest_line_is_drawn(name: str, kind: str) -> None:
    assert lines_of(np.arange(-5, 1) * 7.0, np.array(SERIES[name]), 0.4).best.kind == kind


def test_without_noise_the_line_is_the_truth() -> None:
    best = lines_of(WEEKS, 1.0 + 0.05 * WEEKS, 0.4).best
    assert (best.level, best.slope) == (pytest.approx(1.0), pytest.approx(0.05))
    late = lines_of(WEEKS, 0.2 * np.maximum(0.0, WEEKS + 49), 0.4).best
    assert (late.kind, late.start) == ("hinge", pytest.approx(-49.0))
    assert (late.level, late.slope) == (pytest.approx(9.8), pytest.approx(0.2))


@pytest.mark.parametrize("at", [3, 10, 17])
def test_one_wild_survey_does_not_bend_the_line(at: int) -> None:
    rng = np.random.default_rng(31)
    slopes = []
    for _ in range(40):
        values = 0.03 * WEEKS + rng.normal(0, 0.4, 20)
        values[at] += 5.0
        found = lines_of(WEEKS, values, 0.4)
        slopes.append(found.best.slope)
        low, high = found.slope_between()
        assert low < 0.08 and high > -0.02
    assert np.mean(slopes) == pytest.approx(0.03, abs=0.004)


def test_intervals_hold_what_they_say() -> None:
    """Lines drawn from what is thought beforehand: then 95 % must hold, but for luck."""
    rng = np.random.default_rng(32)
    days, held = np.arange(-9, 1) * 7.0, []
    for number in range(600):
        slope = rng.normal(0, (STILL_C_PER_DAY, DRIFT_C_PER_DAY)[number % 2])
        found = lines_of(days, slope * days + rng.normal(0, 0.4, 10), 0.4)
        low, high = found.between(np.array([20.0]))
        held.append(low[0] <= slope * 20.0 <= high[0])
    assert np.mean(held) == pytest.approx(0.95, abs=0.03)


def test_a_platen_that_holds_still_is_known_ever_better() -> None:
    rng = np.random.default_rng(35)
    width = []
    for n in (6, 13, 26, 104):
        days = np.arange(1 - n, 1) * 7.0
        ends = [lines_of(days, rng.normal(0, 0.4, n), 0.4).slope_between() for _ in range(20)]
        width.append(float(np.median([high - low for low, high in ends])))
    assert width[0] > width[1] > width[2] > 0.8 * width[3]
    assert width[2] < 0.03


def trend(*offsets: float, sigma: float = 0.4):
    rows = [survey(7 * i, offset) for i, offset in enumerate(offsets)]
    return trend_of(surveys_of(readings(*rows))["P1", "upper"], sigma)[0]


def test_many_unsaid_adjustments_are_not_one_line() -> None:
    """A drift of 0.1 a day that somebody turns back every eight weeks without saying so."""
    rng = np.random.default_rng(33)
    held, shown = [], []
    for _ in range(60):
        teeth = 0.7 * (np.arange(30) % 8) - 2.0  # the last tooth has six surveys
        found = trend(*(teeth + rng.normal(0, 0.4, 30)))
        held.append(found.low <= 0.1 <= found.high)
        shown.append(found.is_drift)
    assert np.mean(held) > 0.9 and np.mean(shown) > 0.8


def test_a_platen_that_scatters_more_than_the_shop_is_not_believed_more() -> None:
    """Three times the shop's scatter: taken as known, every second one would show a drift."""
    rng = np.random.default_rng(34)
    shown = [trend(*rng.normal(0, 1.2, 20)).is_drift for _ in range(100)]
    assert np.mean(shown) < 0.15
