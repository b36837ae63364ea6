"""A chain that is left at the signal, and the run length that follows from it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lu_factor, lu_solve

from qc.stats.checks import Floats
from qc.stats.runlength.result import (
    BEYOND,
    SHARES,
    SIX_DIGITS,
    Caution,
    Percentile,
    RunLength,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chain:
    """States of a chart that has not signalled, followed from one plotted point to the next.

    ``survived`` : chance of no signal up to and with point 0, 1, ... m - 1 (the first is 1).
    ``mass`` : (s,) share of all runs in each state after point m. ``step`` : (s, s), chance from
    state (row) to state, rows sum to less than 1. ``weight`` : (s,), what a share in a state
    counts as survival: 1, or 1/2 where each run is kept twice.
    """

    survived: Floats
    mass: Floats
    step: Floats
    weight: Floats


def chain_arl(chain: Chain) -> float:
    """Average run length alone."""
    left = np.eye(len(chain.mass)) - chain.step
    return float(chain.survived.sum() + chain.mass @ np.linalg.solve(left, chain.weight))


def chain_run(chain: Chain, *, state: str, method: str) -> RunLength:
    """Average, standard deviation and percentiles of the run length.

    Notes
    -----
    With S(n) the chance of no signal up to n, the average is the sum of S(n), and the mean of
    N (N - 1) the sum of 2 n S(n); sums over the chain are solved, not added up. For percentiles
    the chain is followed until each point takes off the same share, which from then on is exact.

    Source
    ------
    Brook & Evans (1972), Biometrika 59, 539-549; Kemeny & Snell (1960), Finite Markov Chains,
    theorem 3.5.4.
    """
    m = len(chain.survived)
    factors = lu_factor(np.eye(len(chain.mass)) - chain.step)
    mean = lu_solve(factors, chain.weight)
    square = lu_solve(factors, 2 * mean - chain.weight)
    rest = float(chain.mass @ mean)
    after_first = float(chain.survived[1:].sum()) + rest
    pairs = float(2 * np.arange(m) @ chain.survived + 2 * m * rest + chain.mass @ square - rest)
    arl = 1 + after_first
    if not 0 < arl < BEYOND:
        return _too_long(state, method)
    # N (N - 1) less its mean's counterpart: no cancellation where nearly every run is one point
    variance = max(pairs - arl * after_first, 0.0)
    cautions = (Caution.FEW_DIGITS,) if arl > SIX_DIGITS else ()
    return RunLength(arl=arl, sdrl=float(np.sqrt(variance)), percentiles=_percentiles(chain),
                     state=state, method=method, cautions=cautions)


def settled(step: Floats, start: Floats) -> Floats:
    """Share in each state after long use without a signal (sums of its weights not scaled).

    The left eigenvector of the largest eigenvalue, by inverse iteration from ``start``.
    """
    factors = lu_factor(np.eye(len(step)) - step)
    mass = start / np.abs(start).sum()
    for _ in range(2000):
        following = lu_solve(factors, mass, trans=1)
        following /= np.abs(following).sum()
        if np.abs(following - mass).max() < 1e-15:
            break
        mass = following
    return following


def _too_long(state: str, method: str) -> RunLength:
    unknown = tuple(Percentile(share=q, points=np.nan) for q in SHARES)
    return RunLength(arl=np.nan, sdrl=np.nan, percentiles=unknown, state=state, method=method,
                     cautions=(Caution.TOO_LONG,))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Walked:
    """Survival up to the point before ``mass``, which holds the shares at the next.

    ``lost`` : share that every further point takes off; nan where that is not steady yet.
    """

    survived: list[float]
    mass: Floats
    lost: float


def _percentiles(chain: Chain) -> tuple[Percentile, ...]:
    walked = _walked(chain)
    survived = np.array(walked.survived)
    going_on = float(walked.mass @ chain.weight)
    wanted = [1 - share for share in SHARES]
    powers = _powers(chain.step, walked.mass, chain.weight, min(wanted)) \
        if np.isnan(walked.lost) else []
    points: list[float] = []
    for left in wanted:
        early = np.flatnonzero(survived <= left)
        if len(early):
            points.append(int(early[0]))
        elif going_on <= left:
            points.append(len(survived))
        elif powers:
            points.append(len(survived) + _leap(powers, walked.mass, chain.weight, left))
        else:
            more = np.log(left / going_on) / np.log1p(-walked.lost) * (1 - 1e-12)
            points.append(len(survived) + int(np.ceil(more)))
    return tuple(Percentile(share=q, points=n) for q, n in zip(SHARES, points, strict=True))


def _walked(chain: Chain) -> _Walked:
    """The chain followed until few runs are left, or until all lose alike.

    They do when the shares have come to those of long use. The walk ends before it has cost as
    much as leaping by powers would.
    """
    survived, mass = chain.survived.tolist(), chain.mass
    if mass @ chain.weight <= 1 - max(SHARES):
        return _Walked(survived=survived, mass=mass, lost=np.nan)
    calm = settled(chain.step, mass)
    calm = calm / (calm @ chain.weight)
    lost = 1 - float(calm @ chain.step @ chain.weight)
    for _ in range(50 + 2 * len(mass)):
        going_on = float(mass @ chain.weight)
        if going_on <= 1 - max(SHARES):
            break
        if np.abs(mass / going_on - calm).sum() < 1e-11:
            return _Walked(survived=survived, mass=mass, lost=lost)
        survived.append(going_on)
        mass = mass @ chain.step
    return _Walked(survived=survived, mass=mass, lost=np.nan)


def _powers(step: Floats, mass: Floats, weight: Floats, left: float) -> list[Floats]:
    """Steps of 1, 2, 4, ... points, until one of them leaves no more than a share."""
    powers = [step]
    while mass @ powers[-1] @ weight > left and len(powers) < 64:
        powers.append(powers[-1] @ powers[-1])
    return powers


def _leap(powers: list[Floats], mass: Floats, weight: Floats, left: float) -> int:
    """Further points until no more than the share ``left`` goes on."""
    n = 0
    for k in reversed(range(len(powers))):  # the longest walk that still leaves more than that
        further = mass @ powers[k]
        if further @ weight > left:
            n, mass = n + 2**k, further
    return n + 1
