"""Since when: the start of a change, piece by piece, with an interval.

Source
------
Posterior of a single change point with a gamma prior on the new rate: Raftery & Akman (1986),
Biometrika 73, 85-89, beside that of a rate that creeps upward; every piece is as likely a start as
any other, except that a lot has probably been what it is from its first piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, logsumexp

from qc.domain.instants import DAY_US
from qc.monitor.evidence import Floats, Ints

FACTOR_PRIOR_SHAPE = 2.0
FACTOR_PRIOR_RATE = 2.0 / 3.0
"""Gamma prior of the factor on the rate: mean 3, wide."""

FIRST_PIECE_PRIOR = 0.5
RAMP_PRIOR = 0.2
"""Chance that a rise creeps rather than jumps; proposed, no source."""

RAMP_ENDS = np.array([1.0, 2.0, 4.0, 8.0, 16.0])
"""Slopes that are tried: what a ramp over the whole stretch would add to the factor at its end."""

RAMP_BINS = 150
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
    log_weight = np.logaddexp(
        np.log(1 - RAMP_PRIOR) + _step(observed / clump, expected / clump),
        np.log(RAMP_PRIOR) + _ramp(pressed_us, observed / clump, expected / clump),
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


def _step(observed: Floats, expected: Floats) -> Floats:
    """Log likelihood of a rate that jumps at each piece and stays, its factor integrated out,
    against no change."""
    seen = np.cumsum(observed[::-1])[::-1]
    mean = np.cumsum(expected[::-1])[::-1]
    shape, rate = FACTOR_PRIOR_SHAPE, FACTOR_PRIOR_RATE
    return np.asarray(
        gammaln(shape + seen) - gammaln(shape) + shape * np.log(rate)
        - (shape + seen) * np.log(rate + mean) + mean
    )


def _ramp(pressed_us: Ints, observed: Floats, expected: Floats) -> Floats:
    """The same of a rate that rises steadily from each piece on, averaged over slopes."""
    edges = np.unique(np.linspace(0, len(observed), RAMP_BINS + 1).astype(np.int64))
    seen, mean = (np.add.reduceat(array, edges[:-1]) for array in (observed, expected))
    middle = pressed_us[(edges[:-1] + edges[1:] - 1) // 2] / DAY_US
    since = np.maximum(middle[None, :] - pressed_us[edges[:-1]][:, None] / DAY_US, 0.0)
    slopes = RAMP_ENDS / max(float(middle[-1] - middle[0]), 1.0)
    rise = 1.0 + slopes[:, None, None] * since  # (slopes, starts, bins)
    gain = (seen * np.log(rise) - mean * (rise - 1.0)).sum(axis=2)
    averaged = logsumexp(gain, axis=0) - np.log(len(slopes))
    return np.asarray(np.interp(np.arange(len(observed)), edges[:-1], averaged))
