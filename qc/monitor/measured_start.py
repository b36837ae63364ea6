"""Since when, and by how much: the start of a shift as a posterior, its size with an interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import Floats
from qc.monitor.measured import Watched
from qc.monitor.measured_shifts import Shift, effect_of
from qc.monitor.measured_streams import KNOWN, SEVERAL, Sums

LOOK_BACK = 60
"""Readings of the stream before the best start that the start may lie in."""

LOOK_ON = 200
"""Readings after the best start that say where it lies; more would say nothing new."""

PRIOR_SIGMAS = 4.0
"""Spread of shifts that are worth a flag, in sigmas of a reading; proposed, no source."""

UNKNOWN = 1e12
"""Variance of the shift of a direction that was not measured."""

Z_95 = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sized:
    """A shift with its start and its size.

    ``first``, ``low``, ``high`` : readings it began with, best and 90 % interval; ``before`` the
    last reading of its stream before ``low`` (``low`` itself where there is none). ``amount``,
    ``sd`` (d,) in the unit of the deviation; ``in_sigmas`` (d,) of a reading.
    """

    first: int
    low: int
    high: int
    before: int
    amount: Floats
    sd: Floats
    in_sigmas: Floats

    @property
    def interval(self) -> tuple[Floats, Floats]:
        """95 % interval of the amount."""
        return self.amount - Z_95 * self.sd, self.amount + Z_95 * self.sd


def sized(watched: Watched, shift: Shift) -> Sized:
    """Start and size of a shift, with all others taken out."""
    stretch = watched.final
    if stretch is None:
        raise ValueError("shift is of a watch that has learnt nothing")
    sums = stretch.sums_around(watched.effect, effect_of(watched.readings, shift))
    layout = stretch.layout
    mine = layout.visits(shift.stream)
    reading = layout.reading[mine]
    best = mine.start + int(np.searchsorted(reading, shift.start))
    stop = mine.stop
    if shift.end is not None:
        stop = mine.start + int(np.searchsorted(reading, shift.end, side="right"))
    first_step_end = stop
    if len(shift.steps) > 1:
        first_step_end = mine.start + int(np.searchsorted(reading, shift.steps[1][0]))
    signal = mine.start + int(np.searchsorted(reading, shift.signalled, side="right"))
    starts = np.arange(max(best - LOOK_BACK, mine.start), max(min(signal, stop), best + 1))
    support = log_support(sums, starts, max(min(first_step_end, best + LOOK_ON), best + 1))
    first, low, high = interval_of(support)
    at = int(starts[first])
    amount, variance = mean_shift(sums, int(max(at, _last_step(shift, mine, reading))), stop, at)
    mix = stretch.usual.mix
    entry = layout.reading
    before = _sure_before(stretch.weights.n, int(starts[low]), mine)
    return Sized(
        first=int(entry[at]), low=int(entry[starts[low]]), high=int(entry[starts[high]]),
        before=int(entry[before]), amount=mix @ amount, sd=np.sqrt(mix**2 @ variance),
        in_sigmas=np.abs(mix @ amount) / stretch.usual.sigma,
    )


def _sure_before(n: Floats, low: int, mine: slice) -> int:
    """The last visit before ``low`` with enough measurements to speak against a start in it."""
    earlier = np.flatnonzero((n[mine.start : low] >= SEVERAL).any(axis=1))
    return mine.start + int(earlier[-1]) if len(earlier) else min(mine.start, low)


def _last_step(shift: Shift, mine: slice, reading: np.ndarray) -> int:
    """First entry of the shift as it is now."""
    if len(shift.steps) == 1:
        return 0
    return mine.start + int(np.searchsorted(reading, shift.steps[-1][0]))


def mean_shift(sums: Sums, begin: int, stop: int, before: int) -> tuple[Floats, Floats]:
    """Mean of entries ``begin`` to ``stop`` less the usual one before ``before``, in parts."""
    stream = sums.layout.stream[begin]
    own = sums.layout.begin[begin]
    now_w, prior = sums.weight[stop] - sums.weight[begin], sums.precision[stream]
    past_w = sums.weight[before] - sums.weight[own] + prior
    known = now_w > KNOWN
    variance = np.where(known, 1.0 / np.where(known, now_w, 1.0) + 1.0 / past_w, UNKNOWN)
    weight, total = sums.plain_weight, sums.plain_total
    now = (total[stop] - total[begin]) / np.maximum(weight[stop] - weight[begin], KNOWN)
    usual = (total[before] - total[own]) / (weight[before] - weight[own] + prior)
    return np.where(known, now - usual, 0.0), variance


def log_support(sums: Sums, starts: np.ndarray, stop: int) -> Floats:
    """Log marginal likelihood of a step at each entry of ``starts``, against no step.

    The size of the step is integrated out, normal about 0 with `PRIOR_SIGMAS`; so is the place
    before it.

    Source
    ------
    Barry & Hartigan (1993), J. Amer. Stat. Assoc. 88, 309-319, for one change of a normal mean
    (from memory).
    """
    stream = sums.layout.stream[starts[0]]
    own = sums.layout.begin[starts[0]]
    now_w = sums.weight[stop] - sums.weight[starts]
    past_w = sums.weight[starts] - sums.weight[own] + sums.precision[stream]
    known = now_w > 1e-9
    safe = np.where(known, now_w, 1.0)
    gap = (sums.total[stop] - sums.total[starts]) / safe
    gap = gap - (sums.total[starts] - sums.total[own]) / past_w
    variance = 1.0 / safe + 1.0 / past_w
    prior = PRIOR_SIGMAS**2 * sums.usual.variance(np.ones_like(variance))
    gain = gap**2 * prior / (variance * (variance + prior)) - np.log1p(prior / variance)
    total: Floats = 0.5 * np.where(known, gain, 0.0).sum(axis=1)
    return total


def interval_of(support: Floats, confidence: float = 0.9) -> tuple[int, int, int]:
    """Most likely position, and the ends of the shortest set of that confidence."""
    share = np.exp(support - support.max())
    share = share / share.sum()
    order = np.argsort(-share, kind="stable")
    enough = int(np.searchsorted(np.cumsum(share[order]), confidence)) + 1
    inside = order[:enough]
    return int(order[0]), int(inside.min()), int(inside.max())
