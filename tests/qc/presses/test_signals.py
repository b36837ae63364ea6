from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from tests.qc.presses.made import EVEN, T0, noisy_shop, presses, readings, signals_at, survey


def weekly(*offsets: float, first: float = 0, **more) -> list:
    return [survey(first + 7 * i, offset, **more) for i, offset in enumerate(offsets)]


COLD = np.array(EVEN) - 7.0 * (np.arange(9) == 2)


def test_nothing_to_say_of_an_even_platen() -> None:
    assert signals_at(90, readings(*weekly(*[0.5, -0.4] * 6))) == []


def test_a_jump_beyond_the_tolerance_is_said_at_its_survey() -> None:
    (one,) = signals_at(99, readings(*weekly(0.1, -0.2, 0.0, 0.2, 6.0)))
    assert (one.characteristic, one.direction) == ("temperature_error_c", "up")
    assert one.signalled_at_us == T0 + 28 * DAY_US
    assert T0 + 21 * DAY_US <= one.changed_at_us <= T0 + 28 * DAY_US
    assert one.last_good_us == T0 + 21 * DAY_US
    assert one.ended_at_us is None and one.after == pytest.approx(6.0)
    assert one.before == pytest.approx(0.0, abs=0.3)


def test_a_first_survey_just_beyond_waits_for_a_second() -> None:
    assert signals_at(5, readings(*weekly(4.2))) == []
    (one,) = signals_at(9, readings(*weekly(4.2, 4.3)))
    assert one.signalled_at_us == T0 + 7 * DAY_US
    (far,) = signals_at(5, readings(*weekly(6.0)))
    assert far.signalled_at_us == T0 and far.before is None


def test_as_left_ends_it() -> None:
    frame = readings(*weekly(0.1, -0.2, 0.0, 0.2), survey(28, -6.0, state="as_found"),
                     survey(28, 0.1, state="as_left"), *weekly(0.0, 0.2, first=35))
    (one,) = signals_at(99, frame)
    assert one.direction == "down"
    assert one.signalled_at_us == one.ended_at_us == T0 + 28 * DAY_US
    assert one.after == pytest.approx(-6.0)


def test_as_left_out_of_tolerance_does_not_end_it() -> None:
    frame = readings(*weekly(0, 0, 0, 0, 6.0), survey(29, 5.0, state="as_left"))
    (one,) = signals_at(99, frame)
    assert one.ended_at_us is None


def test_an_adjustment_nobody_recorded_ends_it_too() -> None:
    (one,) = signals_at(99, readings(*weekly(0, 0, 0, 0, 6.0, 6.2, 0.2, 0.1)))
    assert one.ended_at_us == T0 + 42 * DAY_US


def test_noise_about_a_level_just_inside_is_no_flag() -> None:
    offsets = [3.2, 3.8, 3.3, 3.6, 3.1, 4.2, 3.2, 3.7]
    assert signals_at(99, readings(*weekly(*offsets))) == []


def test_a_slow_drift_is_said_before_it_crosses() -> None:
    offsets = [*[0.0, 0.3, -0.3] * 3, *(0.8 * np.arange(1, 7))]
    (one,) = signals_at(200, readings(*weekly(*offsets)))
    crossing_us = T0 + round((56 + 7 * 5) * DAY_US)
    assert one.signalled_at_us < crossing_us
    assert "drifts" in one.reason
    low, high = one.changed_between_us
    assert low <= T0 + 56 * DAY_US <= high and low <= one.changed_at_us <= high


def test_a_small_step_inside_the_tolerance_is_no_flag() -> None:
    assert signals_at(200, readings(*weekly(*[0.0] * 8, *[1.8] * 8))) == []


def test_a_drift_back_to_the_setpoint_is_no_flag() -> None:
    offsets = np.linspace(-3.0, 0.0, 12)
    assert signals_at(200, readings(*weekly(*offsets))) == []


def test_a_cold_corner_is_named() -> None:
    frame = readings(*weekly(0, 0, 0, 0), *weekly(0, 0, first=28, pattern=COLD))
    (one,) = signals_at(99, frame)
    assert (one.characteristic, one.coldest) == ("temperature_spread_c", (1, 3))
    assert one.signalled_at_us == T0 + 28 * DAY_US
    assert T0 + 21 * DAY_US <= one.changed_at_us <= T0 + 28 * DAY_US
    assert one.before == pytest.approx(2.0)
    assert "row 1, column 3" in one.reason


def test_a_cold_corner_did_not_begin_while_it_was_seen_good() -> None:
    rng = np.random.default_rng(14)
    for _ in range(20):
        noise = [np.array(EVEN) + rng.normal(0, 0.6, 9) for _ in range(6)]
        noise[-1][2] -= 8.0
        frame = readings(*[survey(7 * i, pattern=one) for i, one in enumerate(noise)])
        (one,) = signals_at(99, frame)
        assert one.last_good_us == T0 + 28 * DAY_US
        assert one.last_good_us <= one.changed_between_us[0] <= one.changed_at_us
        assert one.changed_at_us <= one.changed_between_us[1] == T0 + 35 * DAY_US


def test_a_corner_that_was_cold_inside_the_tolerance_began_before() -> None:
    """Cold from the survey of day 28 on, but beyond the tolerance only at that of day 42."""
    wide = presses("P1", uniformity_tolerance_c=8.2)
    cold = [np.array(EVEN) - size * (np.arange(9) == 2) for size in (7.0, 7.1, 9.5)]
    frame = readings(*weekly(0, 0, 0, 0),
                     *[survey(28 + 7 * i, pattern=one) for i, one in enumerate(cold)])
    (one,) = signals_at(99, frame, wide)
    assert T0 + 21 * DAY_US <= one.changed_between_us[0] < T0 + 28 * DAY_US


