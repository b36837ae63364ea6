"""Tallies by day and by mix: always the sums of the hourly ones, whatever is changed."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import select, text

from qc.domain.days import day_starts
from qc.domain.instants import DAY_US, HOUR_US, from_us, parse_instant
from qc.store import Store
from qc.store.corrections import withdraw_inspection
from qc.store.frames import read_frame
from qc.store.inspections import add_inspections, read_looks
from qc.store.schema import TALLIES, words
from qc.store.settings import change_setting
from qc.store.sums import daily_shares, sum_tally
from qc.store.tallies import check_tallies, rebuild_tallies
from tests.qc.store.made import CODES, LOADED, T0, add, findings_of, look, random_looks

NOW = LOADED + 10**12
KOLKATA = "Asia/Kolkata"  # half an hour off: an hour's pieces count in the day the hour begins in


def table(store: Store, name: str) -> pd.DataFrame:
    """A tally table, words spelled out."""
    with store.reading() as connection:
        frame = read_frame(connection, select(TALLIES[name]))
        spelled = dict(connection.execute(select(words.c.number, words.c.word)).all())
    for key in (column.name for column in TALLIES[name].primary_key.columns):
        if key not in ("hour_us", "day_us"):
            frame[key] = frame[key].map(spelled).astype(object).fillna("-")
    return frame


def summed(frame: pd.DataFrame, keys: list[str], value: str = "n") -> dict[object, int]:
    total = frame.groupby(keys)[value].sum()
    return {key: int(n) for key, n in total.items() if n}


def assert_sums(store: Store, zone: str) -> None:
    """Every coarser tally against the hourly ones, added up by pandas."""
    pieces, defects, factors = (table(store, name) for name in
                                ("piece_tally", "defect_tally", "factor_tally"))
    mix = ["fabric", "transfer", "location", "look"]
    for hourly in (pieces, defects):
        hourly["day_us"] = [int(pd.Timestamp(us, unit="us", tz=zone).normalize().timestamp() * 1e6)
                            for us in hourly["hour_us"]]
    days, bad = table(store, "day_tally"), table(store, "day_defect_tally")
    for value in ("n", "n_defective"):
        assert summed(days, ["day_us", *mix], value) == summed(pieces, ["day_us", *mix], value)
    assert summed(bad, ["day_us", *mix, "kind"]) == summed(defects, ["day_us", *mix, "kind"])
    totals = table(store, "mix_tally")

    def part(name: str) -> pd.DataFrame:
        return totals[totals["part"] == name]

    assert summed(part("pieces"), mix) == summed(pieces, mix)
    assert summed(part("defective"), mix) == summed(pieces, mix, "n_defective")
    assert summed(part("defects"), [*mix, "kind"]) == summed(defects, [*mix, "kind"])
    zones = factors[factors["factor"] == "zone"].rename(columns={"level": "zone"})
    assert summed(part("zones"), [*mix, "kind", "zone"]) == summed(zones, [*mix, "kind", "zone"])


def busy(store: Store, seed: int) -> None:
    rng = np.random.default_rng(seed)
    for batch in range(3):
        looks, findings = random_looks(200, rng, n_pieces=250)
        add_inspections(store, looks, findings, by="ann", at_us=LOADED + batch, source=None,
                        new_codes=CODES)
    standing = read_looks(store, as_of_us=NOW)
    for at in rng.permutation(len(standing))[:10]:
        row = standing.iloc[at]
        withdraw_inspection(store, identity={
            "piece_id": row["piece_id"], "attempt": int(row["attempt"]), "stage": row["stage"],
            "location": row["location"] if isinstance(row["location"], str) else None,
        }, why="twice", by="bo", at_us=LOADED + 50, seen_version=None)


@pytest.mark.parametrize("zone", ["UTC", "America/Chicago", KOLKATA])
def test_they_are_the_sums_of_the_hourly_ones(store: Store, zone: str) -> None:
    change_setting(store, name="timezone", value=zone, by="ann", at_us=LOADED)
    busy(store, seed=5)
    assert_sums(store, zone)
    assert check_tallies(store) == []


def test_another_time_zone_moves_the_days(store: Store) -> None:
    busy(store, seed=6)
    before = summed(table(store, "day_tally"), ["day_us"])
    change_setting(store, name="timezone", value="Pacific/Auckland", by="ann", at_us=LOADED)
    assert summed(table(store, "day_tally"), ["day_us"]) != before
    assert_sums(store, "Pacific/Auckland")
    assert check_tallies(store) == []


def test_a_check_finds_wrong_sums_and_a_rebuild_puts_them_right(store: Store) -> None:
    busy(store, seed=7)
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE day_tally SET n_defective = n_defective + 1"))
        connection.execute(text("DELETE FROM mix_tally"))
    assert [line.split(":")[0] for line in check_tallies(store)] == ["day_tally", "mix_tally"]
    rebuild_tallies(store, by="ann", at_us=NOW)
    assert check_tallies(store) == []


def test_days_begin_at_midnight_where_the_shop_is() -> None:
    """Lisbon: the clocks go forward in the night to 29 March 2026, which has 23 hours."""
    lisbon = ZoneInfo("Europe/Lisbon")
    begin = parse_instant("2026-03-28T00:00", lisbon)
    hours = begin + np.arange(72) * HOUR_US
    starts = day_starts(hours, lisbon)
    assert {from_us(us, lisbon).hour for us in starts.tolist()} == {0}
    _, lengths = np.unique(starts, return_counts=True)
    assert lengths.tolist() == [24, 23, 24, 1]


def test_sums_pick_and_spell_what_is_asked(store: Store) -> None:
    add(store, [look("a"), look("b", press="P2", location=None), look("c", stage="wash"),
                look("d", pressed_at=T0 + 2 * DAY_US, inspected_at=T0 + 2 * DAY_US)],
        findings_of((0, "scorch", "top", None, 1), (1, "bubble", None, None, 1)))
    by_press = sum_tally(store, "piece_tally", ["press"], where={"look": ["prompt"]})
    assert by_press.set_index("press")["n"].to_dict() == {"P1": 2, "P2": 1}
    placeless = sum_tally(store, "piece_tally", ["press"], where={"location": [None]})
    assert placeless["press"].tolist() == ["P2"]
    early = sum_tally(store, "piece_tally", [], until_us=T0 + DAY_US,
                      where={"look": ["prompt", "late"]})
    assert early["n"].tolist() == [3]
    named = sum_tally(store, "factor_tally", ["kind"], where={"factor": ["job"]}, named=["kind"])
    assert sorted(named["kind"]) == ["bubble", "scorch"]
    assert sum_tally(store, "piece_tally", ["press"], where={"look": ["moon"]}).empty


def test_daily_shares_expect_what_the_mix_gave_over_the_whole_history(store: Store) -> None:
    later = {"pressed_at": T0 + 2 * DAY_US, "inspected_at": T0 + 2 * DAY_US}
    add(store, [look("a"), look("b"), look("c", fabric="rib"), look("d", **later),
                look("e", fabric="rib", **later)],
        findings_of((0, "scorch", None, None, 1), (4, "bubble", None, None, 1)))
    days = daily_shares(store, kind=None, since_us=T0 + DAY_US)
    assert days["day_us"].tolist() == [T0 + 2 * DAY_US]
    assert days[["n", "n_defective"]].to_numpy().tolist() == [[2, 1]]
    assert days["expected"].tolist() == pytest.approx([1 / 3 + 1 / 2])  # by hand
    scorched = daily_shares(store, kind="scorch", since_us=None)
    assert scorched["n_defective"].tolist() == [1, 0]
    assert scorched["expected"].tolist() == pytest.approx([2 / 3, 1 / 3])
