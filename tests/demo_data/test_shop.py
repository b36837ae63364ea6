"""What any simulated shop is like, whatever is planted in it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from demo_data import DEMO_SEED, SimulatedShop, demo_spec, random_spec, second_spec, simulate
from demo_data.plan import CLOSES_S, OPENS_S
from qc.domain.kinds import ZONES, defect_kinds
from qc.domain.records import DISPOSITIONS, RECORD_KINDS
from tests.demo_data.counting import first_looks, has_kind, kind_counts, n_pieces


@pytest.fixture(scope="module")
def demo() -> SimulatedShop:
    return simulate(demo_spec(), DEMO_SEED)


@pytest.fixture(scope="module")
def looks(demo: SimulatedShop) -> pd.DataFrame:
    return first_looks(demo)


def test_the_same_seed_gives_the_same_shop_and_another_seed_another(demo: SimulatedShop) -> None:
    again = simulate(demo_spec(), DEMO_SEED)
    other = simulate(demo_spec(), DEMO_SEED + 1)
    assert again.truth == demo.truth
    for kind, frame in demo.frames.items():
        pd.testing.assert_frame_equal(again.frames[kind], frame)
    assert not other.frames["inspections"].equals(demo.frames["inspections"])


def test_faults_change_neither_the_plan_nor_the_usual_rates(demo: SimulatedShop) -> None:
    spec = demo_spec()
    planned = tuple(fault for fault in spec.faults if fault.kind == "mix_change")
    plain = simulate(replace(spec, faults=planned), DEMO_SEED)
    pd.testing.assert_frame_equal(plain.usual, demo.usual)
    columns = ["press", "fabric", "transfer", "location", "job", "pressed_at"]
    pd.testing.assert_frame_equal(
        first_looks(plain)[columns].sort_index(), first_looks(demo)[columns].sort_index()
    )


def test_the_demo_has_the_size_it_promises(demo: SimulatedShop, looks: pd.DataFrame) -> None:
    assert len(looks) == pytest.approx(30_000, rel=0.03)
    assert len(demo.frames["presses"]) == 7
    assert len(demo.frames["fabrics"]) == 6
    assert len(demo.frames["transfers"]) == 5
    days = pd.to_datetime(looks["pressed_at"].str.slice(0, 10))
    assert (days.max() - days.min()).days in range(87, 90)
    assert (demo.frames["presses"]["heated_lower"] == "yes").sum() >= 2


def test_work_is_done_on_working_days_in_working_hours(looks: pd.DataFrame) -> None:
    wall = pd.to_datetime(looks["pressed_at"].str.slice(0, 19))
    second = wall.dt.hour * 3600 + wall.dt.minute * 60 + wall.dt.second
    assert (wall.dt.day_of_week != 6).all()
    assert second.between(OPENS_S, CLOSES_S).all()


def test_offsets_follow_the_clock_change(looks: pd.DataFrame) -> None:
    # Lisbon leaves summer time on 25 October 2026 (last Sunday of October, EU Directive 2000/84)
    before = looks["pressed_at"].str.slice(0, 10) < "2026-10-25"
    assert set(looks.loc[before, "pressed_at"].str.slice(19)) == {"+01:00"}
    assert set(looks.loc[~before, "pressed_at"].str.slice(19)) == {"+00:00"}


def test_a_job_is_one_run_of_one_thing_at_one_press(looks: pd.DataFrame) -> None:
    jobs = looks.groupby("job")
    for name in ("press", "fabric", "transfer", "location"):
        assert (jobs[name].nunique() == 1).all()
    assert jobs.size().between(30, 200).all()
    assert (jobs["us"].max() - jobs["us"].min()).max() < 8 * 3600e6


def test_presses_do_one_job_at_a_time(looks: pd.DataFrame) -> None:
    spans = looks.groupby(["press", "job"])["us"].agg(["min", "max"]).reset_index()
    for _, press in spans.groupby("press"):
        in_order = press.sort_values("min")
        assert (in_order["min"].to_numpy()[1:] >= in_order["max"].to_numpy()[:-1]).all()


def test_people_work_mainly_but_not_only_at_their_press(looks: pd.DataFrame) -> None:
    shares = pd.crosstab(looks["operator"], looks["press"], normalize="index")
    assert shares.max(axis=1).between(0.3, 0.75).all()
    assert ((shares > 0.02).sum(axis=1) >= 4).all()


def test_lots_follow_each_other_and_are_used_at_several_presses(looks: pd.DataFrame) -> None:
    per_transfer = looks.groupby("transfer")["transfer_lot"].nunique()
    assert per_transfer.between(5, 20).all()
    pieces = looks.groupby("transfer_lot").agg(n=("us", "size"), presses=("press", "nunique"))
    assert (pieces.loc[pieces["n"] > 400, "presses"] >= 3).all()
    overlapping = looks[looks["transfer"] == "CUT"].groupby("transfer_lot")["us"]
    starts, ends = overlapping.min().sort_values(), overlapping.max()
    next_start = dict(zip(starts.index[:-1], starts.iloc[1:], strict=True))
    assert any(ends[lot] > start for lot, start in next_start.items())


def test_columns_and_words_are_those_of_the_contract(demo: SimulatedShop) -> None:
    assert set(demo.frames) == set(RECORD_KINDS)
    for kind, frame in demo.frames.items():
        known = set(RECORD_KINDS[kind].by_name) | ({"defects"} if kind == "inspections" else set())
        assert set(frame.columns) <= known
        required = {f.name for f in RECORD_KINDS[kind].fields if f.required}
        assert required <= set(frame.columns)
        assert frame[sorted(required)].notna().all().all()
    rows = demo.frames["inspections"]
    assert set(rows["disposition"]) == set(DISPOSITIONS)
    entries = rows["defects"].dropna().str.split(";").explode()
    parts = entries.str.extract(r"^(\w+)(?:@(\w+))?(?::(\d+))?(?:\*(\d+))?$")
    assert parts[0].notna().all()
    assert set(parts[0]) <= set(defect_kinds())
    assert set(parts[1].dropna()) == set(ZONES)


@pytest.mark.parametrize("kind", sorted(RECORD_KINDS))
def test_no_two_rows_are_the_same_record(demo: SimulatedShop, kind: str) -> None:
    identity = list(RECORD_KINDS[kind].identity)
    assert not demo.frames[kind].duplicated(identity).any()


def test_looks_come_after_pressing_and_none_after_the_end(demo: SimulatedShop) -> None:
    rows = demo.frames["inspections"]
    pressed = pd.to_datetime(rows["pressed_at"], utc=True)
    seen = pd.to_datetime(rows["inspected_at"], utc=True)
    assert (seen >= pressed).all()
    assert (seen <= pd.Timestamp(demo.end_us, unit="us", tz="UTC")).all()
    late = rows["stage"] == "after_24h"
    assert late.sum() > 1000
    assert ((seen - pressed)[late] >= pd.Timedelta(hours=24)).all()


def test_repair_presses_belong_to_pieces_sent_to_one(demo: SimulatedShop) -> None:
    rows = demo.frames["inspections"]
    again = rows[rows["attempt"] == 2]
    sent = rows[(rows["attempt"] == 1) & (rows["disposition"] == "press_again")]
    assert len(again) > 300
    assert set(again["piece_id"]) <= set(sent["piece_id"])
    assert 0.75 < (again["disposition"] == "pass").mean() < 0.95


def test_five_pieces_an_hour_are_measured_at_each_press(looks: pd.DataFrame) -> None:
    measured = looks[looks["dx_mm"].notna()]
    per_hour = measured.groupby(["press", measured["us"] // 3_600_000_000]).size()
    assert per_hour.max() == 5
    assert per_hour.median() == 5
    assert looks["dy_mm"].notna().equals(looks["dx_mm"].notna())


def test_pieces_called_misplaced_measure_so(looks: pd.DataFrame) -> None:
    off = looks[has_kind(looks, "misplacement") & looks["dx_mm"].notna()]
    assert len(off) > 10
    assert (np.maximum(off["dx_mm"].abs(), off["dy_mm"].abs()) >= 6.0).all()


def test_settings_are_near_the_recipe_and_pressure_has_one_kind(demo: SimulatedShop) -> None:
    rows = demo.frames["inspections"].merge(
        demo.frames["recipes"], on=["fabric", "transfer"], suffixes=("", "_wanted"))
    assert (rows["temperature_c"] - rows["temperature_c_wanted"]).abs().max() <= 6
    assert not (rows["pressure_kpa"].notna() & rows["pressure_dial"].notna()).any()
    heated = demo.frames["presses"].set_index("press")["heated_lower"] == "yes"
    assert (rows["temperature_lower_c"].notna() == rows["press"].map(heated)).all()


def test_fields_are_missing_now_and_then(looks: pd.DataFrame) -> None:
    missing = looks[["transfer_lot", "garment_lot", "operator", "dwell_s"]].isna().mean()
    assert missing.between(0.003, 0.05).all()


def test_about_one_piece_in_twenty_is_defective_and_the_hard_fabric_more() -> None:
    plain = simulate(replace(demo_spec(), faults=()), DEMO_SEED)
    looks = first_looks(plain)
    assert 0.04 <= looks["defects"].notna().mean() <= 0.07
    rate = has_kind(looks, "lifted_edge").groupby(looks["fabric"]).mean()
    assert rate["FLEECE-C"] > 2 * rate["JERSEY-B"]
    by_transfer = has_kind(looks, "lifted_edge").groupby(looks["transfer"]).mean()
    assert by_transfer["FOAM"] > 1.3 * by_transfer["CUT"]


def test_jobs_vary_more_than_chance_by_about_the_stated_spread() -> None:
    """Moment estimate of the squared coefficient of variation of a mixed Poisson count:
    (sum (y - e)^2 - e) / sum e^2; Cameron & Trivedi (1990), J. Econometrics 46, 347-364. A job's
    count is binomial, so its variance is smaller by e^2 / n."""
    plain = random_spec(np.random.default_rng(3), n_pieces=150_000)
    kinds = tuple(replace(kind, rate=0.03) for kind in plain.kinds)
    spec = replace(plain, level_sd=0.0, lot_sd=0.0, blocks=0.0, job_cv=0.3, kinds=kinds)
    shop = simulate(spec, 3)
    looks = first_looks(shop)
    total_over, total_squares = 0.0, 0.0
    for kind in ("lifted_edge", "incomplete_cure", "contamination"):
        seen = has_kind(looks, kind).groupby(looks["job"]).sum()
        usual = shop.usual.loc[looks.index, kind].groupby(looks["job"]).sum()
        own = usual - usual**2 / looks.groupby("job").size()
        total_over += float(((seen - usual) ** 2 - own).sum())
        total_squares += float((usual**2).sum())
    assert total_over / total_squares == pytest.approx(spec.job_cv**2, rel=0.1)


def test_without_faults_the_usual_rates_are_what_is_seen() -> None:
    observed, usual = np.zeros(3), np.zeros(3)
    kinds = ("lifted_edge", "bubble", "rotated")
    for seed in range(5):
        shop = simulate(random_spec(np.random.default_rng(seed)), seed)
        looks = first_looks(shop)
        for at, kind in enumerate(kinds):
            observed[at] += kind_counts(looks, kind).sum()
            usual[at] += shop.usual[kind].sum()
    np.testing.assert_allclose(observed / usual, 1.0, atol=0.12)


def test_the_second_shop_shares_no_names_with_the_demo(demo: SimulatedShop) -> None:
    second = simulate(second_spec(), 1)
    for kind, column in (("presses", "press"), ("fabrics", "fabric")):
        assert not set(second.frames[kind][column]) & set(demo.frames[kind][column])
    mine = set(first_looks(second)["operator"].dropna())
    assert not mine & set(first_looks(demo)["operator"].dropna())


def test_a_large_shop_fits_into_its_days() -> None:
    shop = simulate(random_spec(np.random.default_rng(5), n_pieces=120_000, n_presses=9), 5)
    looks = first_looks(shop)
    assert n_pieces(looks).sum() == pytest.approx(120_000, rel=0.03)
    assert not looks.index.duplicated().any()
