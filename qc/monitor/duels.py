"""Which of two causes it is: what one of them touches and the other does not.

Two causes that share pieces both gain from them, and both are held down by the same doubts: what
their own past was, how lots and jobs clump. What tells them apart is the rest. Where the pieces of
the first alone are as bad as it says they should be, and those of the second alone are as usual,
it is the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from qc.monitor.attribution import ODD_JOB, Candidate
from qc.monitor.detection import log_likelihood_ratio
from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import Spread, clump_variance

NO_CHANCE = 25.0
"""What is behind by so much in score is not held against the best any more."""

ANOTHER = 4.0
"""Log odds against one more thing going wrong beside the first; a proposed value, no source."""

LEAST_VARIANCE, LEAST_RISE = 1e-6, 1.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Claim:
    """A candidate with the blocks it claims: ``mine`` of all, faults expected of each if it were
    not the cause."""

    candidate: Candidate
    mine: Bools
    expected: Floats


def settled(
    state: StreamCounts, found: Sequence[Candidate], spread: Spread, told: Bools
) -> list[Candidate]:
    """The candidates with the scores that their duels with the best of them leave, best first.

    Each in turn, the best first, is held against the one that has won so far. Zones of the same
    level, and zones against the whole, keep their scores.
    """
    close = [c for c in found if c.score > found[0].score - NO_CHANCE] if found else []
    if len(close) < 2:
        return list(found)
    claims = [_claim(state, c, told) for c in close]
    best, behind = claims[0], np.zeros(len(claims))
    for i, rival in enumerate(claims[1:], start=1):
        behind[i] = _odds(state, best, rival, spread)
        if behind[i] < 0:
            best = rival
            behind[:i] = [_odds(state, best, loser, spread) for loser in claims[:i]]
            behind[i] = 0.0
    top = best.candidate.score
    out = [
        c.candidate if c is best else replace(c.candidate, score=top - max(float(lag), 0.0))
        for c, lag in zip(claims, behind, strict=True)
    ]
    out.sort(key=lambda c: (c is not best.candidate, -c.score))
    return [*out, *found[len(close):]]


def _claim(state: StreamCounts, candidate: Candidate, told: Bools) -> _Claim:
    b, row = state.blocks, candidate.stream.row
    f = int(state.row_factor[row])
    mine = (b.row[:, f] == row) & (b.pressed >= candidate.start) & told
    at, expected = np.flatnonzero(mine), np.zeros(len(b))
    expected[at] = state.block_expected(at, candidate.stream.kind, f) * candidate.own
    return _Claim(candidate=candidate, mine=mine, expected=expected)


def _odds(state: StreamCounts, one: _Claim, other: _Claim, spread: Spread) -> float:
    """Log odds of one cause against another."""
    a, b = one.candidate, other.candidate
    if a.stream.zone is not None or b.stream.zone is not None or a.stream.row == b.stream.row:
        return a.score - b.score
    both = np.flatnonzero(one.mine & other.mine)
    expected = (one.expected[both] + other.expected[both]) / 2
    doubt = max(_doubt(state, c, both, expected, spread) for c in (a, b))
    shared = _gain(state, a, both, expected, doubt) - _gain(state, b, both, expected, doubt)
    alone = _alone(state, one, other, spread) - _alone(state, other, one, spread)
    return a.prior - b.prior + shared + alone


def _alone(
    state: StreamCounts, one: _Claim, other: _Claim, spread: Spread, *, as_claimed: bool = True
) -> float:
    """Gain of one cause on its pieces that the other lacks, with the rise that it claims or the
    one that fits them best; one job may be odd by itself."""
    at = np.flatnonzero(one.mine & ~other.mine)
    expected = one.expected[at]
    excess = state.blocks.y[at, one.candidate.stream.kind] - expected
    _, job = np.unique(state.blocks.job[at], return_inverse=True)
    if len(at) == 0:
        return 0.0
    rest = job != int(sum_by(job, excess).argmax())
    whole, without = (
        _gain(state, one.candidate, at[some], expected[some],
              _doubt(state, one.candidate, at[some], expected[some], spread),
              as_claimed=as_claimed)
        for some in (np.ones_like(rest), rest)
    )
    return min(whole, without - float(np.log(ODD_JOB)))


def both_apart(state: StreamCounts, one: Candidate, other: Candidate, spread: Spread) -> float:
    """How far each of two causes speaks for itself where the other is not, however large it is
    there: log likelihood gain over no rise, the less of the two."""
    told = state.told()
    a, b = _claim(state, one, told), _claim(state, other, told)
    return min(_alone(state, a, b, spread, as_claimed=False),
               _alone(state, b, a, spread, as_claimed=False))


def _doubt(
    state: StreamCounts, cause: Candidate, at: Ints, expected: Floats, spread: Spread
) -> float:
    """Squared coefficient of variation of what a cause's level would show at some blocks."""
    row, kind, mean = cause.stream.row, cause.stream.kind, float(expected.sum())
    if mean <= 0:
        return 0.0
    share = sum_by(state.blocks.cell[at], expected, len(state.cell_codes)) / mean
    of_rates = state.rate_variance(row, kind, share)
    clumps = clump_variance(state, state.factor(row), at, expected, spread) / mean**2
    return cause.own_variance + of_rates + clumps


def _gain(
    state: StreamCounts, cause: Candidate, at: Ints, expected: Floats, doubt: float, *,
    as_claimed: bool = True,
) -> float:
    """Log likelihood ratio of the rise that a cause claims, or of the one that fits best, against
    none, on some blocks."""
    mean, count = float(expected.sum()), float(state.blocks.y[at, cause.stream.kind].sum())
    if not as_claimed:
        return float(log_likelihood_ratio(np.array(count), np.array(mean), np.array(doubt)))
    shape, ratio = 1.0 / max(doubt, LEAST_VARIANCE), max(cause.ratio, LEAST_RISE)
    raised = np.log((mean + shape) / (ratio * mean + shape))
    return float(count * np.log(ratio) + (count + shape) * raised)


def all_of_it(
    state: StreamCounts, whole: Candidate, parts: Sequence[Candidate],
    ends: Sequence[int | None], spread: Spread,
) -> float:
    """Log odds of a cause against several parts of it, each bad by itself until its end.

    What speaks is the rest of what the whole claims, how well its rise fits the pieces of the
    parts, and that one more thing going wrong is unlikely.
    """
    told = state.told()
    claim = _claim(state, whole, told)
    of_parts = np.zeros(len(state.blocks), dtype=bool)
    for part, end in zip(parts, ends, strict=True):
        until = state.n_slots if end is None else end
        of_parts |= _claim(state, part, told).mine & (state.blocks.pressed <= until)
    shared, alone = (np.flatnonzero(claim.mine & of) for of in (of_parts, ~of_parts))
    seen = float(state.blocks.y[shared, whole.stream.kind].sum())
    fitted = replace(whole, observed=seen, mean=float(claim.expected[shared].sum()))

    def gain(cause: Candidate, at: Ints) -> float:
        expected = claim.expected[at]
        return _gain(state, cause, at, expected, _doubt(state, cause, at, expected, spread))

    unlikely = ANOTHER * (len(parts) - 1) - sum(part.prior for part in parts)
    return whole.prior + unlikely + gain(whole, shared) - gain(fitted, shared) + gain(whole, alone)
