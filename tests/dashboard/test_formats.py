"""Numbers, units and times as people read them."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from dashboard import formats
from dashboard.formats import Clock, Heat
from qc.domain.instants import DAY_US, HOUR_US, parse_instant
from qc.units import ShopUnits
from tests.qc.domain.cases_made import flag

LISBON = Clock(ZoneInfo("Europe/Lisbon"))


@pytest.mark.parametrize(("value", "shown"), [
    (0.0123, "1.2 %"), (0.0049, "0.49 %"), (0.0, "0.0 %"), (1.0, "100.0 %"),
    (None, "not known"), (float("nan"), "not known"),
])
def test_share(value: float | None, shown: str) -> None:
    assert formats.share(value).replace(formats.THIN, " ") == shown


@pytest.mark.parametrize(("value", "shown"), [
    (1.234, "1.23×"), (12.34, "12×"), (None, "not known"), (0.05, "0.05×"),
])
def test_times(value: float | None, shown: str) -> None:
    assert formats.times(value) == shown


def test_counts_are_set_apart_and_minus_is_a_minus() -> None:
    assert formats.count(1234567) == f"1{formats.THIN}234{formats.THIN}567"
    assert formats.decimal(-1.25) == "−1.2" and formats.decimal(0.5, sign=True) == "+0.5"


def test_a_temperature_and_a_difference_are_two_things() -> None:
    """150 degC is 302 degF; a difference of 5 degC is 9 degF, without the 32."""
    heat = Heat("f")
    assert heat.reading(150).replace(formats.THIN, " ") == "302.0 °F"
    assert heat.difference(5).replace(formats.THIN, " ") == "+9.0 °F"
    assert Heat("c").difference(-3.25).replace(formats.THIN, " ") == "−3.2 °C"
    assert heat.difference(None) == "not known"


def test_times_are_in_the_shops_zone() -> None:
    noon = parse_instant("2026-07-01T12:00+00:00", ZoneInfo("UTC"))
    assert LISBON.minute(noon) == "Wed 01 Jul 2026, 13:00"
    assert LISBON.wall(noon) == "2026-07-01T13:00"
    assert LISBON.minute(None) == "not known"


@pytest.mark.parametrize(("gone_us", "shown"), [
    (0, "just now"), (-5 * HOUR_US, "just now"), (HOUR_US // 2, "30 min ago"),
    (5 * HOUR_US, "5 h ago"), (3 * DAY_US, "3 days ago"),
])
def test_ago(gone_us: int, shown: str) -> None:
    assert formats.ago(10 * DAY_US - gone_us, 10 * DAY_US) == shown


@pytest.mark.parametrize(("due", "now", "shown"), [
    ("2026-03-20T20:10", "2026-03-23T08:00", "3 days late"),
    ("2026-03-23T06:00", "2026-03-20T20:10", "in 3 days"),  # a Friday evening, due on Monday
    ("2026-03-16T23:00", "2026-03-20T01:00", "4 days late"),
    ("2026-03-20T23:59", "2026-03-20T00:01", "today"), ("2026-03-20T00:01", "2026-03-20T23:59",
                                                        "today"),
    ("2026-03-21T00:01", "2026-03-20T23:59", "in 1 day"),
    ("2026-03-30T00:30", "2026-03-28T23:30", "in 2 days"),  # the clocks go forward between them
])
def test_a_due_date_is_told_by_the_calendar_of_the_shop(due: str, now: str, shown: str) -> None:
    lisbon = ZoneInfo("Europe/Lisbon")
    assert LISBON.until(parse_instant(due, lisbon), parse_instant(now, lisbon)) == shown


def test_the_day_is_the_shops_own() -> None:
    late = parse_instant("2026-03-20T23:30+00:00", ZoneInfo("UTC"))
    next_day = parse_instant("2026-03-21T01:00+00:00", ZoneInfo("UTC"))
    assert Clock(ZoneInfo("UTC")).until(next_day, late) == "in 1 day"
    assert Clock(ZoneInfo("America/New_York")).until(next_day, late) == "today"


@pytest.mark.parametrize(("characteristic", "value", "shown"), [
    ("dwell_s", 12.5, "12.5 s"), ("temperature_c", 160.0, "320.0 °F"),
    ("temperature_error_c", -5.0, "−9.0 °F"), ("dx_mm", 5.08, "0.20 in"),
    ("pressure_kpa", 275.79, "40 psi"), ("pressure_dial", 4.5, "4.5"),
    ("dwell_s", None, "not known"),
])
def test_values_of_a_flag_are_read_in_the_units_of_the_shop(
    characteristic: str, value: float | None, shown: str
) -> None:
    american = ShopUnits(temperature="f", length="in", pressure="psi")
    of = flag(characteristic=characteristic, unit="as stored")
    assert formats.of_flag(value, of, american).replace(formats.THIN, " ") == shown


def test_a_rate_of_a_flag_is_a_share() -> None:
    assert formats.of_flag(0.05, flag(unit="per piece"), ShopUnits()) == formats.share(0.05)


def test_no_line_ends_between_a_number_and_its_per_cent() -> None:
    """A space before %: SI Brochure, 9th edition, 5.4.7 (from memory); that it does not break:
    common practice, no source."""
    assert formats.unbroken("the 95 % interval, 5 % of those") == (
        "the 95\u00a0% interval, 5\u00a0% of those")
    assert formats.unbroken("% of pieces") == "% of pieces"


def test_amounts_beside_each_other_have_the_same_digits() -> None:
    assert formats.money(4.2, "EUR") == "EUR\u202f4.20"
    assert formats.money(4.2, "EUR", beside=120.0) == "EUR\u202f4"
    assert formats.money_range(-3.0, 120.5, "EUR") == "EUR\u202f\u22123 to 120"
    assert formats.money_range(1.0, 2.5) == "1.00 to 2.50"
