"""Measured streams: a planted shift is found where it sits, and honest jitter is not."""

from dataclasses import replace

import numpy as np
import pytest

from qc.domain.instants import DAY_US, HOUR_US
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US, Coded
from qc.monitor.measured import find_shifts
from qc.monitor.measured_findings import measured_findings
from qc.monitor.readings import CHARACTERISTICS, Readings, typical_targets
from qc.monitor.runs import runs_of_work
from tests.qc.monitor.measured_shop import (
    PLACEMENT,
    MeasuredShop,
    evidence_of,
    measured,
    measurements,
    seen_until,
)

DWELL = next(c for c in CHARACTERISTICS if c.name == "dwell_s")
BUDGET = AlarmBudget(false_flags_per_week=0.25)
FOREVER = 2**62
SETTINGS = ("temperature_c", "dwell_s")


def readings(rng, n=600, sigma=0.02):
    """Readings of 6 presses and 7 people, four in a slot; people mostly keep to a press."""
    press = rng.integers(0, 6, n)
    operator = np.where(rng.random(n) < 0.7, press, rng.integers(0, 7, n))
    slot = np.arange(n) // 4
    return Readings(
        value=rng.normal(0, sigma, (n, 1)), n=np.full((n, 1), 5.0), squares=np.zeros((n, 1)),
        job=np.arange(n), seen_slot=slot, seen_us=slot * SLOT_US + 1000,
        pressed_us=slot * SLOT_US, pressed_last_us=slot * SLOT_US + 500,
        level={"press": press, "operator": operator, "job": np.arange(n),
               "shop": np.zeros(n, dtype=np.int64)},
    )


def shifts(data, as_of_us=FOREVER):
    return find_shifts(data, (DWELL,), BUDGET, as_of_us=as_of_us, n_groups=6).shifts


def named(found):
    return [(s.factor, s.level, s.end is None) for s in found if not s.absorbed]


def test_a_shorter_dwell_on_one_press_is_one_shift_of_that_press():
    data = readings(np.random.default_rng(1))
    data.value[(data.level["press"] == 2) & (np.arange(600) >= 300)] -= 0.20
    found = shifts(data)
    assert named(found) == [("press", 2, True)]
    assert found[0].shift[0] == pytest.approx(-0.20, abs=0.02)
    assert abs(found[0].start - 300) <= 12


def test_put_back_it_is_ended_and_not_a_second_shift():
    data = readings(np.random.default_rng(2))
    at = np.arange(600)
    data.value[(data.level["press"] == 2) & (at >= 200) & (at < 400)] -= 0.20
    found = shifts(data)
    assert named(found) == [("press", 2, False)]
    assert abs(found[0].end - 400) <= 25


def test_a_shift_that_comes_back_is_a_new_one():
    data = readings(np.random.default_rng(12))
    at = np.arange(600)
    off = ((at >= 150) & (at < 270)) | (at >= 420)
    data.value[(data.level["press"] == 2) & off] -= 0.20
    found = shifts(data)
    assert named(found) == [("press", 2, False), ("press", 2, True)]
    assert found[1].start >= 400


def test_a_shift_that_grows_is_still_one():
    data = readings(np.random.default_rng(13))
    at = np.arange(600)
    data.value[(data.level["press"] == 2) & (at >= 200)] -= 0.10
    data.value[(data.level["press"] == 2) & (at >= 400)] -= 0.15
    found = shifts(data)
    assert named(found) == [("press", 2, True)]
    assert found[0].shift[0] == pytest.approx(-0.25, abs=0.03)


def test_a_person_is_told_from_a_press():
    data = readings(np.random.default_rng(3))
    data.value[(data.level["operator"] == 4) & (np.arange(600) >= 300)] += 0.15
    assert named(shifts(data)) == [("operator", 4, True)]


def test_one_job_set_wrong_is_that_job_and_nobodys_habit():
    data = readings(np.random.default_rng(14))
    data.value[350] += 0.3
    assert named(shifts(data)) == [("job", 350, True)]


@pytest.mark.parametrize("seed", range(20, 26))
def test_the_job_during_which_it_was_changed_is_part_of_the_change(seed):
    data = readings(np.random.default_rng(seed))
    mine = np.flatnonzero(data.level["press"] == 2)
    begin = mine[mine >= 300][0]
    data.value[begin] -= 0.10  # half of its pieces
    data.value[mine[mine > begin]] -= 0.20
    assert named(shifts(data)) == [("press", 2, True)]


def test_two_shifts_at_once_are_two():
    data = readings(np.random.default_rng(15))
    at = np.arange(600)
    data.value[(data.level["press"] == 1) & (at >= 300)] -= 0.15
    data.value[(data.level["press"] == 4) & (at >= 310)] += 0.15
    assert sorted(named(shifts(data))) == [("press", 1, True), ("press", 4, True)]


