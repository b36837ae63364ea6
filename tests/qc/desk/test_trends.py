"""Rates over time: counts against a plain loop over records."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest

from qc.desk.shop import Shop
from qc.desk.tallied import counted_hours, recorded_later
from qc.desk.trends import MOST_RECORDS, rate_over_time, records_behind
from qc.domain.instants import DAY_US, from_us
from qc.errors import InputError
from qc.store.inspections import read_findings, read_looks
from tests.dashboard.small_shop import BAD_FROM_DAY, END_US, START_US, build_shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return build_shop(tmp_path_factory.mktemp("trends"))


def _records(shop: Shop) -> pd.DataFrame:
    """Every look with its kinds; in this shop each piece is looked at once."""
    looks = read_looks(shop.store, as_of_us=END_US)
    found = read_findings(shop.store, as_of_us=END_US)
    looks["kinds"] = found.groupby("look")["kind"].agg(set).reindex(looks.index)
    looks["bad"] = looks["kinds"].notna()
    return looks


def test_days_agree_with_a_plain_count(shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, step="day")
    looks = _records(shop)
    days: dict[str, list[int]] = {}
    for pressed, bad in zip(looks["pressed_at"], looks["bad"], strict=True):
        day = days.setdefault(str(from_us(pressed, shop.zone).date()), [0, 0])
        day[0] += 1
        day[1] += bool(bad)
    shown = [str(from_us(int(us), shop.zone).date()) for us in trend.start_us]
    assert shown == sorted(days)
    assert [[int(n), int(b)] for n, b in zip(trend.n_pieces, trend.n_defective, strict=True)] == [
        days[day] for day in shown]


def test_usual_is_what_the_mix_gives(shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, step="week", kind="scorch")
    looks = _records(shop)
    looks["hit"] = [isinstance(kinds, set) and "scorch" in kinds for kinds in looks["kinds"]]
    mix = [looks[name].astype(str) for name in ("fabric", "transfer", "location")]
    rate = looks.groupby(mix)["hit"].transform("mean")
    first = (looks["pressed_at"] < trend.end_us[0]).to_numpy()
    assert trend.usual[0] == pytest.approx(rate[first].mean(), rel=1e-12)
    assert trend.overall == pytest.approx(trend.overall_usual, rel=1e-12)


def test_weeks_begin_on_monday_also_over_a_clock_change(shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, step="week")
    begins = [from_us(int(us), shop.zone) for us in trend.start_us]
    assert {b.weekday() for b in begins} == {0} and {b.hour for b in begins} == {0}
    lengths = {int(e - s) for s, e in zip(trend.start_us, trend.end_us, strict=True)}
    an_hour_less = timedelta(days=7, hours=-1) // timedelta(microseconds=1)
    assert lengths == {7 * DAY_US, an_hour_less}  # Lisbon: clocks go forward on 29 March 2026


def test_looking_back_uses_nothing_later(shop: Shop) -> None:
    then = START_US + 20 * DAY_US
    assert recorded_later(shop, then) and not recorded_later(shop, END_US + DAY_US)
    trend = rate_over_time(shop, as_of_us=then)
    looks = _records(shop)
    assert trend.n_pieces.sum() == (looks["inspected_at"] <= then).sum()
    assert trend.as_of_us == then


def test_records_and_tallies_give_the_same_cells(shop: Shop, monkeypatch) -> None:
    tallied = counted_hours(shop, as_of_us=END_US, kind="lifted_edge").cells
    monkeypatch.setattr("qc.desk.tallied.recorded_later", lambda *_: True)
    recorded = counted_hours(shop, as_of_us=END_US, kind="lifted_edge").cells
    pd.testing.assert_frame_equal(tallied, recorded)


def test_few_steps_are_said_to_be_few(shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=START_US + 4 * DAY_US)
    assert len(trend.n_pieces) < 8 and "Only" in trend.cautions[0]
    empty = rate_over_time(shop, as_of_us=START_US - DAY_US)
    assert len(empty.n_pieces) == 0 and empty.overall is None


def test_a_step_must_be_known(shop: Shop) -> None:
    with pytest.raises(InputError, match="step is 'month'; allowed: day, week"):
        rate_over_time(shop, as_of_us=END_US, step="month")


def test_records_behind_a_point_are_its_pieces(shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, step="day", kind="lifted_edge")
    i = int(np.argmax(trend.n_defective))
    found = records_behind(shop, as_of_us=END_US, since_us=int(trend.start_us[i]),
                           until_us=int(trend.end_us[i]), kind="lifted_edge")
    assert found.n_total == trend.n_defective[i] == len(found.rows)
    assert all("lifted_edge@bottom_right" in row.defects for row in found.rows)
    assert [r.pressed_at_us for r in found.rows] == sorted(
        (r.pressed_at_us for r in found.rows), reverse=True)


@pytest.mark.parametrize(("levels", "picks"), [
    ({"press": "Cedar"}, lambda row: row["press"] == "Cedar"),
    ({"press": "Anvil", "defect": "scorch"},
     lambda row: row["press"] == "Anvil" and "scorch" in row["kinds"]),
    ({"zone": "bottom_right"}, lambda row: "lifted_edge" in row["kinds"]),
    ({"zone": None}, lambda row: "scorch" in row["kinds"]),
    ({"operator": "Ada", "fabric": "rib-fine"},
     lambda row: row["operator"] == "Ada" and row["fabric"] == "rib-fine"),
])
def test_records_behind_a_level(shop: Shop, levels, picks) -> None:
    looks = _records(shop)
    bad = looks[looks["bad"]]
    wanted = [row["piece_id"] for row in bad.to_dict("records") if picks(row)]
    found = records_behind(shop, as_of_us=END_US, levels=levels)
    shown = [r.piece_id for r in found.rows]
    assert 0 < found.n_total == len(wanted) and len(shown) == min(len(wanted), MOST_RECORDS)
    assert set(shown) <= set(wanted) and len(set(shown)) == len(shown)


def test_records_by_shift_are_all_there_is(shop: Shop) -> None:
    parts = [records_behind(shop, as_of_us=END_US, levels={"shift": s}).n_total
             for s in ("06:00", "14:00", "22:00")]
    assert sum(parts) == records_behind(shop, as_of_us=END_US).n_total
    assert parts[0] > 0 and parts[1] > 0


def test_the_planted_rise_shows(shop: Shop) -> None:
    trend = rate_over_time(shop, as_of_us=END_US, kind="lifted_edge", step="week")
    bad_from = START_US + BAD_FROM_DAY * DAY_US
    after = trend.start_us >= bad_from
    assert (trend.share > trend.usual)[after].mean() > 0.5 > (trend.share > trend.usual)[
        ~after].mean()
