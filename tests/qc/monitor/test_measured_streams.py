"""Running sums of streams against the same statistics worked out from whole covariances."""

import numpy as np
import pytest

from qc.monitor.measured_start import interval_of, log_support
from qc.monitor.measured_streams import (
    Order,
    running_sums,
    shifts,
    weights_of,
    windows,
)
from qc.monitor.measured_usual import VISIT_SHARE, Usual, learn_usual
from qc.monitor.readings import CHARACTERISTICS, Readings
from qc.stats.change.changepoint import normal_step
from tests.published import case

DX = tuple(c for c in CHARACTERISTICS if c.name == "dx_mm")
BETWEEN, WITHIN, SPREAD = 0.6, 2.0, 0.4


def readings_of(value, *, job, slot, n, press):
    count = len(value)
    return Readings(
        value=np.reshape(value, (count, -1)).astype(float), n=np.reshape(n, (count, -1)) * 1.0,
        squares=np.zeros((count, 1)), job=np.array(job),
        seen_slot=np.array(slot), seen_us=np.array(slot) * 10, pressed_us=np.array(slot) * 10,
        pressed_last_us=np.array(slot) * 10 + 5, level={"press": np.array(press)},
    )


def usual_of(between=BETWEEN, within=WITHIN, spread=SPREAD):
    return Usual(
        centre=np.zeros(1), offset={}, mix=np.eye(1), unmix=np.eye(1), within=np.array([within]),
        between=np.array([between]), spread={"press": np.array([spread])}, degrees=100.0,
        sigma=np.ones(1),
    )


def sums_of(readings, usual):
    layout = Order.of(readings).between(0, len(readings))
    weights = weights_of(layout, usual, readings)
    return running_sums(layout, usual, readings.value, weights, readings.n)


def some_readings(rng):
    """Two presses; jobs over several slots, two of them at once."""
    job = [0, 1, 0, 1, 2, 2, 3, 4, 3, 4, 5, 6, 6, 6]
    slot = [0, 0, 1, 1, 2, 3, 4, 4, 5, 5, 6, 7, 8, 9]
    press = [0, 1, 0, 1, 0, 0, 0, 1, 0, 1, 0, 0, 0, 1]
    n = rng.integers(1, 9, len(job))
    return readings_of(rng.normal(size=len(job)), job=job, slot=slot, n=n, press=press)


def covariance(readings, rows, usual):
    """Of the readings themselves about their stream's place."""
    job, n = readings.job[rows], readings.n[rows, 0]
    same = (job[:, None] == job[None, :]) * (1 - VISIT_SHARE) * usual.between[0]
    return same + np.diag(VISIT_SHARE * usual.between[0] + usual.within[0] / n)


def test_innovations_are_uncorrelated_and_as_heavy_as_they_say():
    readings, usual = some_readings(np.random.default_rng(1)), usual_of()
    layout = Order.of(readings).between(0, len(readings))
    weights = weights_of(layout, usual, readings)
    rows = layout.reading
    columns = []
    for at in rows:
        one = np.zeros((len(readings), 1))
        one[at] = 1.0
        columns.append(np.diff(running_sums(layout, usual, one, weights, readings.n).total[:, 0]))
    map_ = np.stack(columns, axis=1)
    same_stream = layout.stream[:, None] == layout.stream[None, :]
    whole = map_ @ (covariance(readings, rows, usual) * same_stream) @ map_.T
    weight = np.diff(sums_of(readings, usual).weight[:, 0])
    assert whole == pytest.approx(np.diag(weight), abs=1e-10)


