from __future__ import annotations

import numpy as np
import pytest

from qc.domain.instants import DAY_US
from qc.presses.drift import crossing, drift_series, own_scatter, trend_of
from qc.presses.repeatability import FLOOR_C, repeatability
from qc.presses.shifts import shift_of
from qc.presses.surveys import Limits, platen_map, surveys_of
from tests.qc.presses.made import EVEN, T0, readings, survey

LIMITS = Limits(temperature_tolerance_c=4.0, uniformity_tolerance_c=6.0, check_every_days=7)


def found_of(*offsets: float, **more):
    frame = readings(*[survey(7 * i, offset, **more) for i, offset in enumerate(offsets)])
    return surveys_of(frame)["P1", "upper"]


def test_a_map_is_the_grid_of_errors() -> None:
    (one,) = found_of(1.5)
    drawn = platen_map(one, LIMITS)
    np.testing.assert_allclose(drawn.error_c, 1.5 + np.array(EVEN).reshape(3, 3))
    assert (drawn.setpoint_c, drawn.n_points, drawn.state) == (165.0, 9, "routine")
    assert not drawn.error_c.flags.writeable


def test_a_map_leaves_points_not_probed_open() -> None:
    frame = readings(survey(0)).iloc[[0, 4, 8]]
    drawn = platen_map(surveys_of(frame)["P1", "upper"][0])
    assert np.isnan(drawn.error_c).sum() == 6


def test_the_fan_meets_the_limit_at_the_ends_of_the_crossing() -> None:
    found = found_of(-1.0, -0.2, 0.3, 1.1, 1.6, 2.4)
    trend, _ = trend_of(found, 0.3)
    cross = crossing(trend, 4.0)
    low, high = trend.fan(np.array([cross.soonest, cross.latest]))
    assert (high[0], low[1]) == (pytest.approx(4.0), pytest.approx(4.0))
    assert trend.at(cross.days) == pytest.approx(4.0)


def test_a_slope_not_told_from_none_may_never_cross() -> None:
    trend, _ = trend_of(found_of(0.5, -0.4, 0.3, -0.1, 0.6, 0.2, 0.4), 0.5)
    assert not trend.is_drift
    assert crossing(trend, 4.0) is None


def test_crossing_interval_holds_the_true_crossing() -> None:
    rng = np.random.default_rng(21)
    held = []
    for _ in range(300):
        noise = rng.normal(0, 0.5, 10)
        found = found_of(*(-2.0 + 0.06 * 7 * np.arange(10) + noise))
        trend, _ = trend_of(found, 0.5)
        cross = crossing(trend, 4.0)
        truth = 100.0 - 63.0
        held.append(cross is not None and cross.soonest <= truth
                    and (cross.latest is None or truth <= cross.latest))
    assert np.mean(held) > 0.92


def test_no_crossing_is_said_where_no_drift_is_shown() -> None:
    trend, _ = trend_of(found_of(0.1, 0.3, 0.0, 0.4, 0.2), 0.5)
    assert not trend.is_drift and trend.slope > 0
    assert crossing(trend, 4.0) is None
    assert crossing(trend, None) is crossing(None, 4.0) is None


def test_a_crossing_long_past_is_now() -> None:
    trend, _ = trend_of(found_of(1.0, 2.2, 3.1, 4.2, 5.1, 6.0), 0.3)
    cross = crossing(trend, 4.0)
    assert (cross.days, cross.soonest, cross.latest) == (0.0, 0.0, 0.0)


def test_own_scatter_is_that_about_a_drift_with_a_step() -> None:
    rng = np.random.default_rng(24)
    days = np.cumsum(rng.uniform(3, 14, 400))
    values = 0.2 * days - 30.0 * (days > days[200]) + rng.normal(0, 0.7, 400)
    assert own_scatter(days, values) == pytest.approx(0.7, rel=0.12)


