from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from tests.qc.presses.made import (
    EVEN,
    T0,
    health_at,
    instruments,
    presses,
    readings,
    survey,
)


def weekly(*offsets: float, first: float = 0, **more) -> list:
    return [survey(first + 7 * i, offset, **more) for i, offset in enumerate(offsets)]


def test_offset_and_spread_of_the_latest_survey_by_hand() -> None:
    (one,) = health_at(8, readings(survey(0, 2.0), survey(7, 1.5)))
    assert one.offset_c == pytest.approx(1.5)
    assert one.spread_c == pytest.approx(2.0)
    assert (one.coldest, one.hottest) == ((3, 3), (1, 1))
    assert one.last_survey_at_us == T0 + 7 * DAY_US
    assert (one.state, one.uncertainty_c) == ("in_tolerance", 1.0)
    assert one.due_at_us == T0 + 14 * DAY_US
    assert "needs 3 surveys" in one.reason and one.slope_c_per_day is None


@pytest.mark.parametrize(("offset", "state"), [
    (4.01, "recalibrate"), (-4.01, "recalibrate"), (4.0, "watch"), (-3.1, "watch"),
    (2.99, "in_tolerance"),
])
def test_states_by_offset(offset: float, state: str) -> None:
    (one,) = health_at(1, readings(survey(0, offset)))
    assert one.state == state


@pytest.mark.parametrize(("size", "state"), [(3.2, "recalibrate"), (2.8, "watch"),
                                             (2.4, "in_tolerance")])
def test_states_by_spread(size: float, state: str) -> None:
    pattern = np.array(EVEN) * size
    (one,) = health_at(1, readings(survey(0, pattern=pattern)))
    assert one.state == state
    assert ("coldest near right (row 3, column 3)" in one.reason) == (state == "recalibrate")


def test_out_of_tolerance_is_due_at_once_and_outranks_overdue() -> None:
    (one,) = health_at(90, readings(survey(0, 6.0)))
    assert (one.state, one.due_at_us) == ("recalibrate", T0)
    assert "+6.0 °C" in one.reason and "±4.0 °C" in one.reason


def test_past_due_is_overdue() -> None:
    (one,) = health_at(9, readings(survey(0)))
    assert one.state == "overdue"
    assert "2.0 days ago" in one.reason


def test_a_probe_without_record_cannot_prove_the_tolerance() -> None:
    (one,) = health_at(1, readings(survey(0, instrument=None)),
                       presses("P1", temperature_tolerance_c=3.0))
    assert (one.state, one.uncertainty_c) == ("watch", 3.8)
    assert "no probe named" in one.reason and "can prove ±3.0 °C" in one.reason


def test_platens_never_surveyed_are_there() -> None:
    listed = presses("P1", "P2", heated_lower="yes")
    found = health_at(1, readings(survey(0)), listed)
    assert [(h.press, h.platen, h.state) for h in found] == [
        ("P1", "lower", "unknown"), ("P2", "lower", "unknown"), ("P2", "upper", "unknown"),
        ("P1", "upper", "in_tolerance"),
    ]
    assert found[0].offset_c is None and "No survey" in found[0].reason


def test_most_urgent_first() -> None:
    frame = readings(
        survey(9, 5.0, press="P5"), survey(0, press="P4"), survey(9, 3.5, press="P3"),
        survey(9, press="P1"),
    )
    found = health_at(10, frame, presses("P1", "P2", "P3", "P4", "P5"))
    assert [h.press for h in found] == ["P5", "P4", "P3", "P2", "P1"]


def test_a_press_without_tolerance_is_unknown() -> None:
    none = presses("P1", temperature_tolerance_c=None, uniformity_tolerance_c=None)
    (one,) = health_at(1, readings(survey(0, 9.0)), none)
    assert (one.state, one.crosses_at_us) == ("unknown", None)
    (unlisted,) = health_at(1, readings(survey(0)), presses())
    assert unlisted.state == "unknown" and unlisted.due_at_us is None


def test_one_survey_of_two_platens() -> None:
    frame = readings(survey(0, 1.0, survey_id="S1"),
                     survey(0, -2.0, platen="lower", setpoint=110.0, survey_id="S1"))
    by_platen = {h.platen: h.offset_c for h in health_at(1, frame)}
    assert by_platen == {"upper": pytest.approx(1.0), "lower": pytest.approx(-2.0)}


def test_as_left_is_latest_at_the_same_time() -> None:
    frame = readings(survey(7, -0.2, state="as_left"), survey(7, 5.0, state="as_found"))
    (one,) = health_at(8, frame)
    assert one.offset_c == pytest.approx(-0.2)
    assert one.state == "in_tolerance"


def test_later_surveys_are_not_used() -> None:
    frame = readings(survey(0, 1.0), survey(7, 9.0))
    (one,) = health_at(6, frame)
    assert one.offset_c == pytest.approx(1.0)
    assert health_at(6, frame[frame["measured_at"] <= T0])[0] == one