def test_a_step_or_a_drift_is_said_so_where_it_cannot_be_told() -> None:
    (one,) = signals_at(99, readings(*weekly(0.1, -0.2, 0.0, 0.2, -0.1, 0.1, 0.0, 3.9)))
    assert "a day or stepped" in one.reason


def test_one_poor_reading_inside_the_tolerance_is_no_flag() -> None:
    wide = presses("P1", uniformity_tolerance_c=9.0)
    once = readings(*weekly(0, 0, 0, 0, 0), survey(35, pattern=COLD), *weekly(0, 0, first=42))
    assert signals_at(99, once, wide) == []
    twice = readings(*weekly(0, 0, 0, 0, 0), *weekly(0, 0, first=35, pattern=COLD))
    (one,) = signals_at(99, twice, wide)
    assert one.signalled_at_us == T0 + 42 * DAY_US


def test_without_tolerances_nothing_can_be_said() -> None:
    none = presses("P1", temperature_tolerance_c=None, uniformity_tolerance_c=None)
    assert signals_at(99, readings(*weekly(0, 9.0, 20.0)), none) == []


def test_few_points_off_by_far_are_said() -> None:
    frame = readings(*weekly(0, 0, 0, 0), survey(28, 8.0, pattern=[0.0]))
    (one,) = signals_at(99, frame)
    assert one.characteristic == "temperature_error_c"


def test_what_was_said_stays_as_surveys_come_in() -> None:
    rng = np.random.default_rng(11)
    frame, listed = noisy_shop(rng, drift_c_per_day=0.15, corner_c=6.0)
    last = signals_at(190, frame, listed)
    assert {s.characteristic for s in last if s.press == "P0"} == {
        "temperature_error_c", "temperature_spread_c"}

    def said(signals: list) -> set:
        return {(s.press, s.platen, s.characteristic, s.signalled_at_us, s.changed_at_us,
                 s.changed_between_us, s.before, s.last_good_us) for s in signals}

    for day in range(60, 190, 13):
        as_of = T0 + day * DAY_US
        then = signals_at(day, frame, listed)
        known = frame[frame["measured_at"] <= as_of]
        assert said(then) == {one for one in said(last) if one[3] <= as_of}
        assert signals_at(day, known, listed) == then


@pytest.mark.parametrize(("fault", "days"), [
    ({"drift_c_per_day": 0.15}, 32), ({"drift_c_per_day": 0.25}, 24), ({"corner_c": 6.0}, 18),
])
def test_planted_faults_are_found_and_dated(fault: dict[str, float], days: float) -> None:
    rng = np.random.default_rng(12)
    name = "temperature_spread_c" if "corner_c" in fault else "temperature_error_c"
    delays, errors = [], []
    for _ in range(12):
        frame, listed = noisy_shop(rng, weeks=18, **fault)
        mine = [s for s in signals_at(140, frame, listed)
                if (s.press, s.platen, s.characteristic) == ("P0", "upper", name)]
        assert len(mine) == 1
        delays.append((mine[0].signalled_at_us - T0) / DAY_US - 80)
        errors.append((mine[0].changed_at_us - T0) / DAY_US - 80)
    assert 0 < max(delays) < days
    assert np.median(np.abs(errors)) < 8


def test_false_flags_are_rare() -> None:
    rng = np.random.default_rng(13)
    n = Counter(len(signals_at(190, *noisy_shop(rng))) for _ in range(20))
    assert n[0] >= 18  # about 3 in 100 half years of such a shop have one


def versions(*rows: tuple[int, float | None]) -> pd.DataFrame:
    """The list of presses with every version: since which day, which tolerance."""
    return pd.concat([
        presses("P1", temperature_tolerance_c=tolerance).assign(from_us=T0 + day * DAY_US)
        for day, tolerance in rows], ignore_index=True)


def test_a_survey_is_judged_by_the_tolerance_of_its_day() -> None:
    frame = readings(*weekly(2.4, 2.6, 2.5, 2.4, 2.6, 2.5))
    assert signals_at(99, frame, versions((0, 4.0), (90, 2.0))) == []
    (one,) = signals_at(99, frame, versions((0, 4.0), (20, 2.0)))
    assert (one.signalled_at_us, one.tolerance_c) == (T0 + 21 * DAY_US, 2.0)
    assert one.last_good_us == T0 + 14 * DAY_US


def test_a_wider_tolerance_later_takes_no_signal_back() -> None:
    frame = readings(*weekly(0.1, -0.2, 0.0, 0.2, 6.0, 6.1))
    before = signals_at(99, frame, versions((0, 4.0)))
    assert signals_at(99, frame, versions((0, 4.0), (60, 9.0))) == before
    (one,) = signals_at(99, readings(*weekly(0.1, -0.2, 0.0, 0.2, 6.0), *weekly(0.0, first=63)),
                        versions((0, 4.0), (60, 9.0)))
    assert (one.tolerance_c, one.ended_at_us) == (4.0, T0 + 63 * DAY_US)


def test_without_a_tolerance_then_nothing_was_said_then() -> None:
    frame = readings(*weekly(6.0, 6.1, 5.9, 6.0))
    (one,) = signals_at(99, frame, versions((0, None), (15, 4.0)))
    assert one.signalled_at_us == T0 + 21 * DAY_US
