"""Measurements gathered into readings, by hand."""

import numpy as np
import pytest

from qc.monitor.evidence import SLOT_US, Coded
from qc.monitor.readings import (
    CHARACTERISTICS,
    Measurements,
    gather_readings,
    reading_groups,
    streams_together,
)
from tests.qc.monitor.measured_shop import MeasuredShop, evidence_of, measurements, seen_until

DX, DY, TURN = (c for c in CHARACTERISTICS if c.kind == "placement")
DWELL = next(c for c in CHARACTERISTICS if c.name == "dwell_s")


def evidence(**columns):
    """A few units with these columns; what is not given is one level for all."""
    shop = evidence_of(MeasuredShop(days=10), np.random.default_rng(1))
    some = seen_until(shop, 2**62)
    n = len(next(iter(columns.values())))
    take = np.zeros(n, dtype=np.int64)
    factors = {name: coded.take(take) for name, coded in some.factors.items()}
    for name in set(columns) & set(factors):
        codes = np.array(columns[name])
        factors[name] = Coded(codes=codes, levels=factors[name].levels)
    pressed = np.array(columns.get("pressed_us", np.arange(n)))
    job = Coded(codes=np.array(columns.get("job", take)), levels=some.job.levels)
    return some.__class__(**{
        **{name: getattr(some, name) for name in some.__slots__},
        "pressed_us": pressed, "seen_us": np.array(columns.get("seen_us", pressed)),
        "n": np.ones(n), "unit_piece": np.arange(n), "cell": take, "factors": factors,
        "job": job, "run": Coded(codes=np.array(columns.get("run", job.codes)), levels=job.levels),
    })


def placed(value, characteristic=DX, unit=None):
    at = np.arange(len(value)) if unit is None else np.array(unit)
    return Measurements(
        characteristic=characteristic, unit=at, value=np.array(value, dtype=float),
        target=np.zeros(len(value)))


def test_measurements_of_a_job_at_a_press_in_a_slot_are_one_reading():
    ev = evidence(job=[0, 0, 1, 0], press=[0, 0, 0, 0], pressed_us=[5, 7, 9, SLOT_US + 1])
    got = gather_readings(ev, (placed([1.0, 2.0, 5.0, 4.0]),))
    assert got.value[:, 0].tolist() == [1.5, 5.0, 4.0]
    assert got.n[:, 0].tolist() == [2, 1, 1]
    assert got.squares[:, 0].tolist() == [0.5, 0.0, 0.0]
    assert got.job.tolist() == [0, 1, 0]
    assert (got.pressed_us[0], got.pressed_last_us[0]) == (5, 7)


def test_directions_are_read_together_and_one_left_out_counts_nothing():
    ev = evidence(job=[0, 0, 1])
    got = gather_readings(ev, (placed([1.0, 3.0], unit=[0, 1]), placed([7.0], DY, unit=[2])))
    assert got.value.tolist() == [[2.0, 0.0], [0.0, 7.0]]
    assert got.n.tolist() == [[2, 0], [0, 1]]


def test_without_a_job_a_run_of_work_stands_for_it():
    ev = evidence(job=[-1, -1, 4], run=[8, 9, 4])
    got = gather_readings(ev, (placed([1.0, 2.0, 5.0]),))
    assert sorted(got.job.tolist()) == [4, 8, 9]
    assert got.level["job"].tolist().count(-1) == 2


def test_a_slip_of_the_ruler_is_drawn_in_to_its_job():
    ev = evidence(job=[0] * 5, size=[0, 1, 2, 3, 4])
    got = gather_readings(ev, (placed([1.0, 1.2, 0.8, 1.0, 60.0]),))
    assert got.value.max() == pytest.approx(1.0 + 4 * DX.least)


def test_a_straggler_of_a_job_long_seen_is_left_out_and_a_late_job_is_not():
    far = 5 * SLOT_US
    ev = evidence(
        job=[0, 0, 1, 2], pressed_us=[1, 2, far, 3], seen_us=[5, far + SLOT_US, far + 1,
                                                             far + SLOT_US])
    got = gather_readings(ev, (placed([1.0, 2.0, 3.0, 4.0]),))
    assert sorted(got.value[:, 0].tolist()) == [1.0, 3.0, 4.0]


def test_two_that_disagree_are_both_kept():
    got = gather_readings(evidence(job=[0, 0]), (placed([0.0, 60.0]),))
    assert got.value[0, 0] == 30.0


def test_a_setting_is_a_share_of_its_recipe():
    ev = evidence(job=[0, 1])
    dwell = Measurements(
        characteristic=DWELL, unit=np.arange(2), value=np.array([12.0, 15.0]),
        target=np.array([15.0, 15.0]))
    assert gather_readings(ev, (dwell,)).value[:, 0] == pytest.approx([-0.2, 0.0])


def test_each_setting_is_alone_and_placement_is_one():
    values = {"dwell_s": np.ones(3), "dx_mm": np.ones(3), "temperature_c": np.ones(3),
              "rotation_deg": np.ones(3)}
    groups = streams_together(measurements(values))
    assert [[m.characteristic.name for m in g] for g in groups] == [
        ["dwell_s"], ["temperature_c"], ["dx_mm", "rotation_deg"]]


def test_groups_stay_apart_where_the_numbers_would_not_fit_into_one():
    n = 2000
    rng = np.random.default_rng(2)
    ev = evidence(
        job=rng.integers(0, 10**6, n), press=rng.integers(0, 10**6, n),
        operator=rng.integers(-1, 10**6, n), fabric=rng.integers(0, 10**6, n),
        transfer=rng.integers(0, 10**6, n), pressed_us=rng.integers(0, 10**5, n) * SLOT_US)
    assert len(np.unique(reading_groups(ev, "setting"))) == n
