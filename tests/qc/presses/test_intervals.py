"""Advice on the interval between checks (the rule itself: common practice, no source)."""

from __future__ import annotations

import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from qc.presses.intervals import interval_advice
from qc.presses.surveys import LimitsOverTime, limits_over_time, surveys_of
from tests.qc.presses.made import EVEN, T0, health_at, presses, readings, survey


def asked(*rows: tuple[float, dict]) -> LimitsOverTime:
    """What was asked of a press, since which days."""
    frame = pd.concat([presses("P1", **fields).assign(from_us=T0 + round(day * DAY_US))
                       for day, fields in rows], ignore_index=True)
    return limits_over_time(frame)["P1"]


WEEKLY = asked((0, {}))


def advice(*surveys: list, limits: LimitsOverTime = WEEKLY, drift_shown: bool = False):
    found = surveys_of(readings(*surveys))["P1", "upper"]
    return interval_advice(found, limits, drift_shown=drift_shown)


def checks(*offsets: float, every: float = 7.0, first: float = 0.0, **more) -> list:
    return [survey(first + every * i, offset, **more) for i, offset in enumerate(offsets)]


@pytest.mark.parametrize(("offsets", "action", "days", "n_good"), [
    ((0.5, 0.2, -0.4), "keep", 7.0, 2),  # the first has no interval before it
    ((0.5, 0.2, -0.4, 0.1), "lengthen", 10.5, 3),
    ((0.5, 0.2, -0.4, 4.5), "halve", 3.5, 0),
    ((0.5, 4.5, -0.4, 0.1), "keep", 7.0, 2),
    ((0.5, 4.5, -0.4, 0.1, 0.3), "lengthen", 10.5, 3),
])
def test_three_good_in_a_row_lengthen_and_a_bad_one_halves(
    offsets: tuple[float, ...], action: str, days: float, n_good: int
) -> None:
    found = advice(*checks(*offsets))
    assert (found.action, found.advised_days, found.n_good) == (action, days, n_good)
    assert found.days == 7.0 and found.n_needed == 3
    bad = [i for i, offset in enumerate(offsets) if abs(offset) > 4]
    assert found.last_bad_us == (T0 + 7 * bad[-1] * DAY_US if bad else None)


def test_what_was_found_counts_not_what_was_left() -> None:
    found = advice(*checks(0, 0, 0), survey(21, 5.0, state="as_found"),
                   survey(21.1, 0.0, state="as_left"))
    assert found.action == "halve"
    mended = advice(*checks(0, 0, 0), survey(21, 5.0, state="as_found"),
                    survey(21.1, 0.0, state="as_left"), *checks(0, 0, 0, first=28))
    assert (mended.action, mended.n_good) == ("lengthen", 3)


def test_a_wide_spread_is_bad_too() -> None:
    wide = [value * 4 for value in EVEN]
    assert advice(*checks(0, 0, 0, 0), survey(28, pattern=wide)).action == "halve"


def test_looks_long_before_they_are_due_do_not_lengthen() -> None:
    assert advice(*checks(0, 0, 0, 0, 0, every=1.0)).n_good == 0
    assert advice(*checks(0, 0, 0, 0, every=6.0)).action == "lengthen"


def test_no_lengthening_while_a_drift_is_shown() -> None:
    found = advice(*checks(0, 0.5, 1.0, 1.5, 2.0), drift_shown=True)
    assert (found.action, found.drift_shown) == ("keep", True)
    (one,) = health_at(29, readings(*checks(0, 0.7, 1.4, 2.1, 2.8)))
    assert one.slope_interval[0] > 0 and one.interval.action == "keep"


def test_only_checks_since_the_interval_was_set_count() -> None:
    """Else the three that lengthened it would lengthen it again."""
    longer = asked((0, {}), (22, {"check_every_days": 10.5}))
    assert advice(*checks(0, 0, 0, 0), limits=longer).n_good == 0
    again = advice(*checks(0, 0, 0, 0), *checks(0, 0, 0, 0, every=10.5, first=31.5), limits=longer)
    assert (again.action, again.advised_days) == ("lengthen", 15.75)
    other = asked((0, {}), (22, {"temperature_tolerance_c": 3.5}))
    assert advice(*checks(0, 0, 0, 0), limits=other).action == "lengthen"


def test_a_daily_check_is_not_halved() -> None:
    daily = asked((0, {"check_every_days": 1.0}))
    found = advice(*checks(0, 5.0, every=1.0), limits=daily)
    assert (found.action, found.advised_days) == ("keep", 1.0)


@pytest.mark.parametrize("fields", [{"check_every_days": None}, {"temperature_tolerance_c": None}])
def test_no_advice_without_an_interval_or_a_tolerance(fields: dict) -> None:
    assert advice(*checks(0, 0, 0, 0), limits=asked((0, fields))) is None
