"""Random shops are of many makes, and every dial does what it says."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from demo_data import RANDOM_FAULTS, ShopSpec, SimulatedShop, random_spec, simulate
from demo_data.plan import make_plan
from demo_data.random_shops import COMMON, DESCRIPTIONS, NEEDS, USUALLY_COMMON
from demo_data.rates import make_rates
from demo_data.shop import FORGOTTEN
from demo_data.starts import FRESH_S, PAUSE_S, seconds_since_start, start_levels
from qc.domain.instants import SECOND_US
from tests.demo_data.counting import first_looks, has_kind, kind_counts, n_pieces


def plain_spec(seed: int, **changes: object) -> ShopSpec:
    """A random shop in which only what is changed is out of the ordinary."""
    spec = random_spec(np.random.default_rng(seed), n_presses=4, n_pieces=12_000)
    ordinary = {"blocks": 0.0, "unrecorded": (), "missing": 1.0, "job_cv": 0.3}
    return replace(spec, **(ordinary | changes))  # type: ignore[arg-type]


@cache
def specs() -> tuple[ShopSpec, ...]:
    return tuple(random_spec(np.random.default_rng(seed)) for seed in range(200))


def test_two_hundred_shops_are_not_of_one_make() -> None:
    assert {len(spec.presses) for spec in specs()} == set(range(3, 11))
    assert len({spec.zone for spec in specs()}) >= 6
    assert len({spec.breaks for spec in specs()}) == 3
    left_out = [set(spec.unrecorded) for spec in specs()]
    for column in ("operator", "transfer_lot", "garment_lot", "size", "station"):
        assert 0.05 < np.mean([column in names for names in left_out]) < 0.25
    assert 0.03 < np.mean(["dwell_s" in names for names in left_out]) < 0.2
    assert (min(spec.days for spec in specs()), max(spec.days for spec in specs())) == (60, 90)
    assert {spec.measured_per_hour for spec in specs()} == {3, 5, 8}
    stacks = np.array([spec.blocks for spec in specs()])
    assert 0.5 < (stacks == 0).mean() < 0.8
    assert (stacks == 1).sum() > 10
    levels = [sum(kind.rate for kind in spec.kinds) for spec in specs()]
    assert 3 < max(levels) / min(levels) < 8
    cv = [spec.job_cv for spec in specs()]
    # evenly spread from 0.1 to 0.5: Kolmogorov-Smirnov
    assert stats.kstest(cv, stats.uniform(0.1, 0.4).cdf).pvalue > 0.01


@pytest.mark.parametrize("kind", ["", *RANDOM_FAULTS])
def test_the_column_that_names_the_cause_is_kept(kind: str) -> None:
    for seed in range(25):
        spec = random_spec(np.random.default_rng(seed), fault=kind)
        for fault in spec.faults:
            assert NEEDS.get(fault.kind) not in spec.unrecorded
            raised = [k.rate for k in spec.kinds if k.code == fault.characteristic]
            assert all(rate >= COMMON.get(kind, USUALLY_COMMON) for rate in raised)


def test_every_kind_is_described() -> None:
    assert list(DESCRIPTIONS) == list(RANDOM_FAULTS)


def test_the_same_seed_gives_the_same_bytes() -> None:
    for seed in (3, 7):
        files = [
            [frame.to_csv() for frame in simulate(
                random_spec(np.random.default_rng(seed), fault="one_zone", n_pieces=4000),
                seed).frames.values()]
            for _ in range(2)
        ]
        assert files[0] == files[1]


def test_faults_of_any_kind_leave_the_plan_alone() -> None:
    honest = ("mix_change", "press_mix_change", "fault_with_mix")
    plain = plan_of(random_spec(np.random.default_rng(4), n_presses=4, n_pieces=9000))
    for kind in set(RANDOM_FAULTS) - set(honest):
        spec = random_spec(np.random.default_rng(4), fault=kind, n_presses=4, n_pieces=9000)
        bare = replace(spec, faults=())
        pd.testing.assert_frame_equal(plan_of(spec), plan_of(bare))
    assert len(plain) == pytest.approx(9000, rel=0.05)


def plan_of(spec: ShopSpec) -> pd.DataFrame:
    plan = make_plan(spec, np.random.default_rng(1))
    return pd.DataFrame(plan.code | {"us": plan.pressed_us, "seen": plan.inspected_us})


@pytest.mark.parametrize("job_cv", [0.0, 0.5])
def test_rates_vary_from_job_to_job_as_asked(job_cv: float) -> None:
    """Gamma factors of mean 1: the sampling error of a standard deviation over n jobs is about
    cv sqrt((2 + 6 cv^2) / (4 n)), from the gamma's kurtosis 3 + 6 cv^2."""
    spec = plain_spec(2, job_cv=job_cv, level_sd=0.0, lot_sd=0.0)
    plan = make_plan(spec, np.random.default_rng(1))
    rates = make_rates(spec, plan, np.random.default_rng(2))
    first = np.unique(plan.code["job"], return_index=True)[1]
    factor = (rates.honest / rates.usual)[:, first].ravel()
    error = job_cv * np.sqrt((2 + 6 * job_cv**2) / (4 * len(factor)))
    assert factor.std() == pytest.approx(job_cv, abs=4 * error + 1e-3)
    assert factor.mean() == pytest.approx(1.0, abs=4 * job_cv / np.sqrt(len(factor)) + 1e-3)


