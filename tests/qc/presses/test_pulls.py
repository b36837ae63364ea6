"""Ranked pulls of paper and film."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from qc.domain.pulls import PullCheck
from qc.presses import pulls as room
from qc.presses.pulls import pull_checks
from tests.qc.presses.made import T0

PLACES = ("far_left", "far_right", "centre", "near_left", "near_right")


def pulls(*rounds: tuple[int, ...], press: str = "P1", state: str = "routine",
          first_day: int = 0) -> pd.DataFrame:
    return pd.DataFrame([
        {"measured_at": T0 + (first_day + day) * DAY_US + at, "press": press, "station": None,
         "place": PLACES[at], "grip": grip, "method": "paper", "state": state}
        for day, grips in enumerate(rounds) for at, grip in enumerate(grips)])


def judged(frame: pd.DataFrame, as_of_day: int = 100) -> list[PullCheck]:
    return list(pull_checks(frame, as_of_us=T0 + as_of_day * DAY_US))


def test_a_corner_that_slides_out_is_plain_at_once() -> None:
    (one,) = judged(pulls((2, 2, 2, 2, 0)))
    assert (one.state, one.weakest, one.chance) == ("uneven", "near_right", None)
    assert dict(one.grips)["near_right"] == 0


def test_a_small_difference_in_one_round_cannot_be_told() -> None:
    (one,) = judged(pulls((2, 2, 2, 2, 1)))
    assert one.state == "cannot_tell"


def test_a_small_difference_in_every_round_is_more_than_luck() -> None:
    (one,) = judged(pulls(*[(2, 2, 2, 2, 1)] * 6))
    assert one.state == "uneven"
    assert one.weakest == "near_right"
    assert one.chance is not None and one.chance < 0.01


def test_equal_grips_are_even() -> None:
    (one,) = judged(pulls(*[(2, 2, 2, 2, 2)] * 4))
    assert (one.state, one.chance) == ("even", 1.0)


def test_the_chance_is_friedmans(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hollander & Wolfe, Nonparametric Statistical Methods, rounding first base: three ways, 22
    players, S = 11.1, p about .004 (times and answer from memory)."""
    times = np.array([
        [5.40, 5.50, 5.55], [5.85, 5.70, 5.75], [5.20, 5.60, 5.50], [5.55, 5.50, 5.40],
        [5.90, 5.85, 5.70], [5.45, 5.55, 5.60], [5.40, 5.40, 5.35], [5.45, 5.50, 5.35],
        [5.25, 5.15, 5.00], [5.85, 5.80, 5.70], [5.25, 5.20, 5.10], [5.65, 5.55, 5.45],
        [5.60, 5.35, 5.45], [5.05, 5.00, 4.95], [5.50, 5.50, 5.40], [5.45, 5.55, 5.50],
        [5.55, 5.55, 5.35], [5.45, 5.50, 5.55], [5.50, 5.45, 5.25], [5.65, 5.60, 5.40],
        [5.70, 5.65, 5.55], [6.30, 6.30, 6.25]])
    rounds = [tuple(int(round(100 * t)) for t in row) for row in times]
    monkeypatch.setattr(room, "LATEST_ROUNDS", len(rounds))
    (one,) = judged(pulls(*rounds))
    assert one.chance == pytest.approx(0.0038, abs=5e-4)


def test_what_was_put_right_begins_anew() -> None:
    frame = pd.concat([pulls(*[(2, 2, 2, 2, 1)] * 6),
                       pulls((2, 2, 2, 2, 2), state="as_left", first_day=10)])
    (one,) = judged(frame)
    assert (one.n_rounds, one.state) == (1, "even")


def test_presses_stand_apart_and_later_rounds_are_not_known_yet() -> None:
    frame = pd.concat([pulls((2, 2, 2, 2, 2), press="P2"), pulls((2, 2, 2, 0, 2)),
                       pulls((2, 2, 2, 2, 2), first_day=50)])
    found = judged(frame, as_of_day=20)
    assert [(one.press, one.state) for one in found] == [("P1", "uneven"), ("P2", "even")]


def test_one_place_alone_says_nothing() -> None:
    assert judged(pulls((2,))) == []
    assert judged(pulls((2, 2)).iloc[:0]) == []
