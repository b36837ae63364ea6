"""Answers are kept while they are good: nothing is asked twice, nothing stale is shown."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event

import pytest

from dashboard import answers as module
from dashboard.answers import SLOW_LEAST_US, SLOW_MOST_US, Answers
from qc.desk.shop import Shop, change_setting
from qc.domain.instants import DAY_US
from tests.dashboard.small_shop import END_US, build_shop

MINUTE_US = 60_000_000


class HandClock:
    """A clock set by hand."""

    def __init__(self, now_us: int) -> None:
        self.now_us = now_us

    def __call__(self) -> int:
        return self.now_us


@pytest.fixture
def own(tmp_path: Path) -> Shop:
    """A shop that a test may change."""
    return build_shop(tmp_path)


def counted(monkeypatch: pytest.MonkeyPatch, name: str) -> list[int]:
    """As-of times at which a desk function is really asked."""
    asked: list[int] = []
    real = getattr(module, name)

    def asking(*given: object, as_of_us: int, **more: object) -> object:
        asked.append(as_of_us)
        return real(*given, as_of_us=as_of_us, **more)

    monkeypatch.setattr(module, name, asking)
    return asked


def test_a_fixed_moment_is_asked_once(own: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = counted(monkeypatch, "floor_now")
    answers = Answers(own, as_of_us=END_US, clock_us=HandClock(END_US + DAY_US))
    assert answers.floor() is answers.floor() and asked == [END_US]
    assert not answers.is_live


def test_many_at_once_ask_once(own: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = counted(monkeypatch, "current_flags")
    answers = Answers(own, as_of_us=END_US)
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda _: answers.flags(), range(16)))
    assert len(asked) == 1 and all(f is found[0] for f in found)


def test_quick_answers_move_with_the_minute_and_the_store(
    own: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, clock = counted(monkeypatch, "floor_now"), HandClock(END_US)
    answers = Answers(own, clock_us=clock)
    answers.floor()
    clock.now_us += MINUTE_US
    answers.floor()
    change_setting(own, name="shop_name", value="Anew", by="test", at_us=clock.now_us)
    answers.floor()
    assert asked == [END_US, END_US + MINUTE_US, END_US + MINUTE_US]
    assert answers.shop.name == "Anew"


def test_flags_are_not_looked_for_at_every_change(
    own: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked, clock = counted(monkeypatch, "current_flags"), HandClock(END_US)
    answers = Answers(own, clock_us=clock)
    assert answers.flags_if_known() is None
    answers.flags()
    assert answers.flags_if_known() is not None
    change_setting(own, name="shop_name", value="Anew", by="test", at_us=clock.now_us)
    answers.flags()
    assert len(asked) == 1, "a change within the minute waits"
    clock.now_us += SLOW_LEAST_US + 1
    answers.flags()
    assert len(asked) == 2, "and is looked at after it"
    clock.now_us += SLOW_MOST_US
    answers.flags()
    assert len(asked) == 2
    clock.now_us += SLOW_MOST_US
    answers.flags()
    assert len(asked) == 3, "without a change, now and then"


def test_what_is_slow_outlasts_a_walk_over_many_pages(
    own: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = counted(monkeypatch, "current_flags")
    answers = Answers(own, as_of_us=END_US)
    answers.flags()
    for k in range(3 * module.MOST_KEPT):
        answers.quick(("chart", k), lambda _: object())
    answers.flags()
    assert len(asked) == 1 and answers.flags_if_known() is not None


def test_what_is_being_worked_out_is_shared_though_the_store_changes(own: Shop) -> None:
    clock, begun, go_on = HandClock(END_US), Event(), Event()
    answers, asked = Answers(own, clock_us=clock), []

    def slowly(then_us: int) -> int:
        asked.append(then_us)
        begun.set()
        assert go_on.wait(30)
        return then_us

    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(answers.slow, "long", slowly)
        assert begun.wait(30)
        change_setting(own, name="shop_name", value="Anew", by="test", at_us=clock.now_us)
        clock.now_us += SLOW_LEAST_US + 1
        assert answers.slow_as_of_us() == END_US, "who asks now waits for the same answer"
        go_on.set()
        assert first.result(30) == END_US
    assert answers.slow("long", slowly) > END_US, "once it is done, the change counts"


def test_the_newest_flags_stay_at_hand_while_newer_ones_are_due(own: Shop) -> None:
    clock = HandClock(END_US)
    answers = Answers(own, clock_us=clock)
    assert answers.flags_newest() is None
    found = answers.flags()
    clock.now_us += SLOW_MOST_US + 1
    assert answers.flags_if_known() is None and answers.flags_newest() == found


def test_periods_begin_at_a_midnight_of_the_shop(own: Shop) -> None:
    answers = Answers(own, as_of_us=END_US)
    assert answers.since_us("all") is None
    week = answers.since_us("7")
    assert week is not None and own.iso(week) == "2026-04-04T00:00:00+01:00"
