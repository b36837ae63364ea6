"""Since when: the start of a change, piece by piece, with an interval.

Source
------
Posterior of a single change point with gamma priors on the rates before and after: Raftery & Akman
(1986), Biometrika 73, 85-89, beside that of a rate that creeps upward. The count of a job is
gamma-Poisson, since jobs have luck of their own. Every piece is as likely a start as any other,
except that a lot has probably been what it is from its first piece.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from qc.domain.instants import DAY_US
from qc.monitor.blocks import distinct
from qc.monitor.evidence import Floats, Ints, sum_by

RISES = np.exp(np.linspace(np.log(1.15), np.log(40.0), 18))
RISE_PRIOR = np.exp(-0.5 * (np.log(RISES / 2.5) / 0.9) ** 2)
"""Factors on the rate after a jump, on a grid even in logarithms, and how likely each is before the
data speak: lognormal about 2.5, wide, since a zone of the print may rise twenty times."""

BEFORE = np.exp(np.linspace(-1.2, 1.2, 19))
BEFORE_VARIANCE = 0.05
"""The same of the rate before, which is a gamma of mean 1: what is known of the level's own past,
and give or take a fifth besides; proposed, no source."""

ODD_JOB, ODD_RISE = 0.05, 2.0
"""Chance that a job is odd for reasons of its own, with so many times the faults, give or take as
many; proposed, no source."""

FIRST_PIECE_PRIOR = 0.5
RAMP_PRIOR = 0.2
"""Chance that a rise creeps rather than jumps; proposed, no source."""

RAMP_ENDS = np.array([1.0, 2.0, 4.0, 8.0, 16.0])
"""Slopes that are tried: what a ramp over the whole stretch would add to the factor at its end."""

RAMP_STARTS, RAMP_JOBS = 100, 1500
MOST_STARTS = 5000
"""Of more pieces a few at a time are taken together."""

EARLY_TAIL, LATE_TAIL = 0.05, 0.025
"""What the interval leaves out of the posterior, so that it holds the start nine times in ten: what
is flagged has more often had bad luck before it began than good, and looks too early more often
than too late."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """Start of a change: when its first piece was pressed, and the interval."""

    changed_at_us: int
    low_us: int
    high_us: int


def onset(
    pressed_us: Ints, observed: Floats, expected: Floats, *, job: Ints | None = None,
    job_sd: float = 0.0, before_variance: float = 0.0, from_first: bool = False,
    signalled_us: int | None = None,
) -> Onset:
    """The start of a rise in a stream of pieces.

    Parameters
    ----------
    pressed_us : (pieces,) in order of time; the change lasts to the last of them.
    observed, expected : (pieces,) faults seen and expected without the change, expected > 0.
    job, job_sd : (pieces,) job of each, by number from 0, and the coefficient of variation of
        luck between jobs; without jobs chance alone.
    before_variance : squared coefficient of variation of what is expected, all pieces together.
    from_first : the stream may be bad from its first piece (a lot).
    signalled_us : when the rise was first seen; it began no later.
    """
    job = np.arange(len(observed)) if job is None else job
    n = len(observed)
    part = np.arange(n) * min(n, MOST_STARTS) // n
    starts_us = pressed_us[np.flatnonzero(np.diff(part, prepend=-1))]
    first, which = distinct([part, job])
    seen, mean = sum_by(which, observed), sum_by(which, expected)
    job, begins = job[first], np.flatnonzero(np.diff(part[first], prepend=-1))
    shape = 1.0 / (BEFORE_VARIANCE + before_variance)
    known = shape * (np.log(BEFORE) - BEFORE)
    log_weight = np.logaddexp(
        np.log(1 - RAMP_PRIOR) + _step(seen, mean, job, job_sd, known)[begins],
        np.log(RAMP_PRIOR) + _ramp(pressed_us[first], seen, mean, job, job_sd, known)[begins],
    )
    if signalled_us is not None and starts_us[0] <= signalled_us:
        log_weight = np.where(starts_us <= signalled_us, log_weight, -np.inf)
    weight = np.exp(log_weight - log_weight.max())
    if from_first and len(weight) > 1:
        prior = np.full(len(weight), (1 - FIRST_PIECE_PRIOR) / (len(weight) - 1))
        prior[0] = FIRST_PIECE_PRIOR
        weight = weight * prior
    share = np.cumsum(weight / weight.sum())
    low, middle, high = (
        min(int(np.searchsorted(share, p)), len(share) - 1)
        for p in (EARLY_TAIL, 0.5, 1 - LATE_TAIL)
    )
    return Onset(
        changed_at_us=int(starts_us[middle]), low_us=int(starts_us[max(low - 1, 0)]),
        high_us=int(starts_us[high]),
    )


def _step(
    observed: Floats, expected: Floats, job: Ints, job_sd: float, known: Floats
) -> Floats:
    """Log likelihood of a rate that jumps at each piece and stays.

    The count of a job is gamma-Poisson about the rate before or after the jump; a job in which it
    happens counts as one job before and one after. The factors before and after are averaged over.
    """
    seen, mean = (_so_far(job, array) for array in (observed, expected))
    left_seen, left_mean = (
        sum_by(job, array)[job] - so_far + array
        for array, so_far in ((observed, seen), (expected, mean))
    )
    before, after = (np.full(len(observed) + 1, -np.inf) for _ in range(2))
    for factor, prior in zip(BEFORE, known - np.logaddexp.reduce(known), strict=True):
        gained = _gained(seen, mean, observed, expected, factor, job_sd)
        before = np.logaddexp(before, prior + np.append(0.0, np.cumsum(gained)))
    for factor, prior in zip(RISES, RISE_PRIOR / RISE_PRIOR.sum(), strict=True):
        gained = _gained(left_seen, left_mean, observed, expected, factor, job_sd)
        still = np.append(np.cumsum(gained[::-1])[::-1], 0.0)
        after = np.logaddexp(after, np.log(prior) + still)
    return np.asarray((before + after)[:-1])


def _so_far(group: Ints, values: Floats) -> Floats:
    """Running sums within groups, each entry's own value included."""
    order = np.argsort(group, kind="stable")
    running = np.cumsum(values[order])
    first = np.flatnonzero(np.diff(group[order], prepend=-1))
    length = np.diff(np.append(first, len(group)))
    out = np.empty(len(values))
    out[order] = running - np.repeat(running[first] - values[order][first], length)
    return out


