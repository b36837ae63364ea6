"""A month's record, counted anew from the rows and from what was done about its flags."""

from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd
import pytest

from qc.desk.case_steps import StepWanted, take_step
from qc.desk.month_record import month_record
from qc.desk.shop import Shop, change_setting
from qc.domain.days import month_period, parse_month
from qc.domain.instants import DAY_US, HOUR_US, parse_instant
from qc.errors import InputError
from qc.store.inspections import read_findings, read_looks
from tests.dashboard.small_shop import END_US
from tests.qc.desk.case_shop import case_shop

LISBON = ZoneInfo("Europe/Lisbon")
NOW_US = END_US + HOUR_US
MARCH, APRIL = (parse_month(name, LISBON) for name in ("2026-03", "2026-04"))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return case_shop(tmp_path_factory.mktemp("months"))


def test_a_month_is_that_of_the_wall() -> None:
    start, end = month_period(MARCH + 5 * DAY_US, LISBON)
    assert (start, end) == (MARCH, APRIL)
    assert end - start == 31 * DAY_US - HOUR_US  # the clocks go forward on the 29th
    assert month_period(APRIL - 1, LISBON) == (MARCH, APRIL)
    december, _ = month_period(parse_instant("2026-12-31T23:59", LISBON), LISBON)
    assert month_period(december, LISBON)[1] == parse_instant("2027-01-01T00:00", LISBON)
    for wrong in ("2026-13", "March", "2026-03-01", ""):
        with pytest.raises(InputError, match="is not a month"):
            parse_month(wrong, LISBON)


def test_its_counts_are_those_of_the_rows(shop: Shop) -> None:
    looks = read_looks(shop.store, as_of_us=NOW_US)
    found = read_findings(shop.store, as_of_us=NOW_US)
    mine = (looks["pressed_at"] >= MARCH) & (looks["pressed_at"] < APRIL)
    record = month_record(shop, moment_us=MARCH, as_of_us=NOW_US)
    assert (record.start_us, record.end_us, record.is_over) == (MARCH, APRIL, True)
    assert record.against.after.n_pieces == int(mine.sum()) == int(record.days.n_pieces.sum())
    bad = found[found["look"].isin(looks[mine].index)]
    assert record.against.after.n_defective == bad["look"].nunique()
    assert record.days.n_defective.sum() == bad["look"].nunique()
    assert {row.level[0]: row.n_defects for row in record.kinds.rows if row.n_defects} == (
        bad["kind"].value_counts().to_dict())
    by_press = looks[mine]["press"].value_counts().to_dict()
    assert {row.level[0]: row.n_pieces for row in record.ranked["press"]} == by_press
    assert sum(n for _, n in record.now) == int(mine.sum())
    assert record.against.before.n_pieces == 0 and record.against.verdict == "nothing"


def test_a_month_that_goes_on_is_held_against_the_one_before(shop: Shop) -> None:
    record = month_record(shop, moment_us=NOW_US, as_of_us=NOW_US)
    march = month_record(shop, moment_us=MARCH, as_of_us=NOW_US)
    assert not record.is_over
    assert record.against.before.n_pieces == march.against.after.n_pieces
    assert record.kinds_before == {
        row.level[0]: row.n_defects for row in march.kinds.rows}
    assert record.against.comparison.ratio.value > 1  # press Cedar's edges lift since 28 March
    cedar = next(row for row in record.ranked["press"] if row.level == ("Cedar",))
    assert cedar.stands_out and cedar.ratio is not None and cedar.ratio > 1


def test_flags_stay_in_every_month_they_were_not_done_with(tmp_path: Path) -> None:
    shop = case_shop(tmp_path)
    (one, *_) = month_record(shop, moment_us=APRIL, as_of_us=NOW_US).flags
    assert one.case is None and one.flag.press == "Cedar"
    signalled = one.flag.signalled_at_us
    (first, _) = month_period(signalled, LISBON)
    assert one.flag.id in {
        each.flag.id for each in month_record(shop, moment_us=first, as_of_us=NOW_US).flags}
    for step, text in (("acknowledge", ""), ("cause", "loose wire"), ("action", "tightened"),
                       ("close", "")):
        take_step(shop, StepWanted(flag_id=one.flag.id, step=step, text=text), by="Ada",
                  at_us=NOW_US)
    later_us = NOW_US + 40 * DAY_US
    april = month_record(shop, moment_us=APRIL, as_of_us=later_us)
    mine = next(each for each in april.flags if each.flag.id == one.flag.id)
    assert mine.case is not None and mine.case.case.closed is not None
    may = month_record(shop, moment_us=NOW_US + 30 * DAY_US, as_of_us=later_us)
    assert one.flag.id not in {each.flag.id for each in may.flags}
    assert may.against.after.n_pieces == 0 and len(may.days.start_us) == 0


def test_platens_and_price_of_the_month(shop: Shop) -> None:
    record = month_record(shop, moment_us=MARCH, as_of_us=NOW_US)
    rows = pd.DataFrame([(one.health.press, one.n_surveys, one.n_out) for one in record.platens],
                        columns=["press", "surveys", "out"])
    assert (rows["surveys"] > 0).any() and (rows["out"] <= rows["surveys"]).all()
    assert record.price is None
    priced = change_setting(shop, name="defect_cost", value="4.5", by="Ada", at_us=NOW_US)
    again = month_record(priced, moment_us=MARCH, as_of_us=NOW_US)
    assert again.price is not None and again.price.each == 4.5


def test_a_month_to_come_is_refused(shop: Shop) -> None:
    with pytest.raises(InputError, match="has not begun"):
        month_record(shop, moment_us=NOW_US + 60 * DAY_US, as_of_us=NOW_US)
