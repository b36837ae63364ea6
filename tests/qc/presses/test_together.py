"""The EWMA of surveys: its run length is what it says, and it sees small lasting moves."""

from __future__ import annotations

import numpy as np
import pytest

from qc.domain.instants import DAY_US
from qc.presses.surveys import surveys_of
from qc.presses.together import RUN_LENGTH, WEIGHT, surveys_together
from tests.qc.presses.made import T0, health_at, readings, survey

SIGMA = 0.5


def together(*offsets: float, sigma: float = SIGMA, check_days: float = 7.0, **first: str):
    rows = [survey(7 * i, offset, **(first if i == 0 else {})) for i, offset in enumerate(offsets)]
    return surveys_together(surveys_of(readings(*rows))["P1", "upper"], sigma, check_days)


def test_by_hand() -> None:
    found = together(1.0, 2.0, 0.0)
    q = [(2.0 - 1.0) / np.sqrt(2), np.sqrt(2 / 3) * (0.0 - 1.5)]  # each against those before it
    first = WEIGHT * q[0]
    np.testing.assert_allclose(found.value_c, [first, WEIGHT * q[1] + (1 - WEIGHT) * first])
    assert found.at_us.tolist() == [T0 + 7 * DAY_US, T0 + 14 * DAY_US]
    assert found.limit_c == pytest.approx(SIGMA * 2.859 / 3, abs=0.001)
    assert found.years == pytest.approx(370 * 7 / 365.25)
    assert not found.value_c.flags.writeable


def test_the_limit_is_that_of_published_tables() -> None:
    """L = 2.859 at lambda 0.2 for a run length of 370: from memory, and the house's run lengths,
    which are held against Lucas & Saccucci (1990)."""
    steady = np.sqrt(WEIGHT / (2 - WEIGHT))
    assert together(0, 0, 0).limit_c / (SIGMA * steady) == pytest.approx(2.859, abs=0.0005)


def test_unmoved_platens_signal_as_rarely_as_it_says() -> None:
    """400 platens of any level, 100 surveys each, the level learnt from the first survey on."""
    rng = np.random.default_rng(51)
    signalled, n = [], 100
    for _ in range(400):
        level = rng.uniform(-2, 2)
        rows = [one for i in range(n) for one in
                survey(7 * i, level + rng.normal(0, SIGMA), pattern=[0.0])]
        found = surveys_together(surveys_of(readings(rows))["P1", "upper"], SIGMA, 7.0)
        signalled.append(bool((np.abs(found.value_c) > found.limit_c).any()))
    wanted = 1 - np.exp(-(n - 1) / RUN_LENGTH)  # run lengths in control are nearly geometric
    assert np.mean(signalled) == pytest.approx(wanted, abs=0.06)


def test_a_small_drift_signals_and_says_since_when() -> None:
    level = [0.2, -0.3, 0.1, 0.4, -0.2, 0.0, 0.3, -0.1, 0.2, -0.2]
    found = together(*level, *(0.35 * np.arange(1, 6)))
    assert found.direction == 1
    assert T0 + 7 * 10 * DAY_US < found.since_us <= T0 + 7 * 14 * DAY_US
    assert together(*level).direction == 0 and together(*level).since_us is None
    down = together(*[-x for x in level], *(-0.35 * np.arange(1, 6)))
    assert down.direction == -1 and down.since_us == found.since_us


def test_an_adjustment_begins_it_anew() -> None:
    rows = [survey(7 * i, 0.6 * i) for i in range(6)]
    rows += [survey(35, 0.0, state="as_left")]
    rows += [survey(42 + 7 * i, 0.1 * (-1) ** i) for i in range(3)]
    found = surveys_together(surveys_of(readings(*rows))["P1", "upper"], SIGMA, 7.0)
    assert len(found.value_c) == 3 and found.direction == 0


def test_too_few_surveys_say_nothing() -> None:
    assert together(0.0, 1.0) is None


def test_the_reason_says_it_when_it_signals() -> None:
    frame = readings(*[survey(7 * i, 0.0) for i in range(10)],
                     *[survey(70 + 7 * i, -2.0) for i in range(3)])
    (one,) = health_at(92, frame)
    assert "surveys taken together (EWMA) lie lower than those before them" in one.reason
    (calm,) = health_at(92, frame[frame["measured_at"] < T0 + 70 * DAY_US])
    assert "EWMA" not in calm.reason
