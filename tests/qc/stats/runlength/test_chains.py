"""Moments and percentiles of any chain, against adding up its survival point by point."""

from __future__ import annotations

import numpy as np
import pytest

from qc.stats.charts.rules import rule_set
from qc.stats.runlength.chains import Chain, chain_arl, chain_run, settled
from qc.stats.runlength.following import FollowedChain, followed_arl, followed_run, long_used
from qc.stats.runlength.result import SHARES, RunLength
from qc.stats.runlength.zones import (
    CountMoves,
    continuous_zones,
    counted_zones,
    edges,
    moves_from,
    normal,
)


def _random_step(leaving: float, seed: int, n: int = 12) -> np.ndarray:
    rng = np.random.default_rng(seed)
    step = rng.exponential(1, (n, n)) ** 3  # few large moves, so that it mixes slowly
    return step / step.sum(axis=1, keepdims=True) * (1 - leaving * rng.random(n))[:, None]


def _survival(step: np.ndarray, mass: np.ndarray, survived: list[float]) -> np.ndarray:
    chance = list(survived)
    while chance[-1] > 1e-17:
        chance.append(float(mass.sum()))
        mass = mass @ step
    return np.array(chance)


def _agrees(run: RunLength, chance: np.ndarray) -> None:
    n = np.arange(len(chance))
    assert run.arl == pytest.approx(chance.sum(), rel=1e-9)
    variance = (2 * n + 1) @ chance - chance.sum() ** 2
    assert run.sdrl == pytest.approx(np.sqrt(variance), rel=1e-8)
    for one in run.percentiles:
        assert one.points == int(np.argmax(chance <= 1 - one.share))
    assert [one.share for one in run.percentiles] == list(SHARES)


@pytest.mark.parametrize("leaving", [0.9, 0.2, 0.01, 0.0005])
@pytest.mark.parametrize("early", [[1.0], [1.0, 0.97, 0.9]])
def test_both_ways_add_up(leaving: float, early: list[float]) -> None:
    step = _random_step(leaving, 51)
    mass = np.random.default_rng(52).dirichlet(np.ones(12)) * early[-1] * 0.95
    chance = _survival(step, mass, early)
    chain = Chain(survived=np.array(early), mass=mass, step=step, weight=np.ones(12))
    _agrees(chain_run(chain, state="zero", method=""), chance)
    assert chain_arl(chain) == pytest.approx(chance.sum(), rel=1e-9)
    followed = FollowedChain(survived=np.array(early), mass=mass, memory=3,
                             onward=lambda shares: shares @ step)
    _agrees(followed_run(followed, state="zero", method=""), chance)
    assert followed_arl(followed) == pytest.approx(chance.sum(), rel=1e-9)


def test_a_chain_too_slow_to_be_walked_to_the_end() -> None:
    # a walk to and fro among 40 states, left at one end only: percentiles come before it settles
    n = 40
    step = (np.eye(n, k=1) + np.eye(n, k=-1)) / 2
    step[0, 0] = 0.5
    step[-1, -1] = 0.49
    mass = np.zeros(n)
    mass[5] = 0.99
    chain = Chain(survived=np.ones(1), mass=mass, step=step, weight=np.ones(n))
    _agrees(chain_run(chain, state="zero", method=""), _survival(step, mass, [1.0]))


def test_shares_after_long_use() -> None:
    step = _random_step(0.3, 53)
    values, vectors = np.linalg.eig(step.T)
    wanted = np.abs(vectors[:, np.argmax(values.real)].real)
    wanted /= wanted.sum()
    start = np.random.default_rng(54).dirichlet(np.ones(12))
    np.testing.assert_allclose(settled(step, start), wanted, atol=1e-13)
    np.testing.assert_allclose(long_used(lambda mass: mass @ step, start), wanted, atol=1e-12)


@pytest.mark.parametrize("n", [3, 6, 11])
def test_moves_integrate_powers_exactly(n: int) -> None:
    # chance of going down from place t to where a function of the place is f: its integral to t
    place = np.array([0.0, 0.2, 0.5, 1.0])
    moves, node = moves_from(place, n), np.polynomial.legendre.leggauss(n)[0] / 2 + 0.5
    for power in range(n):
        f = node**power
        np.testing.assert_allclose(moves.down @ f, place ** (power + 1) / (power + 1), atol=1e-13)
        np.testing.assert_allclose(moves.up @ f, (1 - place ** (power + 1)) / (power + 1),
                                   atol=1e-13)


def test_moves_among_counts() -> None:
    share = np.array([0.2, 0.5, 0.3])
    down, level, up = CountMoves(share=share).each()
    mass = np.array([[1.0, 10.0, 100.0]])
    np.testing.assert_allclose(down(mass), [[110 * 0.2, 100 * 0.5, 0]])
    np.testing.assert_allclose(level(mass), [[0.2, 5, 30]])
    np.testing.assert_allclose(up(mass), [[0, 0.5, 11 * 0.3]])
    np.testing.assert_allclose(down(mass) + level(mass) + up(mass), 111 * share[None])


def test_zones_hold_all_points_once() -> None:
    for shift in (0, 2.5, -7, 40):
        edge = edges(rule_set("nelson"), (-3.0, 3.0))
        zones = continuous_zones(edge, (-3.0, 3.0), normal(shift), n_nodes=5)
        assert zones.chance.sum() == pytest.approx(1, abs=1e-15)
        assert (zones.chance >= 0).all()
        assert zones.outside == (True, *[False] * 6, True)


def test_neighbours_of_one_kind_share_a_zone() -> None:
    zones = counted_zones(["low", "in", "in", "line", "in"], np.arange(5.0), [True, *[False] * 4],
                          np.array([0.1, 0.2, 0.3, 0.0, 0.4]))
    assert zones.z == (0.0, 1.0, 3.0, 4.0)
    assert zones.outside == (True, False, False, False)
    np.testing.assert_allclose(zones.chance, [0.1, 0.5, 0, 0.4])
    np.testing.assert_allclose(zones.share[1], [0.4, 0.6])
    np.testing.assert_allclose(zones.share[2], [1.0])  # no chance at all: any share will do