def _gained(
    seen: Floats, mean: Floats, observed: Floats, expected: Floats, factor: Floats | float,
    job_sd: float,
) -> Floats:
    """What each piece adds to the log likelihood of its job's count at a factor on the mean: the
    job with it (``seen``, ``mean``) less the job without it; what no factor changes is left out."""
    if job_sd == 0.0:
        return np.asarray(observed * np.log(factor) - expected * factor)
    without = np.maximum(seen - observed, 0.0), np.maximum(mean - expected, 0.0)
    return _of_job(seen, mean, factor, job_sd) - _of_job(*without, factor, job_sd)


def _of_job(seen: Floats, mean: Floats, factor: Floats | float, job_sd: float) -> Floats:
    """Log likelihood of a job's count: ordinary luck, or now and then odd by itself."""
    shape = 1.0 / job_sd**2
    ordinary = (
        gammaln(shape + seen) - gammaln(shape) - seen * np.log(shape)
        - (shape + seen) * np.log1p(factor * mean / shape)
    )
    odd = gammaln(1.0 + seen) + seen * np.log(ODD_RISE) - (1.0 + seen) * np.log1p(
        ODD_RISE * factor * mean)
    share = np.logaddexp(np.log(1 - ODD_JOB) + ordinary, np.log(ODD_JOB) + odd)
    return np.asarray(seen * np.log(factor) + share)


def _ramp(
    pressed_us: Ints, observed: Floats, expected: Floats, job: Ints, job_sd: float, known: Floats
) -> Floats:
    """The same of a rate that rises steadily from each piece on; a job is all at its middle."""
    n_jobs = int(job.max()) + 1
    if job_sd == 0.0:  # pieces are jobs of their own: gather them for speed
        job = np.arange(len(observed)) * min(len(observed), RAMP_JOBS) // len(observed)
        n_jobs = int(job[-1]) + 1
    seen, mean, pieces = (sum_by(job, a, n_jobs) for a in (observed, expected, np.ones(len(job))))
    day = (pressed_us - pressed_us[0]) / DAY_US
    middle = sum_by(job, day, n_jobs) / pieces
    at = np.unique(np.linspace(0, len(observed) - 1, RAMP_STARTS).astype(np.int64))
    since = np.maximum(middle - day[at][:, None], 0.0)
    total = np.full(len(at), -np.inf)
    few = known[1::4] - np.logaddexp.reduce(known[1::4])
    for factor, prior in zip(BEFORE[1::4], few, strict=True):
        for slope in RAMP_ENDS / max(float(day[-1]), 1.0):
            gained = _gained(seen, mean, seen, mean, factor * (1.0 + slope * since), job_sd)
            total = np.logaddexp(total, prior - np.log(len(RAMP_ENDS)) + gained.sum(axis=1))
    return np.asarray(np.interp(np.arange(len(observed)), at, total))
