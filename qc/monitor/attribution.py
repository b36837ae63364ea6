"""Which single change explains the records best: every factor and level is asked.

Each candidate's gain in log likelihood is counted over the same records and the same
expectation, so gains compare. Where factors coincide (a lot over its transfer, a lot over the
shop) the specific cause is preferred, and the trade's cause table speaks for the families it
lists.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from qc.domain.kinds import ZONES, causes_of
from qc.monitor.detection import log_likelihood_ratio, upper_tail
from qc.monitor.evidence import Floats
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import (
    Spread,
    Stream,
    WindowFit,
    fit_windows,
    full_variance,
    recent_counts,
    recent_slots,
)

PRIOR = {
    "press": 0.0, "transfer_lot": 0.0, "garment_lot": -0.5, "operator": 0.0, "station": -1.0,
    "fabric": -2.0, "transfer": -2.0, "location": -2.0, "size": -2.0, "shop": -5.0,
}
"""Log prior of each factor being the cause; the specific before the general. Proposed starting
values, no source."""

FAMILY_OF = {
    "press": "press", "station": "press", "operator": "operator", "transfer_lot": "transfer",
    "transfer": "transfer", "garment_lot": "fabric", "fabric": "fabric",
}
LISTED_FAMILY = 0.7
"""Log prior gained by a factor whose family the cause table lists for this kind of defect."""

N_EXACT = 8
"""Candidates that are looked at with every source of clumping counted."""

ZONE_SD = 0.3
"""Honest coefficient of variation of a zone's share between levels; proposed, no source."""

LEAST_ZONED = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One stream as the explanation: from which slot, how strong, how surprising by luck."""

    stream: Stream
    start: int
    observed: float
    mean: float
    gain: float
    score: float
    tail: float

    @property
    def ratio(self) -> float:
        return (self.observed + 0.5) / (self.mean + 0.5)


def log_prior(state: StreamCounts, stream: Stream, n_levels: int) -> float:
    """Log prior of a candidate: its factor's, shared among the factor's levels at work."""
    families = {cause.family for cause in causes_of(state.evidence.kinds[stream.kind])}
    families |= {"fabric"} if "blank" in families else set()
    listed = LISTED_FAMILY if FAMILY_OF.get(stream.factor) in families else 0.0
    zones = len(ZONES) if stream.zone is not None else 1
    return PRIOR[stream.factor] + listed - float(np.log(max(n_levels, 1) * zones))


def prior_shape(spread: Spread, stream: Stream) -> float:
    """Shape of the level's own factor before its past is known."""
    zone_variance = ZONE_SD**2 if stream.zone is not None else 0.0
    return 1.0 / (spread.sd[stream.factor] ** 2 + zone_variance)


def candidates(state: StreamCounts, kind: int, slot: int, spread: Spread) -> list[Candidate]:
    """The best explanations of a kind's rise at the end of a slot, best first."""
    rough: list[tuple[float, Stream, int, int]] = []
    for factor in state.counts:
        rough.extend(_rough(state, factor, kind, slot, spread))
    rough.sort(key=lambda item: -item[0])
    exact = [
        judge(state, stream, start, n_levels, spread)
        for _, stream, start, n_levels in rough[:N_EXACT]
    ]
    return sorted(exact, key=lambda c: -c.score)


def judge(
    state: StreamCounts, stream: Stream, start: int, n_levels: int, spread: Spread
) -> Candidate:
    """A candidate with every source of clumping counted in."""
    shape = prior_shape(spread, stream)
    observed, mean, variance = full_variance(state, stream, start, spread, shape)
    count, m, v = np.asarray(observed), np.asarray(mean), np.asarray(variance)
    gain = float(log_likelihood_ratio(count, m, v))
    return Candidate(
        stream=stream, start=start, observed=observed, mean=mean, gain=gain,
        score=gain + log_prior(state, stream, n_levels), tail=float(upper_tail(count, m, v)),
    )


def shares(found: list[Candidate]) -> Floats:
    """Share of the evidence of each candidate; they sum to 1."""
    score = np.array([candidate.score for candidate in found])
    weight = np.exp(score - score.max())
    return weight / weight.sum()


def likeliest(found: list[Candidate]) -> Candidate:
    """The best candidate of the level with the largest share; zones of a level are one level."""
    total: dict[tuple[str, int], float] = {}
    for candidate, share in zip(found, shares(found), strict=True):
        key = (candidate.stream.factor, candidate.stream.level)
        total[key] = total.get(key, 0.0) + float(share)
    best = max(total, key=lambda key: total[key])
    mine = [c for c in found if (c.stream.factor, c.stream.level) == best]
    return max(mine, key=lambda c: c.score)


def _rough(
    state: StreamCounts, factor: str, kind: int, slot: int, spread: Spread
) -> Iterator[tuple[float, Stream, int, int]]:
    counts = state.counts[factor]
    slots, kinds = recent_slots(slot), np.array([kind])
    at_work = np.flatnonzero(counts.expected[:, slots, kind].sum(axis=1) > 0)
    if len(at_work) == 0:
        return
    lengths = np.arange(1, slots.stop - slots.start + 1)
    job = spread.sd["job"] ** 2
    recent = recent_counts(state, factor, at_work, slot, kinds)
    plain = fit_windows(recent, lengths, spread.shape(factor), job)
    yield from _best_starts(state, plain, Stream(kind=kind, factor=factor, level=0), at_work)
    if counts.zoned is None:
        return
    for zone in range(len(ZONES)):
        stream = Stream(kind=kind, factor=factor, level=0, zone=zone)
        recent = recent_counts(state, factor, at_work, slot, kinds, zone)
        if recent.observed.sum() < LEAST_ZONED:
            continue
        zoned = fit_windows(recent, lengths, prior_shape(spread, stream), job)
        yield from _best_starts(state, zoned, stream, at_work)


def _best_starts(
    state: StreamCounts, fit: WindowFit, like: Stream, at_work: np.ndarray
) -> Iterator[tuple[float, Stream, int, int]]:
    gains = fit.gain[..., 0]
    best = gains.argmax(axis=1)
    for row, level in enumerate(at_work):
        gain = float(gains[row, best[row]])
        if gain <= 0.5:
            continue
        stream = Stream(kind=like.kind, factor=like.factor, level=int(level), zone=like.zone)
        prior = log_prior(state, stream, len(at_work))
        yield gain + prior, stream, int(fit.start[best[row]]), len(at_work)
