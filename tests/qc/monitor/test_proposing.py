"""The baseline proposed: a fault inside the records must not become what is usual."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from qc.domain.baselines import Against
from qc.domain.instants import DAY_US
from qc.monitor.history import Days, History
from qc.monitor.proposing import (
    ENOUGH_DAYS,
    ENOUGH_PIECES,
    judge_period,
    propose,
)
from qc.monitor.steadiness import SURE_OF_MOVE, Stretch, steady_stretches, streams_of
from qc.monitor.usual import plain_rates, usual_rates

KINDS = ("bubble", "lifted_edge", "scorch")
RATES = (0.01, 0.03, 0.015)
N_PRESSES = 3


def made(
    rng: np.random.Generator, n_days: int, *, per_row: int = 20, factor: np.ndarray | None = None,
) -> History:
    """Work of three presses in four mixes; ``factor`` (days, presses, kinds) on the rates."""
    day, press, cell = (part.ravel() for part in np.meshgrid(
        np.arange(n_days), np.arange(N_PRESSES), np.arange(4), indexing="ij"))
    n = np.full((len(day), len(KINDS)), float(per_row))
    mix = np.array([0.5, 1.0, 1.0, 1.5])[cell]
    more = np.ones((n_days, N_PRESSES, len(KINDS))) if factor is None else factor
    mean = n * np.array(RATES) * mix[:, None] * more[day, press]
    starts = np.arange(n_days, dtype=np.int64) * DAY_US
    return History(
        days=Days(start_us=starts, end_us=starts + DAY_US, of_unit=np.zeros(0, dtype=np.int64)),
        kinds=KINDS, presses=("P1", "P2", "P3"), day=day, press=press, cell=cell,
        cell_codes=np.array([[f, t, 0, 0] for f in range(2) for t in range(2)]),
        looked=n[:, 0], n=n, y=rng.poisson(mean).astype(float),
        pieces=np.full(n_days, float(per_row * N_PRESSES * 4)), touched=np.zeros(n_days),
    )


def faulty(n_days: int, days: slice, *, press: int | slice = 1, ratio: float = 4.0) -> np.ndarray:
    """Factors of a shop whose edges lift on some days."""
    factor = np.ones((n_days, N_PRESSES, len(KINDS)))
    factor[days, press, 1] = ratio
    return factor


def day_of(instant_us: int) -> int:
    return instant_us // DAY_US


def test_all_of_a_steady_history_is_proposed() -> None:
    found = propose(made(np.random.default_rng(1), 40))
    assert found is not None and found.holds and found.is_ready
    assert (day_of(found.from_us), day_of(found.until_us)) == (0, 40)
    assert (found.n_days, found.n_pieces, found.n_left_out) == (40, 40 * 240, 0)
    assert found.left_stretches == ()
    counts = {count.kind: count for count in found.defects}
    assert counts["lifted_edge"].n_looked == 40 * 240
    # expected 0.03 a piece: within five standard errors of a Poisson count
    assert counts["lifted_edge"].n_defects == pytest.approx(288, abs=5 * 288**0.5)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("days", "wanted"), [
    (slice(26, 60), (0, 26)),   # began early, runs on: the longer part is the faulty one
    (slice(0, 32), (32, 60)),   # from the first day, then put right
])
def test_a_fault_of_half_the_history_does_not_become_normal(
    seed: int, days: slice, wanted: tuple[int, int]
) -> None:
    history = made(np.random.default_rng(seed), 60, factor=faulty(60, days))
    found = propose(history)
    assert found is not None and found.is_ready
    assert abs(day_of(found.from_us) - wanted[0]) <= 2
    assert abs(day_of(found.until_us) - wanted[1]) <= 2
    moves = {(left.move.kind, left.move.press) for left in found.left_stretches}
    assert ("lifted_edge", "P2") in moves or ("lifted_edge", None) in moves
    (count,) = [count for count in found.defects if count.kind == "lifted_edge"]
    usual = 0.03 * count.n_looked
    # the fault alone would make it 2 times the usual rate; a third of a day or two may slip in
    assert count.n_defects < usual + 5 * usual**0.5
    assert count.n_defects / count.n_looked < 0.03 * 1.35


def test_a_better_stretch_too_short_to_be_proposed_speaks_against_the_rest() -> None:
    history = made(np.random.default_rng(3), 60, factor=faulty(60, slice(14, 60)))
    found = propose(history)
    assert found is not None and found.is_ready
    assert day_of(found.from_us) == pytest.approx(14, abs=2)
    assert found.against == (Against.HIGHER,)
    (left,) = found.left_stretches
    assert day_of(left.from_us) == 0 and (left.move.ratio or 0) > 1


def test_a_steady_history_is_hardly_ever_cut() -> None:
    rng = np.random.default_rng(7)
    cut = sum(len(steady_stretches(made(rng, 45))[0]) > 1 for _ in range(100))
    # at most the chance asked for: 5 of 100, with five in a hundred of more than 9 (binomial)
    assert cut <= 9
    assert SURE_OF_MOVE == 0.05


def test_an_honest_change_of_the_mix_is_not_cut() -> None:
    history = made(np.random.default_rng(3), 50)
    late = history.day >= 25
    hard = np.where(late, history.cell == 3, history.cell == 0)
    thin = replace(history, n=history.n * hard[:, None], y=history.y * hard[:, None])
    assert len(steady_stretches(thin)[0]) == 1


def test_expected_defects_are_those_of_the_usual_rates() -> None:
    history = made(np.random.default_rng(5), 30)
    streams = streams_of(history, Stretch(first=0, stop=30))
    y, n = (np.stack([np.bincount(history.cell, part[:, k]) for k in range(3)])
            for part in (history.y, history.n))
    rates = plain_rates(usual_rates(y, n, history.cell_codes), history.cell_codes)
    total = sum(history.n[row] * rates[history.cell[row]] for row in range(len(history.day)))
    assert streams.names[:4] == ((None, None), *((kind, None) for kind in KINDS))
    assert streams.expected[1:4].sum(axis=1) == pytest.approx(total)
    assert streams.observed[0].sum() == history.y.sum()
    assert streams.expected[0] == pytest.approx(streams.expected[4:].sum(axis=0))


def test_pieces_of_explained_changes_are_left_out_not_their_days() -> None:
    factor = faulty(60, slice(20, 60))
    history = made(np.random.default_rng(2), 60, factor=factor)
    out = (history.day >= 20) & (history.press == 1)
    n, y = history.n.copy(), history.y.copy()
    n[out, 1], y[out, 1] = 0, 0
    touched = np.where(np.arange(60) >= 20, 80.0, 0.0)
    found = propose(replace(history, n=n, y=y, touched=touched))
    assert found is not None and found.holds
    assert (found.n_days, found.n_left_out) == (60, 40 * 80)
    counts = {count.kind: count.n_looked for count in found.defects}
    assert counts == {"bubble": 14400, "lifted_edge": 14400 - 3200, "scorch": 14400}


def test_a_change_in_most_of_the_work_is_said() -> None:
    history = made(np.random.default_rng(2), 30)
    n, y = history.n.copy(), history.y.copy()
    n[history.day >= 10, 0], y[history.day >= 10, 0] = 0, 0
    found = propose(replace(history, n=n, y=y, touched=np.where(np.arange(30) >= 10, 240.0, 0.0)))
    assert found is not None and Against.MOSTLY_EXPLAINED in found.against


@pytest.mark.parametrize(("n_days", "per_row", "wait"), [
    (5, 20, (ENOUGH_DAYS - 5, 0)),          # 240 pieces a day: days are what is missing
    (10, 1, (74, ENOUGH_PIECES - 120)),     # 12 pieces a day: 880 more take 73.3 days
    (ENOUGH_DAYS, 20, None),
])
def test_too_little_work_says_how_much_more(
    n_days: int, per_row: int, wait: tuple[int, int] | None
) -> None:
    found = propose(made(np.random.default_rng(1), n_days, per_row=per_row))
    assert found is not None
    assert found.is_ready is (wait is None)
    assert (found.wait and (found.wait.n_days, found.wait.n_pieces)) == wait
    assert (Against.TOO_LITTLE in found.against) is (wait is not None)


def test_a_day_far_out_is_said_but_not_cut_off() -> None:
    factor = np.ones((40, N_PRESSES, len(KINDS)))
    factor[17] = 5.0
    found = propose(made(np.random.default_rng(8), 40, factor=factor))
    assert found is not None and found.n_days == 40
    assert Against.UNSTABLE in found.against
    assert 17 in [day_of(us) for us in found.signals_us]


def test_a_period_somebody_chose_is_judged_whole() -> None:
    history = made(np.random.default_rng(1), 60, factor=faulty(60, slice(30, 60)))
    found = judge_period(history)
    assert found is not None and Against.LEVEL_MOVED in found.against and not found.holds
    calm = judge_period(made(np.random.default_rng(1), 60))
    assert calm is not None and calm.holds


def test_no_work_and_no_defects() -> None:
    history = made(np.random.default_rng(1), 25)
    none = replace(history, kinds=(), n=np.zeros((len(history.day), 0)),
                   y=np.zeros((len(history.day), 0)))
    found = propose(none)
    assert found is not None and found.holds and found.defects == ()
    clean = propose(replace(history, y=np.zeros_like(history.y)))
    assert clean is not None and clean.holds and clean.is_ready
    empty = np.zeros(0, dtype=np.int64)
    days = Days(start_us=empty, end_us=empty, of_unit=empty)
    assert propose(replace(history, days=days)) is None
    assert judge_period(replace(history, days=days)) is None
