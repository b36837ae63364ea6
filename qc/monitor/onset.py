"""Since when: the start of a change, piece by piece, with an interval.

Source
------
Posterior of a single change point with a gamma prior on the new rate: Raftery & Akman (1986),
Biometrika 73, 85-89; every piece is as likely a start as any other, except that a lot has
probably been what it is from its first piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from qc.monitor.evidence import Floats, Ints

FACTOR_PRIOR_SHAPE = 2.0
FACTOR_PRIOR_RATE = 2.0 / 3.0
"""Gamma prior of the factor on the rate: mean 3, wide."""

FIRST_PIECE_PRIOR = 0.5
INTERVAL = 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """Start of a change: ``at`` is the position of its first piece, the interval in time."""

    at: int
    changed_at_us: int
    low_us: int
    high_us: int


def onset(
    pressed_us: Ints, observed: Floats, expected: Floats, *, clump: float = 1.0,
    from_first: bool = False, signalled_us: int | None = None,
) -> Onset:
    """The start of a rise in a stream of pieces.

    Parameters
    ----------
    pressed_us : (pieces,) in order of time; the change lasts to the last of them.
    observed, expected : (pieces,) faults seen and expected without the change, expected > 0.
    clump : >= 1, how much more the counts vary than chance (variance over mean).
    from_first : the stream may be bad from its first piece (a lot).
    signalled_us : when the rise was first seen; it began no later.
    """
    seen = np.cumsum(observed[::-1])[::-1] / clump
    mean = np.cumsum(expected[::-1])[::-1] / clump
    log_weight = (
        gammaln(FACTOR_PRIOR_SHAPE + seen)
        - (FACTOR_PRIOR_SHAPE + seen) * np.log(FACTOR_PRIOR_RATE + mean) + mean
    )
    if signalled_us is not None and pressed_us[0] <= signalled_us:
        log_weight = np.where(pressed_us <= signalled_us, log_weight, -np.inf)
    weight = np.exp(log_weight - log_weight.max())
    if from_first and len(weight) > 1:
        prior = np.full(len(weight), (1 - FIRST_PIECE_PRIOR) / (len(weight) - 1))
        prior[0] = FIRST_PIECE_PRIOR
        weight = weight * prior
    share = np.cumsum(weight / weight.sum())
    tail = (1 - INTERVAL) / 2
    low, middle, high = (
        min(int(np.searchsorted(share, p)), len(share) - 1) for p in (tail, 0.5, 1 - tail)
    )
    return Onset(
        at=middle, changed_at_us=int(pressed_us[middle]),
        low_us=int(pressed_us[max(low - 1, 0)]), high_us=int(pressed_us[high]),
    )