def test_lots_vary_as_asked_and_presses_as_much_as_they_do() -> None:
    spec = plain_spec(5, job_cv=0.0, level_sd=0.0, lot_sd=0.2)
    plan = make_plan(spec, np.random.default_rng(1))
    rates = make_rates(spec, plan, np.random.default_rng(2))
    both = np.log(rates.honest / rates.usual)
    lots = pd.MultiIndex.from_arrays([plan.code["transfer_lot"], plan.code["garment_lot"]])
    first = np.unique(lots.factorize()[0], return_index=True)[1]
    # a transfer lot and a garment lot together: 0.2 times the root of 2
    assert both[:, first].std() == pytest.approx(0.2 * np.sqrt(2), rel=0.1)
    alone = replace(spec, lot_sd=None)
    rates = make_rates(alone, plan, np.random.default_rng(2))
    np.testing.assert_allclose(rates.honest, rates.usual, rtol=2e-3)


def test_missing_shares_are_what_is_asked() -> None:
    shop = simulate(plain_spec(6, missing=4.0), 6)
    rows = shop.frames["inspections"]
    for name in ("transfer_lot", "operator", "size", "dwell_s"):
        wanted = 4 * FORGOTTEN[name]
        missing = int(rows[name].isna().sum())
        low, high = stats.binom.interval(0.999, len(rows), wanted)
        assert low <= missing <= high, name
    assert not simulate(plain_spec(6, missing=0.0), 6).frames["inspections"]["size"].isna().any()


def test_columns_a_shop_does_not_keep_are_not_there() -> None:
    spec = plain_spec(7, unrecorded=("operator", "garment_lot"))
    rows = simulate(spec, 7).frames["inspections"]
    assert not {"operator", "garment_lot"} & set(rows.columns)
    assert {"press", "transfer_lot"} <= set(rows.columns)


def test_a_slow_press_is_slow() -> None:
    spec = plain_spec(8)
    slow = tuple(replace(press, pace=2.0 if press.code == "P1" else 1.0) for press in spec.presses)
    looks = first_looks(simulate(replace(spec, presses=slow), 8))
    gaps = looks.sort_values("us").groupby(["press", "job"])["us"].diff() / SECOND_US
    typical = gaps.groupby(looks["press"]).median()
    assert typical["P1"] == pytest.approx(2 * typical.drop("P1").mean(), rel=0.1)