def test_honest_jitter_raises_no_flag_in_twenty_shops():
    found = [shifts(readings(np.random.default_rng(seed))) for seed in range(100, 120)]
    assert sum(map(len, found)) == 0


def test_a_shift_too_small_to_matter_is_not_flagged():
    data = readings(np.random.default_rng(4), sigma=0.001)
    data.value[(data.level["press"] == 2) & (np.arange(600) >= 300)] -= 0.03
    assert shifts(data) == ()


def test_as_of_hides_what_was_seen_later():
    data = readings(np.random.default_rng(5))
    data.value[(data.level["press"] == 2) & (np.arange(600) >= 300)] -= 0.20
    assert shifts(data, as_of_us=70 * SLOT_US) == ()


def test_no_readings_at_all_is_no_shift():
    assert shifts(readings(np.random.default_rng(6), n=0)) == ()


# -- the whole way, from measurements to findings --------------------------------------------------


def shop_with(moves, factor, level, seed=1, names=PLACEMENT, **more):
    """Findings of a shop in which one level moves half-way, with when it did."""
    shop = MeasuredShop(every_piece=names is SETTINGS, **more)
    rng = np.random.default_rng(seed)
    evidence = evidence_of(shop, rng)
    values = measured(evidence, names, shop, rng)
    start = int(np.median(evidence.pressed_us))
    mask = (evidence.factors[factor].codes == level) & (evidence.pressed_us >= start)
    for name, amount in moves.items():
        values[name][mask] += amount
    return measured_findings(
        evidence, measurements(values), BUDGET, as_of_us=FOREVER), start, evidence, values


def test_a_print_that_moves_right_and_down_is_one_finding_that_says_both():
    found, start, _, _ = shop_with({"dx_mm": 5.0, "dy_mm": 3.0}, "operator", 1)
    (one,) = found
    assert (one.kind, one.factor.name, one.factor.level) == (
        "placement", "operator", "operator00001")
    assert one.characteristic == "dx_mm"
    assert one.also == ("dy_mm",)
    assert [name for name, *_ in one.shift] == ["dx_mm", "dy_mm"]
    for (_, amount, low, high), true in zip(one.shift, (5.0, 3.0), strict=True):
        assert low < amount < high
        assert low <= true <= high
    assert one.direction == "up"
    assert one.low_us <= start <= one.high_us
    assert one.before == pytest.approx(0.0, abs=0.5)
    assert one.after == pytest.approx(5.0, abs=0.6)


def test_turned_clockwise_says_only_that():
    found, _, _, _ = shop_with({"rotation_deg": 2.0}, "press", 3)
    (one,) = found
    assert one.characteristic == "rotation_deg"
    assert one.also == ()
    assert one.shift[0][1] == pytest.approx(2.0, abs=0.3)
    assert one.unit == "deg"


def test_a_short_dwell_is_said_in_seconds():
    found, _, _, _ = shop_with({"dwell_s": -3.0}, "press", 0, names=SETTINGS)
    (one,) = found
    assert (one.kind, one.characteristic, one.factor.level) == ("setting", "dwell_s", "press00000")
    name, amount, low, high = one.shift[0]
    assert name == "dwell_s"
    assert low < amount < high
    assert amount == pytest.approx(-3.0, abs=0.3)
    assert one.expected_after == pytest.approx(15.0)


def test_slips_of_the_ruler_are_no_flag_and_do_not_hide_one():
    honest, _, _, _ = shop_with({}, "press", 0, seed=3, slips=0.02)
    assert honest == []
    found, _, _, _ = shop_with({"dy_mm": 4.0}, "press", 2, seed=3, slips=0.02)
    assert [(f.factor.name, f.factor.level) for f in found] == [("press", "press00002")]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_pieces_looked_at_days_later_lie_on_their_side_of_a_change(seed):
    found, start, _, _ = shop_with(
        {"dwell_s": -3.0}, "press", 2, seed=seed, names=SETTINGS, late=0.08)
    assert [(f.factor.name, f.factor.level) for f in found] == [("press", "press00002")]
    assert found[0].low_us <= start <= found[0].high_us


def test_one_measurement_a_job_is_enough_to_see_it_in_the_end():
    found, _, _, _ = shop_with({"dx_mm": 4.0}, "press", 2, seed=4, pieces_an_hour=1000.0)
    assert [(f.factor.name, f.factor.level) for f in found] == [("press", "press00002")]


def test_readings_with_a_direction_left_out_are_used_for_the_others():
    _, _, evidence, values = shop_with({"dy_mm": 4.0}, "press", 2, seed=5)
    values["rotation_deg"][:] = np.nan
    values["dx_mm"][::2] = np.nan
    found = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
    assert [(f.factor.name, f.characteristic) for f in found] == [("press", "dy_mm")]


def test_a_person_not_recorded_is_nobody():
    _, _, evidence, values = shop_with({}, "press", 0, seed=6, missing_person=0.5)
    blank = evidence.factors["operator"].codes < 0
    values["dx_mm"][blank & (evidence.pressed_us >= np.median(evidence.pressed_us))] += 4.0
    found = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
    assert all(f.factor.level is not None or f.factor.name == "shop" for f in found)


