"""Points of streams against a plain second count of the very rows the shop was made from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from qc.desk.shop import Shop, reread
from qc.desk.stream_charts.choices import offered, whole
from qc.desk.stream_charts.counting import counted_points
from qc.desk.stream_charts.gaps import _runs, gap_points
from qc.desk.stream_charts.measuring import measured_points
from qc.desk.stream_charts.points import CountPoints
from qc.desk.stream_charts.surveying import check_points, survey_points
from qc.domain.instants import DAY_US, HOUR_US
from qc.domain.streams import Stream
from qc.store.records import read_records
from qc.store.settings import change_setting
from tests.qc.desk.stream_shop import END_US, RECIPES, START_US, build

Made = tuple[Shop, pd.DataFrame, pd.DataFrame]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    shop, looks, findings = build(tmp_path_factory.mktemp("streams"))
    yield shop, looks, findings
    shop.store.close()


def stream(subject: str, of: str = "", by: str = "shop", level: str = "", step: str = "day",
           platen: str = "") -> Stream:
    return Stream(subject=subject, of=of, by=by, level=level, step=step, platen=platen)


def rows(made: Made) -> pd.DataFrame:
    """Each piece with its local time, shift and day, and its kinds and zones."""
    _, looks, findings = made
    local = pd.to_datetime(looks["pressed_at"], unit="us", utc=True).dt.tz_convert("Europe/Lisbon")
    day = local.dt.floor("D")
    hours = local.dt.hour
    start = np.select([hours < 6, hours < 14, hours < 22], [22, 6, 14], 22)
    shift_day = day.where(hours >= 6, day - pd.Timedelta(days=1))
    for kind in ("lifted_edge", "scorch"):
        mine = findings[findings["kind"] == kind].set_index("row")["zone"]
        looks = looks.assign(**{kind: looks.index.isin(mine.index), f"zone_{kind}": mine})
    return looks.assign(
        day=day.dt.strftime("%Y-%m-%d"), week=day.dt.strftime("%G-%V"),
        shift=shift_day.dt.strftime("%Y-%m-%d ") + pd.Series(start).astype(str))


def chosen(frame: pd.DataFrame, asked: Stream) -> pd.DataFrame:
    if asked.by == "station":
        return frame[frame["press"] + "/" + frame["station"] == asked.level]
    return frame if asked.by in ("shop", "zone") else frame[frame[asked.by] == asked.level]


def counted(frame: pd.DataFrame, asked: Stream) -> pd.Series:
    """What each piece adds to the count."""
    hits = []
    for kind in ("lifted_edge", "scorch"):
        if asked.of in ("", kind):
            hit = frame[kind].astype(int)
            hits.append(hit * (frame[f"zone_{kind}"] == asked.level) if asked.by == "zone"
                        else hit)
    total = sum(hits)
    return total if asked.per_unit or asked.of else total.clip(upper=1)


def holds(found: CountPoints, frame: pd.DataFrame, asked: Stream) -> pd.DataFrame:
    """The points are those of the rows; what each point counts, in order."""
    by = frame.assign(count=counted(frame, asked)).groupby(asked.step, sort=False).agg(
        n=("piece_id", "size"), count=("count", "sum"), first=("pressed_at", "min"))
    by = by.sort_values("first", kind="stable")
    assert found.n.tolist() == by["n"].tolist()
    assert found.count.tolist() == by["count"].tolist()
    assert (found.start_us <= by["first"].to_numpy()).all()
    return by


ASKED = [
    stream("defects"), stream("defects", "lifted_edge", step="week"),
    stream("defects", "lifted_edge", "press", "P1"), stream("defects", "", "press", "P2", "shift"),
    stream("defects", "scorch", "operator", "Ada", "shift"),
    stream("defects", "", "operator", "Bo"),
    stream("defects", "lifted_edge", "fabric", "jersey"),
    stream("defects", "", "location", "back", "week"),
    stream("defects", "lifted_edge", "transfer_lot", "T1"),
    stream("defects", "", "garment_lot", "G1"), stream("defects", "lifted_edge", "zone", "bottom"),
    stream("defects", "", "zone", "centre"), stream("defects", "lifted_edge", step="job"),
    stream("defects", "", step="job"), stream("defects", "lifted_edge", "fabric", "rib", "job"),
    stream("defects", "lifted_edge", "press", "P1", "job"),
    stream("defects", "", "operator", "Ada", "job"),
    stream("defects", "lifted_edge", "station", "P1/B"),
    stream("defects", "", "station", "P2/A", "shift"),
    stream("defects", "", "station", "P1/A", "job"),
]


@pytest.mark.parametrize("asked", ASKED, ids=lambda s: f"{s.of}-{s.by}-{s.step}")
@pytest.mark.parametrize("as_of_us", [END_US, END_US - 9 * DAY_US], ids=["now", "looking back"])
def test_counts_are_those_of_the_rows(made: Made, asked: Stream, as_of_us: int) -> None:
    found = counted_points(made[0], asked, as_of_us=as_of_us, since_us=None)
    frame = rows(made)
    frame = chosen(frame[frame["inspected_at"] <= as_of_us], asked)
    by = holds(found, frame, asked)
    if asked.step == "job":
        assert sorted(found.labels) == sorted(by.index)


@pytest.mark.parametrize("asked", [ASKED[2], ASKED[5], ASKED[10]], ids=["share", "rate", "zone"])
def test_what_the_mix_gives_is_the_rate_of_each_cell(made: Made, asked: Stream) -> None:
    found = counted_points(made[0], asked, as_of_us=END_US, since_us=None)
    frame = rows(made)
    frame = frame.assign(count=counted(frame, asked))
    mix = ["fabric", "transfer", "location"]
    rate = frame.groupby(mix)["count"].mean().rename("rate").reset_index()
    mine = chosen(frame, asked).merge(rate, on=mix)
    expected = mine.groupby(asked.step)["rate"].mean()
    np.testing.assert_allclose(found.usual, expected.to_numpy(), rtol=1e-12)
    np.testing.assert_allclose(found.mix.sum(axis=1), found.n)


def test_a_period_begins_at_its_first_hour(made: Made) -> None:
    asked, since = ASKED[0], START_US + 10 * DAY_US
    all_, late = (counted_points(made[0], asked, as_of_us=END_US, since_us=us)
                  for us in (None, since))
    keep = all_.start_us >= since
    assert late.count.tolist() == all_.count[keep].tolist()
    # usual is of the whole history
    np.testing.assert_allclose(late.usual, all_.usual[keep], rtol=1e-12)


@pytest.mark.parametrize("asked", ASKED, ids=lambda s: f"{s.of}-{s.by}-{s.step}")
@pytest.mark.parametrize("minutes", [0, 10 * 60, 10 * 60 + 17])
def test_a_period_may_begin_amid_a_step(made: Made, asked: Stream, minutes: int) -> None:
    since = START_US + 10 * DAY_US + minutes * 60_000_000
    found = counted_points(made[0], asked, as_of_us=END_US, since_us=since)
    frame = chosen(rows(made), asked)
    frame = frame[frame["pressed_at"] // HOUR_US * HOUR_US >= since]
    by = holds(found, frame, asked)
    assert (found.end_us > by["first"].to_numpy()).all()


@pytest.mark.parametrize("asked", [
    stream("defects", "scorch"), stream("defects", "lifted_edge", "press", "P1"),
    stream("defects", "", "operator", "Ada"), stream("defects", "lifted_edge", "zone", "bottom"),
    stream("defects", "scorch", "station", "P2/B"),
], ids=["shop", "press", "any", "zone", "station"])
def test_runs_between_two_are_those_counted_one_by_one(made: Made, asked: Stream) -> None:
    found = gap_points(made[0], asked, as_of_us=END_US, since_us=None)
    frame = chosen(rows(made), asked)
    frame = frame.assign(count=counted(frame, asked)).sort_values(["pressed_at", "piece_id"])
    runs, good, seen = [], 0, False
    for bad in (frame["count"] > 0).tolist():
        if bad:
            if seen:
                runs.append(good)
            good, seen = 0, True
        else:
            good += 1
    assert found.between.tolist() == runs
    assert found.since_last == good and not found.blocks


def test_blocks_are_said_because_they_have_no_order(made: Made) -> None:
    shop, looks, findings = made
    assert not gap_points(shop, ASKED[0], as_of_us=END_US, since_us=None).blocks
    frame = pd.DataFrame({"n": [5, 1, 2], "bad": [1, 1, 0], "pressed_at": [1, 2, 3]})
    assert _runs(ASKED[0], frame).blocks


@pytest.mark.parametrize("step", ["piece", "day", "shift", "week", "job"])
def test_placements_are_the_means_of_the_rows(made: Made, step: str) -> None:
    asked = stream("placement", "together", "press", "P1", step)
    found = measured_points(made[0], asked, as_of_us=END_US, since_us=None)
    frame = rows(made)
    frame = frame[(frame["press"] == "P1") & frame["dx_mm"].notna()]
    frame = frame.sort_values(["pressed_at", "piece_id"])
    by = "piece_id" if step == "piece" else step
    expected = frame.groupby(by, sort=False)[["dx_mm", "dy_mm", "rotation_deg"]].mean()
    np.testing.assert_allclose(found.value, expected.to_numpy(), rtol=1e-12)
    assert found.n.tolist() == frame.groupby(by, sort=False).size().tolist()
    assert found.single == (step == "piece")


@pytest.mark.parametrize("level", ["P1/A", "P1/B"])
def test_placements_of_a_station_are_those_of_its_rows(made: Made, level: str) -> None:
    asked = stream("placement", "dx_mm", "station", level)
    found = measured_points(made[0], asked, as_of_us=END_US, since_us=None)
    frame = chosen(rows(made), asked)
    expected = frame[frame["dx_mm"].notna()].groupby("day", sort=False)["dx_mm"].mean()
    np.testing.assert_allclose(found.value[:, 0], expected.to_numpy(), rtol=1e-12)
    assert len(found) > 20


@pytest.mark.parametrize(("of", "at"), [("temperature_c", 0), ("dwell_s", 1)])
def test_settings_are_held_against_the_recipe_of_their_work(made: Made, of: str, at: int) -> None:
    asked = stream("setting", of, "press", "P2", "job")
    found = measured_points(made[0], asked, as_of_us=END_US, since_us=None)
    frame = rows(made)
    frame = frame[frame["press"] == "P2"]
    pairs = list(zip(frame["fabric"], frame["transfer"], strict=True))
    target = pd.Series([RECIPES[pair][at] if pair in RECIPES else np.nan for pair in pairs],
                       index=frame.index)
    gap = frame[of] - target
    expected = gap.groupby(frame["job"]).mean().dropna()
    assert list(found.labels) == expected.index.tolist()
    np.testing.assert_allclose(found.value[:, 0], expected.to_numpy(), rtol=1e-9)
    assert found.left_out == int(gap.isna().sum()) > 0


def test_values_are_shown_in_the_shops_units(made: Made, tmp_path_factory) -> None:
    shop, *_ = build(tmp_path_factory.mktemp("inches"), seed=3)
    change_setting(shop.store, name="length_unit", value="in", by="test", at_us=END_US)
    found = measured_points(reread(shop), stream("placement", "dx_mm"), as_of_us=END_US,
                            since_us=None)
    assert found.unit == "in" and found.scales == pytest.approx((1 / 25.4,))
    shop.store.close()


def test_surveys_and_checks_are_the_means_of_their_readings(made: Made) -> None:
    shop = made[0]
    readings = read_records(shop.store, "platen_readings", as_of_us=END_US)
    error = (readings["reading_c"] - readings["setpoint_c"]).groupby(readings["measured_at"])
    for of, expected in (("offset_c", error.mean()), ("spread_c", error.max() - error.min())):
        found = survey_points(shop, stream("platen", of, "press", "P1", "survey", "upper"),
                              as_of_us=END_US, since_us=None)
        np.testing.assert_allclose(found.value[:, 0], expected.to_numpy(), rtol=1e-9)
    checks = read_records(shop.store, "machine_checks", as_of_us=END_US)
    off = (checks["measured_value"] - checks["set_value"]).to_numpy().reshape(-1, 2).mean(axis=1)
    found = check_points(shop, stream("check", "dwell_s", "press", "P1", "check"),
                         as_of_us=END_US, since_us=None)
    np.testing.assert_allclose(found.value[:, 0], off, rtol=1e-9)


def test_choices_hold_what_the_shop_has_and_a_choice_is_made_whole(made: Made) -> None:
    there = offered(made[0], as_of_us=END_US)
    assert there.levels["press"] == ("P1", "P2") and there.levels["operator"] == ("Ada", "Bo")
    assert there.levels["transfer_lot"][0] == "T4" and there.platens == (("P1", "upper"),)
    assert there.levels["station"] == ("P1/A", "P1/B", "P2/A", "P2/B")
    assert "station" in there.works_of("placement") and "station" not in there.works_of("platen")
    bare = replace(there, levels={**there.levels, "station": ()})
    assert "station" not in bare.works_of("defects")  # a shop that notes none is not asked for one
    assert whole(stream("nonsense", by="", step=""), there) == stream("defects")
    assert whole(stream("defects", "zap", "press", "P9", "year"), there) == stream(
        "defects", "", "press", "P1")
    assert whole(stream("platen", by="shop", step=""), there) == stream(
        "platen", "offset_c", "press", "P1", "survey", "upper")
    assert whole(replace(stream("check"), by=""), there).of == "dwell_s"


def test_steps_have_the_length_of_the_shops_days(made: Made) -> None:
    found = counted_points(made[0], ASKED[0], as_of_us=END_US, since_us=None)
    hours = {int(h) for h in (found.end_us - found.start_us) // HOUR_US}
    assert hours == {24} or hours == {23, 24}
    shifts = counted_points(made[0], ASKED[3], as_of_us=END_US, since_us=None)
    assert {int(h) for h in (shifts.end_us - shifts.start_us) // HOUR_US} <= {7, 8}