@pytest.mark.parametrize("number", range(3))
def test_nobody_presses_during_a_break(number: int) -> None:
    from demo_data.plan import OPENS_S
    from demo_data.random_shops import BREAKS

    looks = first_looks(simulate(plain_spec(9, breaks=BREAKS[number]), 9))
    wall = pd.to_datetime(looks["pressed_at"].str.slice(0, 19))
    second = (wall.dt.hour * 3600 + wall.dt.minute * 60 + wall.dt.second).to_numpy()
    before = 0.0
    for after, length in BREAKS[number]:
        begins = OPENS_S + after + before
        assert not ((second > begins + 1) & (second < begins + length)).any()
        before += length


def blocked_and_single(seed: int, **changes: object) -> tuple[SimulatedShop, SimulatedShop]:
    return (simulate(plain_spec(seed, blocks=1.0, missing=0.0, **changes), seed),
            simulate(plain_spec(seed, missing=0.0, **changes), seed))


def test_stacks_and_pieces_give_the_same_counts() -> None:
    stacked, single = blocked_and_single(10)
    rows, pieces = first_looks(stacked), first_looks(single)
    assert len(rows) < len(pieces) / 3
    assert n_pieces(rows).sum() == len(pieces)
    assert rows["defective"].sum() == pieces["defects"].notna().sum()
    keys = ["job", "press", "fabric", "transfer", "operator", "transfer_lot", "size"]
    for kind in stacked.usual.columns:
        there = kind_counts(rows, kind).groupby([rows[key] for key in keys]).sum()
        here = kind_counts(pieces, kind).groupby([pieces[key] for key in keys]).sum()
        pd.testing.assert_series_equal(there, here, check_names=False, check_dtype=False)
    np.testing.assert_allclose(
        stacked.usual.loc[rows.index].sum(), single.usual.loc[pieces.index].sum())


def test_a_stack_is_of_one_make_and_of_5_to_40_pieces() -> None:
    stacked, _ = blocked_and_single(11)
    rows = first_looks(stacked)
    stacks = rows[rows["pieces"] > 1]
    assert stacks["pieces"].max() <= 40
    assert 5 <= stacks["pieces"].median() <= 30
    assert stacks["disposition"].isna().all()
    assert stacks["dx_mm"].isna().all()
    assert rows["dx_mm"].notna().sum() > 500
    assert (rows["defective"] <= rows["pieces"]).all()
    for kind in stacked.usual.columns:
        assert (kind_counts(rows, kind) <= rows["defective"]).all()
    spans = (pd.to_datetime(stacks["inspected_at"], utc=True)
             - pd.to_datetime(stacks["pressed_at"], utc=True))
    assert (spans >= pd.Timedelta(0)).all()


def test_a_share_of_the_jobs_is_stacked() -> None:
    shop = simulate(plain_spec(12, blocks=0.5), 12)
    rows = first_looks(shop)
    has_stack = (rows["pieces"] > 1).groupby(rows["job"]).any()
    low, high = stats.binom.interval(0.999, len(has_stack), 0.5)
    assert low - 3 <= has_stack.sum() <= high


def test_first_pieces_come_after_a_pause() -> None:
    minute = 60 * SECOND_US
    press = np.array([0, 0, 0, 0, 1, 0])
    pressed = np.array([0, 10, 16, 36, 37, 55]) * minute  # the fourth after 20 min, the last 19
    since = seconds_since_start(press, pressed) / 60
    assert since.tolist() == [0, 10, 16, 0, 0, 19]
    codes, names = start_levels(press, pressed)
    assert [names[code] for code in codes] == [
        "first 15 min", "first 15 min", "later", "first 15 min", "first 15 min", "later"]
    assert PAUSE_S == 1200
    assert FRESH_S == 900


def test_has_kind_and_counts_agree_where_pieces_are_single() -> None:
    looks = first_looks(simulate(plain_spec(13), 13))
    for kind in ("lifted_edge", "bubble"):
        assert kind_counts(looks, kind).sum() == has_kind(looks, kind).sum() > 0
