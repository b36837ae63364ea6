"""Planted faults are really in the data, of the planted size, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from demo_data import (
    DEMO_SEED,
    RANDOM_FAULTS,
    SECOND_SEED,
    Fault,
    Planted,
    SimulatedShop,
    demo_spec,
    random_spec,
    second_spec,
    simulate,
)
from demo_data.faults import FAULTS
from qc.errors import InputError
from tests.demo_data.counting import (
    first_looks,
    has_kind,
    level_of,
    observed_and_usual,
    touched_by,
)

SHAPED = {"drifting_platen", "creeping_rate", "doubling_rate"}
MEASURED = {"dwell_alone", "placement_shift", "placement_height", "placement_turn"}
HONEST = {"mix_change", "press_mix_change"}
SEVERAL = {"two_at_once", "two_kinds_at_once", "lot_and_press_at_once", "fault_with_mix"}
RATE_FAULTS = sorted(set(RANDOM_FAULTS) - {"drifting_platen"} - MEASURED - HONEST - SEVERAL)
SEEDS = range(6)


@cache
def shops_with(kind: str) -> tuple[tuple[SimulatedShop, Planted, pd.DataFrame], ...]:
    """Shops with one fault of this kind, the truth about it, and their first looks; every piece
    written down by itself, with all columns, and little that varies but what is planted."""
    specs = (random_spec(np.random.default_rng(seed), fault=kind, n_presses=4) for seed in SEEDS)
    shops = (
        simulate(replace(spec, blocks=0.0, unrecorded=(), missing=1.0, job_cv=0.1, level_sd=0.02,
                         lot_sd=0.02), seed)
        for seed, spec in zip(SEEDS, specs, strict=True)
    )
    return tuple((shop, shop.truth[0], first_looks(shop)) for shop in shops)


def test_every_kind_of_fault_has_a_random_form() -> None:
    assert {fault.kind for faults in RANDOM_FAULTS.values() for fault in faults} == set(FAULTS)
    assert set(RANDOM_FAULTS) - SEVERAL == set(FAULTS)


@pytest.mark.parametrize("kind", RATE_FAULTS)
def test_rates_are_raised_by_the_planted_factor_there_and_only_there(kind: str) -> None:
    inside, outside, wanted = np.zeros(2), np.zeros(2), []
    for shop, planted, looks in shops_with(kind):
        mask = touched_by(shop, looks, planted)
        assert mask.sum() == pytest.approx(planted.n_pieces, rel=0.05)
        wanted.append(planted.usual + planted.extra)
        inside += observed_and_usual(shop, looks, mask, planted.characteristic)
        outside += observed_and_usual(shop, looks, ~mask, planted.characteristic)
    # counts as Poisson's, with 2 % for honest differences: four standard errors
    ratio = np.sum(wanted) / inside[1]
    assert inside[0] / inside[1] == pytest.approx(ratio, rel=0.05 + 4 / np.sqrt(inside[0]))
    assert outside[0] / outside[1] == pytest.approx(1.0, abs=0.05 + 4 / np.sqrt(outside[0]))


@pytest.mark.parametrize("kind", RATE_FAULTS)
def test_the_truth_states_the_counts_of_the_touched_pieces(kind: str) -> None:
    for shop, planted, looks in shops_with(kind):
        mask = touched_by(shop, looks, planted)
        _, usual = observed_and_usual(shop, looks, mask, planted.characteristic)
        assert usual == pytest.approx(planted.usual, rel=0.08)
        if kind not in SHAPED:
            assert planted.extra == pytest.approx(planted.usual * (planted.size - 1))


@pytest.mark.parametrize("kind", RATE_FAULTS)
def test_a_random_fault_is_of_moderate_size(kind: str) -> None:
    for _, planted, _ in shops_with(kind):
        assert planted.usual >= 15


def test_enough_ends_a_fault_at_that_many_usual_defects() -> None:
    spec = random_spec(np.random.default_rng(1), fault="press_fault", enough=15)
    planted = simulate(spec, 1).truth[0]
    assert planted.usual == pytest.approx(15, abs=0.2)
    assert planted.end_us is not None


def test_a_bad_lot_is_seen_on_every_press_that_uses_it() -> None:
    presses = set()
    for shop, planted, looks in shops_with("weak_transfer_lot"):
        hit = touched_by(shop, looks, planted) & has_kind(looks, "lifted_edge")
        presses = set(looks.loc[hit, "press"])
        assert len(presses) >= 3


def test_misplaced_prints_are_shifted_for_that_person_alone() -> None:
    for shop, planted, looks in shops_with("operator_misplacement"):
        mask = touched_by(shop, looks, planted)
        assert looks.loc[mask, "dx_mm"].median() == pytest.approx(4.0, abs=0.6)
        assert looks.loc[~mask, "dx_mm"].median() == pytest.approx(0.0, abs=0.3)
        assert looks.loc[mask, "press"].nunique() >= 2


def test_a_shortened_timer_shows_in_the_recorded_dwell() -> None:
    for shop, planted, looks in shops_with("changed_dwell"):
        wanted = looks.merge(shop.frames["recipes"], on=["fabric", "transfer"], how="left",
                             suffixes=("", "_wanted"))["dwell_s_wanted"].to_numpy()
        share = looks["dwell_s"] / wanted
        mask = touched_by(shop, looks, planted)
        assert share[mask].mean() == pytest.approx(0.8, abs=0.02)
        assert share[~mask].mean() == pytest.approx(1.0, abs=0.01)


def test_edges_lift_in_the_cold_corner() -> None:
    for shop, planted, looks in shops_with("cold_corner"):
        mask = touched_by(shop, looks, planted)
        zoned = looks["defects"].fillna("").str.contains(f"lifted_edge@{planted.zone}")
        lifted = has_kind(looks, "lifted_edge")
        assert zoned[mask].sum() / lifted[mask].sum() > 0.45
        assert zoned[~mask].sum() / lifted[~mask].sum() < 0.25


def weekly_error(shop: SimulatedShop, press: str, platen: str = "upper") -> pd.DataFrame:
    """Mean error of each routine survey, with its day since the shop's start."""
    rows = shop.frames["platen_readings"].query(
        "press == @press and platen == @platen and state == 'routine'")
    error = (rows["reading_c"] - rows["setpoint_c"]).groupby(rows["measured_at"]).mean()
    moment = pd.to_datetime(error.index.to_series(), utc=True).dt.tz_localize(None)
    us = moment.to_numpy().astype("datetime64[us]").astype(np.int64)
    return pd.DataFrame({"us": us, "day": us / 86_400e6, "error": error.to_numpy()})