def test_t2_of_a_window_is_that_of_least_squares_with_the_whole_covariance():
    readings, usual = some_readings(np.random.default_rng(2)), usual_of()
    sums = sums_of(readings, usual)
    layout = sums.layout
    mine = layout.visits(0)
    rows = layout.reading[mine]
    whole = covariance(readings, rows, usual) + SPREAD
    inverse = np.linalg.inv(whole)
    x = readings.value[rows, 0]
    new_job = np.flatnonzero(np.r_[True, np.diff(readings.job[rows]) != 0])
    for begin in new_job[1:]:
        after = (np.arange(len(rows)) >= begin) * 1.0
        precision = after @ inverse @ after
        estimate = after @ inverse @ x / precision
        at = np.array([mine.stop - 1])
        found = windows(sums, at, np.array([len(rows) - begin]))
        assert found.t2[0, 0] == pytest.approx(estimate**2 * precision, rel=1e-9)


def test_a_window_longer_than_its_stream_is_none():
    readings = some_readings(np.random.default_rng(3))
    sums = sums_of(readings, usual_of())
    found = windows(sums, np.array([sums.layout.visits(1).start]), np.array([1, 2]))
    assert found.t2[0, 0] >= 0
    assert found.t2[0, 1] == -1


def test_readings_of_one_job_in_one_slot_are_one_visit():
    readings = readings_of(
        [1.0, 4.0], job=[7, 7], slot=[0, 0], n=[1, 2], press=[0, 0])
    sums = sums_of(readings, usual_of())
    assert len(sums.layout.reading) == 1
    assert sums.plain_weight[1, 0] == pytest.approx(1 / (BETWEEN + WITHIN / 3))
    assert sums.plain_total[1, 0] / sums.plain_weight[1, 0] == pytest.approx(3.0)


def test_a_reading_without_the_level_is_in_no_stream():
    readings = readings_of([1.0, 4.0], job=[1, 2], slot=[0, 1], n=[1, 1], press=[-1, 0])
    assert Order.of(readings).between(0, 2).reading.tolist() == [1]


def test_the_size_of_a_shift_is_the_difference_of_means():
    value = np.r_[np.zeros(40), np.full(10, 3.0)]
    k = np.arange(50)
    readings = readings_of(value, job=k, slot=k, n=np.full(50, 4), press=np.zeros(50, int))
    sums = sums_of(readings, usual_of())
    at = np.array([49])
    found = windows(sums, at, np.array([10]))
    assert shifts(sums, at, found.begin)[0, 0, 0] == pytest.approx(3.0)


def test_few_measurements_far_off_are_drawn_in_and_many_are_believed():
    readings = readings_of([20.0, 20.0], job=[0, 1], slot=[0, 1], n=[1, 8], press=[0, 0])
    sums = sums_of(readings, usual_of())
    few, many = np.diff(sums.plain_total[:, 0]) / np.diff(sums.plain_weight[:, 0])
    assert few == pytest.approx(3.0 * np.sqrt(BETWEEN + WITHIN))
    assert many == pytest.approx(20.0)


def test_a_shift_put_back_is_no_slip():
    readings = readings_of([20.0], job=[0], slot=[0], n=[1], press=[0])
    usual = usual_of()
    layout = Order.of(readings).between(0, 1)
    own = np.full((1, 1), 19.0)
    sums = running_sums(layout, usual, readings.value - own, weights_of(layout, usual, readings),
                        readings.n, put_back=own)
    assert sums.plain_total[1, 0] / sums.plain_weight[1, 0] == pytest.approx(20.0)


# -- the start -------------------------------------------------------------------------------------


def known_before(value, sigma):
    """A stream whose place before is known to be 0, readings of one sigma."""
    k = np.arange(len(value))
    readings = readings_of(
        value, job=k, slot=k, n=np.full(len(value), 9), press=np.zeros(len(value), int))
    return sums_of(readings, usual_of(between=sigma**2 - 1e-9, within=1e-9, spread=1e-9))


def test_a_published_step_has_the_published_statistics_and_start():
    """Samuel, Pignatiello & Calvin (1998): T2 of all starts is their objective."""
    known = case("changepoint_normal_constructed")
    sums = known_before(np.array(known["data"]["x"]), known["parameters"]["sigma"])
    t2 = windows(sums, np.array([16]), np.arange(17, 0, -1)).t2[0]
    assert t2 == pytest.approx(known["recomputed"]["objective_t_0_to_Tm1"], rel=1e-6)
    support = log_support(sums, np.arange(17), 17)
    assert int(support.argmax()) == known["recomputed"]["tau_hat"]


