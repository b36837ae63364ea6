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

MOST_SQUARED = 300
"""Squaring the steps of a chain with more states costs more than walking along it."""


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
    N (N - 1) the sum of 2 n S(n); sums over the chain are solved, not added up. Percentiles come
    from powers of the step by doubling.

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


def _percentiles(chain: Chain) -> tuple[Percentile, ...]:
    if len(chain.mass) > MOST_SQUARED:
        return _walked_percentiles(chain)
    powers = [chain.step]
    while chain.mass @ powers[-1] @ chain.weight > 1 - max(SHARES) and len(powers) < 64:
        powers.append(powers[-1] @ powers[-1])
    return tuple(Percentile(share=q, points=_percentile(chain, powers, 1 - q)) for q in SHARES)


def _walked_percentiles(chain: Chain) -> tuple[Percentile, ...]:
    """The same step by step, until each step takes off the same share: then by that share."""
    survived, mass = chain.survived.tolist(), chain.mass
    last, kept, steady = float(mass @ chain.weight), 0.0, 0
    while last > 1 - max(SHARES) and steady < 5:
        survived.append(last)
        mass = mass @ chain.step
        following = float(mass @ chain.weight)
        steady = steady + 1 if abs(following / last - kept) < 1e-13 else 0
        kept, last = following / last, following
    found = []
    for q in SHARES:
        early = np.flatnonzero(np.array(survived) <= 1 - q)
        points = int(early[0]) if len(early) else len(survived)
        if not len(early) and last > 1 - q:
            points += int(np.ceil(np.log((1 - q) / last) / np.log(kept) * (1 - 1e-14)))
        found.append(Percentile(share=q, points=points))
    return tuple(found)


def _percentile(chain: Chain, powers: list[Floats], left: float) -> int:
    """First point at which no more than the share ``left`` goes on."""
    early = np.flatnonzero(chain.survived <= left)
    if len(early):
        return int(early[0])
    n, mass = len(chain.survived), chain.mass
    if mass @ chain.weight <= left:
        return n
    for k in reversed(range(len(powers))):  # the longest walk that still leaves more than that
        further = mass @ powers[k]
        if further @ chain.weight > left:
            n, mass = n + 2**k, further
    return n + 1