def test_surveys_show_the_drift_and_only_there() -> None:
    """Slopes by scipy's Theil-Sen estimate, an implementation of its own."""
    drifting, others = [], []
    for shop, planted, _ in shops_with("drifting_platen"):
        for press in shop.frames["presses"]["press"]:
            surveys = weekly_error(shop, press)
            surveys = surveys[surveys["us"] >= planted.start_us]
            slope = stats.theilslopes(surveys["error"], surveys["day"]).slope
            (drifting if press == planted.level else others).append(slope)
    # five or six surveys of 0.3 degC repeatability each: about 0.02 degC a day on one slope
    np.testing.assert_allclose(drifting, -0.15, atol=0.07)
    np.testing.assert_allclose(others, 0.0, atol=0.07)
    assert np.mean(drifting) == pytest.approx(-0.15, abs=0.025)
    assert np.mean(others) == pytest.approx(0.0, abs=0.012)


def test_edges_lift_more_the_colder_the_platen_is() -> None:
    early, late = np.zeros(2), np.zeros(2)
    for shop, planted, looks in shops_with("drifting_platen"):
        mask = touched_by(shop, looks, planted)
        middle = (planted.start_us + shop.end_us) // 2
        early += observed_and_usual(shop, looks, mask & (looks["us"] < middle), "lifted_edge")
        late += observed_and_usual(shop, looks, mask & (looks["us"] >= middle), "lifted_edge")
    assert late[0] / late[1] > 1.25 * early[0] / early[1] > 1.25


