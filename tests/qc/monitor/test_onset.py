"""The start of a change: its interval covers the truth as often as it says."""

import numpy as np
import pytest

from qc.monitor.onset import onset


def planted(rng, n=1500, start=900, rate=0.02, factor=3.0):
    expected = np.full(n, rate)
    true = np.where(np.arange(n) >= start, factor * rate, rate)
    return np.arange(n) * 1_000_000, rng.poisson(true).astype(float), expected


def test_the_interval_covers_the_start_about_nine_times_in_ten():
    rng = np.random.default_rng(3)
    covered = 0
    for _ in range(300):
        found = onset(*planted(rng))
        covered += found.low_us <= 900_000_000 <= found.high_us
    assert 0.85 <= covered / 300 <= 0.97


def test_a_large_change_is_dated_closely():
    rng = np.random.default_rng(4)
    found = onset(*planted(rng, rate=0.1, factor=8.0))
    assert found.changed_at_us == pytest.approx(900e6, abs=15e6)


def test_a_lot_that_is_bad_from_its_first_piece_starts_there():
    rng = np.random.default_rng(5)
    when = np.arange(400) * 1_000_000
    seen = rng.poisson(0.12, 400).astype(float)
    found = onset(when, seen, np.full(400, 0.03), from_first=True)
    assert found.low_us == 0
    assert found.changed_at_us == 0


def test_with_luck_of_jobs_the_interval_still_covers_the_start():
    rng = np.random.default_rng(6)
    covered, job, cv = 0, np.repeat(np.arange(50), 30), 0.5
    for _ in range(200):
        luck = rng.gamma(1 / cv**2, cv**2, 50)[job]
        when, _, expected = planted(rng)
        true = np.where(np.arange(1500) >= 900, 3.0, 1.0) * expected * luck
        found = onset(when, rng.poisson(true).astype(float), expected, job=job, job_sd=cv)
        covered += found.low_us <= 900_000_000 <= found.high_us
    assert covered / 200 >= 0.85


def test_luck_of_jobs_widens_the_interval():
    rng = np.random.default_rng(6)
    data, job = planted(rng), np.repeat(np.arange(50), 30)
    narrow, wide = onset(*data), onset(*data, job=job, job_sd=0.8)
    assert wide.high_us - wide.low_us > narrow.high_us - narrow.low_us


def test_jobs_worked_side_by_side_count_as_jobs():
    """One odd job among five that run at the same time is no start of anything."""
    rng = np.random.default_rng(8)
    job = np.arange(3000) % 5 + 5 * (np.arange(3000) // 500)
    expected = np.full(3000, 0.03)
    true = np.where(np.arange(3000) >= 2000, 3.0, 1.0) * expected
    true[job == 5 * 2 + 1] *= 6.0
    found = onset(np.arange(3000) * 1_000_000, rng.poisson(true).astype(float), expected,
                  job=job, job_sd=0.5)
    assert found.low_us <= 2000e6 <= found.high_us


def test_an_odd_job_before_is_not_the_start():
    rng = np.random.default_rng(9)
    held = 0
    for _ in range(50):
        when, _, expected = planted(rng)
        true = np.where(np.arange(1500) >= 900, 3.0, 1.0) * expected
        true[700:730] *= 8.0
        found = onset(when, rng.poisson(true).astype(float), expected,
                      job=np.repeat(np.arange(50), 30), job_sd=0.2)
        held += found.low_us <= 900e6 <= found.high_us
    assert held >= 40


def test_a_level_of_which_little_is_known_may_have_been_worse_all_along():
    """It always was at twice what is expected, and then rose threefold."""
    rng = np.random.default_rng(10)
    held = {0.0: 0, 0.4: 0}
    for _ in range(60):
        when, seen, expected = planted(rng)
        for variance in held:
            found = onset(when, seen, expected / 2, before_variance=variance)
            held[variance] += found.low_us <= 900e6 <= found.high_us
    assert held[0.4] >= 50 > held[0.0] + 5


def test_one_piece():
    found = onset(np.array([5]), np.array([1.0]), np.array([0.1]))
    assert (found.low_us, found.changed_at_us, found.high_us) == (5, 5, 5)


def test_a_rise_that_creeps_is_dated_from_its_beginning():
    rng = np.random.default_rng(7)
    covered = 0
    for _ in range(200):
        pieces = np.arange(2400)
        expected = np.full(2400, 0.02)
        rise = 1.0 + np.maximum(pieces - 1000, 0) / 350  # five times the usual rate at the end
        seen = rng.poisson(expected * rise).astype(float)
        found = onset(pieces * 1_000_000_000, seen, expected)
        covered += found.low_us <= 1000e9 <= found.high_us
    assert covered / 200 >= 0.75