def test_a_drift_with_its_crossing() -> None:
    offsets = 0.1 * 7 * np.arange(5) - 1.0  # reaches +4 at day 50
    (one,) = health_at(29, readings(*weekly(*offsets)))
    assert one.slope_c_per_day == pytest.approx(0.1)
    assert one.crosses_at_us == pytest.approx(T0 + 50 * DAY_US, abs=DAY_US / 100)
    low, high = one.crosses_between_us
    assert low < one.crosses_at_us < high
    assert one.due_at_us == min(low, T0 + 35 * DAY_US)


def test_the_way_down_mirrors_the_way_up() -> None:
    offsets = 0.1 * 7 * np.arange(5) - 1.0 + np.array([0.2, -0.1, 0, 0.1, -0.2])
    (up,) = health_at(29, readings(*weekly(*offsets)))
    (down,) = health_at(29, readings(*weekly(*-offsets)))
    assert down.slope_c_per_day == pytest.approx(-up.slope_c_per_day)
    assert down.crosses_between_us == pytest.approx(up.crosses_between_us, abs=10)
    assert down.due_at_us == pytest.approx(up.due_at_us, abs=10)


def test_the_forecast_brings_the_due_date_forward_and_says_watch() -> None:
    (one,) = health_at(29, readings(*weekly(-2.0, -1.0, 0.1, 1.0, 2.0)),
                       presses("P1", check_every_days=30.0))
    assert one.state == "watch" and "before the next check" in one.reason
    assert T0 + 29 * DAY_US <= one.due_at_us <= one.crosses_at_us < T0 + 58 * DAY_US


def test_the_setpoint_may_change_between_surveys() -> None:
    surveys = [survey(7 * i, 0.5, setpoint=150.0 + 5 * i) for i in range(6)]
    (one,) = health_at(36, readings(*surveys))
    assert one.slope_c_per_day == pytest.approx(0.0, abs=1e-12)
    assert one.state == "in_tolerance"


def test_a_step_without_a_record_is_not_a_slope() -> None:
    (one,) = health_at(78, readings(*weekly(*[-1.5] * 6, *[2.0] * 6)))
    assert one.slope_c_per_day == pytest.approx(0.0, abs=1e-9)
    assert one.state == "in_tolerance"


def test_an_adjustment_restarts_the_trend() -> None:
    frame = readings(*weekly(0, 1.0, 2.0, 3.0), survey(21, 0.0, state="as_left"),
                     *weekly(0.1, -0.1, 0.0, 0.1, first=28))
    (one,) = health_at(50, frame)
    assert abs(one.slope_c_per_day) < 0.02


def test_a_drift_that_began_late_is_not_diluted() -> None:
    flat, rise = [0.0] * 10, [0.7, 1.4, 2.1]
    (one,) = health_at(85, readings(*weekly(*flat, *rise)))
    assert one.slope_c_per_day == pytest.approx(0.1, rel=0.1)
    assert "since the drift began" in one.reason


def test_fewer_points_than_usual_are_said_and_kept_out_of_the_trend() -> None:
    surveys = [*weekly(*[0.0] * 6), survey(42, 3.5, pattern=[0.0, 0.0])]
    (one,) = health_at(43, readings(*surveys))
    assert "only 2 points" in one.reason
    assert one.slope_c_per_day == pytest.approx(0.0, abs=1e-9)


def test_interval_of_the_slope_holds_the_truth() -> None:
    rng = np.random.default_rng(7)
    held = []
    for _ in range(150):
        offsets = 0.05 * 7 * np.arange(8) - 1.5 + rng.normal(0, 0.4, 8)
        (one,) = health_at(50, readings(*weekly(*offsets)))
        held.append(one.slope_interval[0] <= 0.05 <= one.slope_interval[1])
    assert np.mean(held) > 0.88  # 95 % meant; standard error 0.018, and the start may be cut


def test_no_readings_at_all() -> None:
    empty = readings()
    assert health_at(1, empty, presses()) == []
    assert [h.state for h in health_at(1, empty)] == ["unknown"]


def test_an_empty_list_of_instruments() -> None:
    (one,) = health_at(1, readings(survey(0)), probes=instruments().iloc[:0])
    assert one.uncertainty_c == 3.8 and "not on the list" in one.reason


def test_nullable_columns_of_a_store_are_read() -> None:
    frame = readings(survey(0, 1.0)).astype({"row": "Int64", "measured_at": "Int64"})
    listed = presses("P1").convert_dtypes()
    (one,) = health_at(1, frame, listed, instruments().astype({"due_at": "Int64"}))
    assert one.state == "in_tolerance"
    assert isinstance(one.last_survey_at_us, int)
    assert pd.notna(one.due_at_us)