def test_the_survey_shows_the_cold_corner() -> None:
    for shop, planted, _ in shops_with("cold_corner"):
        rows = shop.frames["platen_readings"].query("press == @planted.level and platen == 'upper'")
        after = pd.to_datetime(rows["measured_at"], utc=True) >= pd.Timestamp(
            planted.start_us, unit="us", tz="UTC")
        corner = (rows["row"] == 1) & (rows["col"] == 1)  # top_left
        gap = (rows[after & ~corner]["reading_c"].mean() - rows[after & corner]["reading_c"].mean())
        before = rows[~after & ~corner]["reading_c"].mean() - rows[~after & corner][
            "reading_c"].mean()
        assert gap - before == pytest.approx(7.5, abs=0.7)


def test_an_honest_change_of_mix_doubles_a_share_and_no_rate() -> None:
    crude, growth = [], []
    counts = np.zeros((2, 2))
    for shop, planted, looks in shops_with("mix_change"):
        after = looks["us"] >= planted.start_us
        hard = looks["fabric"] == planted.level
        growth.append(hard[after].mean() / hard[~after].mean())
        lifted = has_kind(looks, "lifted_edge")
        crude.append(lifted[after].mean() / lifted[~after].mean())
        for row, when in enumerate((~after, after)):
            counts[row] += observed_and_usual(shop, looks, hard & when, "lifted_edge")
        assert not planted.expect_flag
        assert planted.extra == 0
    # some 30 jobs of the fabric in each half of each shop
    assert np.exp(np.mean(np.log(growth))) == pytest.approx(2.0, rel=0.25)
    assert np.mean(crude) > 1.1
    change = (counts[1, 0] / counts[1, 1]) / (counts[0, 0] / counts[0, 1])
    assert change == pytest.approx(1.0, abs=0.2)


def test_the_demo_has_five_faults_of_moderate_size_and_one_honest_change() -> None:
    truth = simulate(demo_spec(), DEMO_SEED).truth
    faults = [planted for planted in truth if planted.expect_flag]
    assert [planted.kind for planted in truth if not planted.expect_flag] == ["mix_change"]
    assert {planted.kind for planted in faults} == {
        "drifting_platen", "cold_corner", "weak_transfer_lot", "operator_misplacement",
        "changed_dwell"}
    assert all(planted.usual >= 15 and planted.extra >= 25 for planted in faults)
    assert len({planted.level for planted in faults}) == 5
    starts = sorted(planted.start_us for planted in truth)
    assert min(np.diff(starts)) > 2 * 86_400e6


def test_the_second_shop_has_other_faults() -> None:
    kinds = {planted.kind for planted in simulate(second_spec(), SECOND_SEED).truth}
    assert {"bad_garment_lot", "press_fault", "short_episode", "mix_change"} <= kinds


def test_a_lot_that_never_comes_is_said_so() -> None:
    fault = Fault(kind="weak_transfer_lot", level="CUT", day=89.9)
    spec = replace(demo_spec(), faults=(fault,), long_lots=())
    with pytest.raises(InputError, match="no new lot of 'CUT' is used from day 89.9 on"):
        simulate(spec, DEMO_SEED)


def test_a_level_is_named_by_its_code() -> None:
    fault = Fault(kind="location_fault", level="sleeve", day=20, characteristic="rotated")
    shop = simulate(replace(demo_spec(), faults=(fault,)), DEMO_SEED)
    looks = first_looks(shop)
    assert shop.truth[0].level == "sleeve"
    assert (level_of(shop, looks, "location") == "sleeve").any()


def test_a_service_puts_the_platen_right() -> None:
    shop = simulate(demo_spec(), DEMO_SEED)
    service = demo_spec().services[0]
    rows = shop.frames["platen_readings"].query("press == @service.press and platen == 'upper'")
    error = (rows["reading_c"] - rows["setpoint_c"]).groupby(rows["state"]).mean()
    assert error["as_left"] - error["as_found"] == pytest.approx(-service.offset_c, abs=1.2)
    found, left = (rows.loc[rows["state"] == s, "measured_at"] for s in ("as_found", "as_left"))
    assert len(found) == len(left) == 9
    assert found.max() < left.min()
