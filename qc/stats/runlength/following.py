"""Run length of a large chain: followed point by point until runs end at a steady rate."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from qc.stats.checks import Floats
from qc.stats.runlength.result import SHARES, Percentile, RunLength

Onward = Callable[[Floats], Floats]
"""Shares of runs in each state after one more point, from those before it."""

MOST_POINTS = 200_000
_ENDED = 1e-18  # a share of runs that no digit of a result depends on
_SWINGING = 300  # points after which shares that have not settled are taken to swing
_ALIKE = 12  # points in a row, beyond the memory, that must lose the same share of runs


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FollowedChain:
    """States of a chart that has not signalled, followed from one plotted point to the next.

    ``survived`` : chance of no signal up to and with point 0, 1, ... (the first is 1). ``mass`` :
    share of all runs in each state after the next point. ``memory`` : points that the longest
    rule needs: as long as it cannot signal, the share lost at each point says nothing of later.
    """

    survived: Floats
    mass: Floats
    onward: Onward
    memory: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Survival:
    """Chance of no signal up to and with point 0, 1, ...; after the last it falls by ``ratio``."""

    chance: Floats
    ratio: float


def followed_run(chain: FollowedChain, *, state: str, method: str) -> RunLength:
    """Average, standard deviation and percentiles of the run length.

    Notes
    -----
    Runs are followed until the share lost at each point has stayed the same to eleven digits of
    it for twelve points: from there on the run length is geometric.
    """
    survival = _followed(chain)
    s, r = survival.chance, survival.ratio
    n, last = np.arange(len(s)), len(s) - 1
    tail = float(s[-1]) * r / (1 - r)
    after_first = float(s[1:].sum()) + tail
    pairs = 2 * (float(n @ s) + tail * (last + 1 / (1 - r)))
    variance = max(pairs - (1 + after_first) * after_first, 0.0)
    return RunLength(
        arl=1 + after_first, sdrl=float(np.sqrt(variance)), state=state, method=method,
        percentiles=tuple(Percentile(share=q, points=_percentile(survival, 1 - q))
                          for q in SHARES),
    )


def followed_arl(chain: FollowedChain) -> float:
    """Average run length alone."""
    survival = _followed(chain)
    return float(survival.chance.sum()
                 + survival.chance[-1] * survival.ratio / (1 - survival.ratio))


def long_used(onward: Onward, mass: Floats) -> Floats:
    """Share in each state after long use without a signal.

    Raises
    ------
    ValueError
        Every run ends within a few points: there is no long use.
    """
    for n in range(MOST_POINTS):
        if mass.sum() <= _ENDED:
            raise ValueError("state is 'steady'; but with these limits and rules no chart goes on"
                             " for long without a signal")
        mass = mass / mass.sum()
        following = onward(mass)
        if n > _SWINGING:  # shares that swing between two halves of the states never settle
            following = following + mass * following.sum()
        if np.abs(following / max(following.sum(), _ENDED) - mass).sum() < 1e-14:
            break
        mass = following
    return mass


def _followed(chain: FollowedChain) -> _Survival:
    enough = _ALIKE + chain.memory
    mass, chance, lost, alike = chain.mass, list(chain.survived), 0.0, 0
    chance.append(float(mass.sum()))
    while chance[-1] > _ENDED and alike < enough and len(chance) < MOST_POINTS:
        mass = chain.onward(mass)
        chance.append(float(mass.sum()))
        before, lost = lost, 1 - chance[-1] / chance[-2]
        alike = alike + 1 if abs(lost - before) < 1e-11 * lost + 4e-16 else 0
    if chance[-1] <= _ENDED:
        return _Survival(chance=np.array(chance), ratio=0.0)
    if alike < enough:  # swinging to the end: what a pair of points loses, for each of them
        lost = 1 - np.sqrt(chance[-1] / chance[-3])
    return _Survival(chance=np.array(chance), ratio=1 - lost)


def _percentile(survival: _Survival, left: float) -> int:
    """First point at which no more than the share ``left`` goes on."""
    early = np.flatnonzero(survival.chance <= left)
    if len(early):
        return int(early[0])
    more = np.log(left / survival.chance[-1]) / np.log(survival.ratio)
    return len(survival.chance) - 1 + int(np.ceil(more * (1 - 1e-12)))