def test_the_most_likely_start_is_that_of_the_known_step_estimate():
    rng = np.random.default_rng(4)
    for begin in (12, 30, 44):
        value = rng.normal(0, 2.0, 60)
        value[begin:] += 5.0
        known = normal_step(value, centre=0.0, sigma=2.0)
        support = log_support(known_before(value, 2.0), np.arange(60), 60)
        assert int(support.argmax()) == known.last_before


def test_the_interval_of_a_start_holds_it_as_often_as_it_says():
    """600 runs at 90 %: at least 0.87 unless by a chance of one in a hundred."""
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(600):
        value = rng.normal(0, 1, 60)
        value[25:] += rng.choice([1.2, 2.0, 3.5])
        support = log_support(known_before(value, 1.0), np.arange(60), 60)
        _, low, high = interval_of(support)
        held += low <= 25 <= high
    assert held / 600 >= 0.87


def test_a_clear_step_has_a_short_interval():
    support = np.array([0.0, 1.0, 30.0, 2.0])
    assert interval_of(support) == (2, 2, 2)
    assert interval_of(np.zeros(10), 0.85)[1:] == (0, 8)


# -- what is usual ---------------------------------------------------------------------------------


def honest(rng, n_jobs=400, within=1.5, between=0.8, place=None):
    press = rng.integers(0, 5, n_jobs)
    n = rng.integers(3, 9, n_jobs)
    value = rng.normal(0, between, n_jobs) + rng.normal(0, 1, n_jobs) * within / np.sqrt(n)
    if place is not None:
        value += place[press]
    k = np.arange(n_jobs)
    made = readings_of(value, job=k, slot=k, n=n, press=press)
    squares = within**2 * rng.chisquare(n - 1)
    return made.__class__(**{
        name: getattr(made, name) for name in made.__slots__ if name != "squares"
    }, squares=squares[:, None])


def test_spreads_are_those_they_were_drawn_with():
    readings = honest(np.random.default_rng(6))
    usual = learn_usual(readings, readings.value, DX, slice(0, 400))
    assert np.sqrt(usual.within[0]) == pytest.approx(1.5, rel=0.05)
    assert np.sqrt(usual.between[0]) == pytest.approx(0.8, rel=0.12)


def test_the_places_of_levels_are_learnt():
    place = np.array([-1.0, 0.0, 0.0, 0.5, 0.5])
    readings = honest(np.random.default_rng(7), place=place)
    usual = learn_usual(readings, readings.value, DX, slice(0, 400))
    assert usual.centre[0] + usual.offset["press"][:, 0] == pytest.approx(place, abs=0.3)


def test_slips_do_not_widen_what_is_usual_much():
    readings = honest(np.random.default_rng(8))
    readings.value[::50] += 25.0
    usual = learn_usual(readings, readings.value, DX, slice(0, 400))
    assert np.sqrt(usual.between[0]) < 1.3


def test_directions_that_move_together_are_parted():
    rng = np.random.default_rng(9)
    a = rng.normal(size=500)
    value = np.stack([a, 0.8 * a + 0.6 * rng.normal(size=500)], axis=1)
    k = np.arange(500)
    made = readings_of(value[:, 0], job=k, slot=k, n=np.full(500, 5), press=k % 3)
    readings = made.__class__(**{
        **{name: getattr(made, name) for name in made.__slots__}, "value": value,
        "n": np.full((500, 2), 5.0), "squares": np.full((500, 2), 0.04),})
    two = (DX[0], DX[0])
    usual = learn_usual(readings, readings.value, two, slice(0, 500))
    parts = readings.value @ usual.unmix.T
    assert abs(np.corrcoef(parts.T)[0, 1]) < 0.1
