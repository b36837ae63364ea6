"""Set, shown and actual temperature are three: which survey speaks for a piece, how surely."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from qc.domain.recipes import SettingRow
from tests.qc.presses.made import EVEN, instruments, readings, survey
from tests.qc.presses.recipes_made import found, one, piece, recipe

ASKED = recipe(temperature_c=150.0, temperature_low_c=145.0, temperature_high_c=155.0)


def actual(*surveys: list[dict[str, Any]], day: float = 10.0, shown: float = 150.0,
           **given: Any) -> SettingRow:
    result = found([piece(day, temperature_c=shown)], [ASKED],
                   surveys=readings(*surveys), **given)
    return one(result, "actual_temperature_c")


def state(row: SettingRow) -> str:
    name, = [name for name in ("below", "above", "inside", "not_shown", "no_survey")
             if getattr(row, f"n_{name}")]
    return name


@pytest.mark.parametrize(("offset", "wanted", "hidden"), [
    (0.0, "inside", 0), (-3.9, "inside", 0), (-4.1, "not_shown", 0), (-5.9, "not_shown", 0),
    (-6.2, "below", 1), (6.2, "above", 1)])
def test_outside_is_said_only_beyond_the_uncertainty(
    offset: float, wanted: str, hidden: int
) -> None:
    """The probe is good to 1 degC (k = 2): JCGM 106:2012, 8.3, guarded rejection."""
    row = actual(survey(9, offset))
    assert (state(row), row.n_hidden) == (wanted, hidden)
    assert row.off_median == pytest.approx(offset)


def test_a_display_outside_hides_nothing() -> None:
    row = actual(survey(9, -3.0), shown=141.0)
    assert (state(row), row.n_hidden) == ("below", 0)


def test_a_hot_platen_may_make_up_for_a_low_display_and_both_are_told() -> None:
    result = found([piece(temperature_c=143.0)], [ASKED], surveys=readings(survey(9, 7.0)))
    assert one(result, "temperature_c").n_below == 1
    assert one(result, "actual_temperature_c").n_inside == 1


def test_the_latest_survey_at_or_before_the_pressing_counts() -> None:
    rounds = (survey(2, -8.0), survey(10, 0.0), survey(10.5, -8.0))
    assert state(actual(*rounds, day=9.9)) == "below"
    assert state(actual(*rounds, day=10.0)) == "inside"
    assert state(actual(*rounds, day=10.6)) == "below"
    assert state(actual(*rounds, day=1.9)) == "no_survey"


def test_what_was_left_counts_after_an_adjustment() -> None:
    rounds = (survey(9, -8.0, state="as_found"), survey(9, 0.2, state="as_left"))
    assert state(actual(*rounds)) == "inside"


def test_an_old_survey_says_nothing() -> None:
    assert state(actual(survey(1, -8.0), day=15.0)) == "below"
    assert state(actual(survey(1, -8.0), day=15.01)) == "no_survey"
    assert state(actual(survey(1, -8.0), day=15.0, valid_days=7)) == "no_survey"


def test_the_lower_platen_another_press_and_a_partial_survey_do_not_speak() -> None:
    whole = survey(2, 0.0)
    assert state(actual(whole, survey(9, -8.0, platen="lower"))) == "inside"
    assert state(actual(whole, survey(9, -8.0, press="P2"))) == "inside"
    assert state(actual(whole, survey(9, -8.0, pattern=EVEN[:3]))) == "inside"


def test_a_probe_without_a_record_counts_as_the_shops_default() -> None:
    """3.8 degC: from type K wire, meter, contact and repeats of an uncalibrated probe
    (`guard_bands`)."""
    unknown: pd.DataFrame = instruments().iloc[:0]
    assert state(actual(survey(9, -8.0), probes=unknown)) == "not_shown"
    assert state(actual(survey(9, -8.9), probes=unknown)) == "below"


def test_without_a_display_there_is_no_actual_temperature() -> None:
    result = found([piece()], [ASKED], surveys=readings(survey(9, -8.0)))
    assert [(row.quantity, row.n_not_recorded) for row in result.untold] == [("temperature_c", 1)]
    assert result.rows == ()