def test_drift_series_carries_line_and_forecast() -> None:
    series = drift_series(found_of(-1.0, -0.3, 0.4, 1.1, 1.8), LIMITS, 0.3)
    assert series.slope_c_per_day == pytest.approx(0.1)
    np.testing.assert_allclose(series.fitted_c, [-1.0, 1.8])
    assert series.forecast_at_us[0] == series.at_us[-1]
    assert series.forecast_at_us[-1] == pytest.approx(series.crosses_at_us, abs=DAY_US)
    assert series.forecast_c[-1] == pytest.approx(4.0, abs=0.02)
    assert (series.forecast_low_c <= series.forecast_c).all()
    assert (series.forecast_high_c >= series.forecast_c).all()


def test_drift_series_of_one_survey_has_no_line() -> None:
    series = drift_series(found_of(1.0), LIMITS, 0.5)
    assert len(series.offset_c) == 1 and len(series.forecast_c) == len(series.fitted_c) == 0
    assert "needs 3 surveys" in series.note


def test_three_surveys_at_one_time_have_no_slope() -> None:
    frame = readings(*[survey(0, 0.1 * i, survey_id=f"S{i}") for i in range(3)])
    trend, why = trend_of(surveys_of(frame)["P1", "upper"], 0.5)
    assert trend is None and "different times" in why


def test_shift_finds_a_hinge_and_a_step_where_put() -> None:
    days = np.arange(0, 140, 7.0)
    hinge = shift_of(days, 0.2 * np.maximum(0, days - 90), 0.3)
    assert hinge.kind == "drift"
    assert hinge.at == pytest.approx(90, abs=0.7) and hinge.rate == pytest.approx(0.2, rel=0.02)
    step = shift_of(days, np.where(days > 88, 2.0, 0.0), 0.3)
    assert (step.kind, step.at, step.now) == ("step", 87.5, pytest.approx(2.0))


def test_a_step_seen_by_the_newest_survey_alone_may_be_that_new() -> None:
    """Two surveys must lie after a change for it to be believed, not for it to be dated."""
    days = np.arange(0, 84, 7.0)
    shift = shift_of(days, np.where(days > 75, 4.0, 0.0), 0.4, min_after=2)
    assert shift.low <= 71 and shift.high == 77.0 and not shift.is_told


@pytest.mark.parametrize("n_after", [1, 2, 4])
def test_interval_of_the_start_of_a_step(n_after: int) -> None:
    rng = np.random.default_rng(25)
    days, held = np.arange(0, 140, 7.0), []
    for _ in range(200):
        start = days[-n_after] - rng.uniform(0, 7)
        shift = shift_of(days, 3.0 * (days > start) + rng.normal(0, 0.4, 20), 0.4, min_after=2)
        held.append(shift.low <= start <= shift.high)
    assert np.mean(held) > 0.95


def test_interval_of_the_start_of_a_drift() -> None:
    rng = np.random.default_rng(22)
    days = np.arange(0, 140, 7.0)
    held = []
    for _ in range(600):
        start = rng.uniform(50, 100)
        shift = shift_of(days, 0.2 * np.maximum(0, days - start) + rng.normal(0, 0.5, 20), 0.5)
        held.append(shift.low <= start <= shift.high)
    assert np.mean(held) > 0.87  # 90 % meant; standard error 0.012


def test_repeatability_of_the_shop_comes_from_its_surveys() -> None:
    rng = np.random.default_rng(23)
    rows = []
    for press in range(6):
        for week in range(40):
            rows.append(survey(7 * week, rng.normal(0, 0.9), press=f"P{press}",
                               pattern=rng.normal(0, 1.2, 9)))
    pooled = repeatability(surveys_of(readings(*rows)))
    last_us = T0 + 400 * DAY_US
    assert pooled.offset_c(last_us) == pytest.approx(np.hypot(0.9, 0.4), rel=0.12)
    assert pooled.point_c(last_us) == pytest.approx(1.2, rel=0.08)
    assert pooled.offset_c(T0) == pytest.approx(0.6)  # before any pair: the usual value


def test_repeatability_has_a_floor() -> None:
    same = repeatability({("P1", "upper"): found_of(*[1.0] * 300)})
    assert same.offset_c(T0 + 9999 * DAY_US) == FLOOR_C