def test_the_pieces_at_risk_are_those_of_the_level_since_the_interval():
    (one,), start, evidence, _ = shop_with({"dx_mm": 5.0}, "operator", 1)
    mine = evidence.factors["operator"].codes == 1
    assert set(one.units) == set(np.flatnonzero(mine & (evidence.pressed_us >= one.low_us)))
    assert one.low_us <= start


def test_what_was_signalled_stays_signalled_with_its_name():
    found, _, evidence, values = shop_with({"dx_mm": 5.0}, "operator", 1)
    (one,) = found
    early = one.signalled_at_us + 8 * HOUR_US
    kept = evidence.seen_us <= early
    then = measured_findings(
        seen_until(evidence, early), measurements({k: v[kept] for k, v in values.items()}),
        BUDGET, as_of_us=early,
    )
    assert [(f.id_text, f.signalled_at_us) for f in then] == [(one.id_text, one.signalled_at_us)]


def test_a_shift_is_there_at_the_moment_of_its_signal_and_not_before():
    found, _, evidence, values = shop_with({"dx_mm": 5.0}, "operator", 1)
    (one,) = found
    then, before = (
        [f.id_text for f in measured_findings(
            evidence, measurements(values), BUDGET, as_of_us=one.signalled_at_us - ago)]
        for ago in (0, 1))
    assert (then, before) == ([one.id_text], [])


def test_settings_that_never_vary_still_show_a_change():
    _, start, evidence, values = shop_with({}, "press", 0, seed=7, names=SETTINGS)
    values["dwell_s"][:] = 15.0
    assert measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER) == []
    values["dwell_s"][(evidence.factors["press"].codes == 2) & (evidence.pressed_us >= start)] = 12
    (one,) = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
    assert (one.factor.level, one.shift[0][1]) == ("press00002", pytest.approx(-3.0, abs=0.1))


def test_without_jobs_honest_work_is_no_flag_and_a_shift_is_one():
    _, start, evidence, values = shop_with({}, "press", 0, seed=8)
    press, fabric, transfer = (evidence.factors[name].codes
                               for name in ("press", "fabric", "transfer"))
    run, begun = runs_of_work(press, fabric * 100 + transfer, evidence.pressed_us // SLOT_US,
                              evidence.seen_us // SLOT_US, longest=30)
    blank = replace(evidence, job=Coded(codes=np.full(len(evidence.n), -1), levels=()),
                    run=Coded(codes=run, levels=tuple(map(str, begun))))
    assert measured_findings(blank, measurements(values), BUDGET, as_of_us=FOREVER) == []
    mine = (evidence.factors["press"].codes == 1) & (evidence.pressed_us >= start)
    values["dy_mm"][mine] += 4.0
    found = measured_findings(blank, measurements(values), BUDGET, as_of_us=FOREVER)
    assert [(f.factor.name, f.factor.level) for f in found] == [("press", "press00001")]


def test_a_person_who_works_one_press_alone_is_named_with_it():
    _, start, evidence, values = shop_with({}, "press", 0, seed=9)
    press = evidence.factors["press"]
    both = replace(evidence, factors={**evidence.factors, "operator": press})
    values["dx_mm"][(press.codes == 1) & (evidence.pressed_us >= start)] += 4.0
    (one,) = measured_findings(both, measurements(values), BUDGET, as_of_us=FOREVER)
    assert {one.factor.name, one.other_factors[0].name} == {"operator", "press"}
    assert one.other_factors[0].weight > 0.2


def test_a_job_named_is_ended_when_it_is_done():
    rng = np.random.default_rng(9)
    shop = MeasuredShop()
    evidence = evidence_of(shop, rng)
    values = measured(evidence, PLACEMENT, shop, rng)
    job = 150 + int(np.bincount(evidence.job.codes)[150:].argmax())
    values["dy_mm"][evidence.job.codes == job] += 9.0
    (one,) = measured_findings(evidence, measurements(values), BUDGET, as_of_us=FOREVER)
    assert (one.factor.name, one.factor.level) == ("job", f"J{job:05d}")
    assert one.ended_at_us is not None
    assert one.ended_at_us - one.changed_at_us < DAY_US


# -- targets ---------------------------------------------------------------------------------------


def test_without_a_recipe_what_was_usual_in_the_first_slot_is_the_target():
    value = np.array([15.0, 15.2, 14.8, 12.0, 9.0])
    cell = np.array([0, 0, 0, 0, 1])
    target = np.array([np.nan] * 4 + [10.0])
    seen = np.array([0, 1, 2, 5 * SLOT_US, 0])
    filled = typical_targets(value, cell, target, seen)
    assert filled.tolist() == [15.0, 15.0, 15.0, 15.0, 10.0]
