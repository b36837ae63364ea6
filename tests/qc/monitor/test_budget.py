"""The alarm budget: its parts add up, and the delay it promises is kept."""

import numpy as np
import pytest

from qc.monitor.budget import (
    SCAN_GAIN,
    WEEK_US,
    AlarmBudget,
    family_share,
    slots_per_week,
    stream_worth,
)
from qc.monitor.delays import doubling_delay
from qc.monitor.detection import upper_tail
from qc.monitor.evidence import SLOT_US

FAMILIES = [("press", False), ("press", True), ("operator", False), ("shop", False)]


def test_the_shares_of_the_families_are_the_whole_budget():
    shares = [family_share(name, FAMILIES, zoned=zoned) for name, zoned in FAMILIES]
    assert sum(shares) == pytest.approx(1.0)
    assert family_share("press", FAMILIES, zoned=False) > family_share(
        "shop", FAMILIES, zoned=False
    )


def test_what_all_streams_may_spend_in_a_week_is_the_budget():
    budget, monthly = AlarmBudget(false_flags_per_week=0.25), np.array([0.0, 3.0, 40.0])
    spent = sum(
        20.0 * budget.per_stream(20.0, family_share(name, FAMILIES, zoned=zoned),
                                 stream_worth(monthly)).sum()
        for name, zoned in FAMILIES
    )
    assert spent * SCAN_GAIN == pytest.approx(0.25)


def test_a_shop_that_works_less_may_spend_more_in_a_slot():
    budget, worth = AlarmBudget(false_flags_per_week=0.25), np.ones(7)
    assert budget.per_stream(10.0, 0.5, worth) == pytest.approx(
        2 * budget.per_stream(20.0, 0.5, worth))


def test_kinds_that_can_be_told_from_luck_have_most_of_the_budget():
    budget = AlarmBudget(false_flags_per_week=0.25)
    never, seldom, often = budget.per_stream(20.0, 0.5, stream_worth(np.array([0.0, 2.0, 60.0])))
    assert often > 20 * seldom > 20 * never > 0
    all_alike = budget.per_stream(20.0, 0.5, stream_worth(np.full(3, 8.0)))
    assert np.ptp(all_alike) == 0


def test_the_pace_is_that_of_the_last_weeks():
    lately = np.arange(40) * SLOT_US + 100 * WEEK_US
    long_ago = np.arange(500) * SLOT_US
    assert slots_per_week(np.concatenate([long_ago, lately])) == pytest.approx(40.0, rel=0.05)


def test_the_promised_delay_is_kept_in_simulation():
    rng = np.random.default_rng(8)
    per_day, alpha, variance = 3.0, 1e-4, 0.02
    days = np.arange(1, 92)
    promised = doubling_delay(per_day, np.full(91, alpha), variance)
    level = rng.gamma(1 / variance, variance, (2000, 1))
    seen = np.cumsum(rng.poisson(2 * per_day * level, (2000, 91)), axis=1)
    tail = upper_tail(seen.astype(float), per_day * days, np.asarray(variance))
    first = days[np.argmax(tail < alpha, axis=1)]
    assert np.median(first) <= promised <= 1.5 * np.median(first)


def test_a_stream_that_hardly_ever_sees_a_fault_promises_nothing():
    assert doubling_delay(0.001, np.full(91, 1e-6), 0.1) is None
