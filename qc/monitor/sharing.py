"""Causes that share pieces: are both at work, or does one do the work of several?

Two causes that share pieces both gain from them. What tells them apart is the rest: what one of
them touches and the other does not.
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


def _claim(state: StreamCounts, candidate: Candidate, told: Bools) -> _Claim:
    b, row = state.blocks, candidate.stream.row
    f = int(state.row_factor[row])
    mine = (b.row[:, f] == row) & (b.pressed >= candidate.start) & told
    at, expected = np.flatnonzero(mine), np.zeros(len(b))
    expected[at] = state.block_expected(at, candidate.stream.kind, f) * candidate.own
    return _Claim(candidate=candidate, mine=mine, expected=expected)


def _alone(state: StreamCounts, one: _Claim, other: _Claim, spread: Spread) -> float:
    """Gain of one cause on its pieces that the other lacks, with the rise that fits them best; one
    job may be odd by itself."""
    at = np.flatnonzero(one.mine & ~other.mine)
    expected = one.expected[at]
    seen = state.blocks.y[at, one.candidate.stream.kind]
    _, job = np.unique(state.blocks.job[at], return_inverse=True)
    if len(at) == 0:
        return 0.0
    rest = job != int(sum_by(job, seen - expected).argmax())
    whole, without = (
        float(log_likelihood_ratio(
            seen[some].sum(), expected[some].sum(),
            np.asarray(_doubt(state, one.candidate, at[some], expected[some], spread))))
        for some in (np.ones_like(rest), rest)
    )
    return min(whole, without - float(np.log(ODD_JOB)))


def both_apart(state: StreamCounts, one: Candidate, other: Candidate, spread: Spread) -> float:
    """How far each of two causes speaks for itself where the other is not, however large it is
    there: log likelihood gain over no rise, the less of the two."""
    told = state.told()
    a, b = _claim(state, one, told), _claim(state, other, told)
    return min(_alone(state, a, b, spread), _alone(state, b, a, spread))


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


def _gain(state: StreamCounts, cause: Candidate, at: Ints, expected: Floats, doubt: float) -> float:
    """Log likelihood ratio of the rise that a cause claims against none, on some blocks."""
    mean, count = float(expected.sum()), float(state.blocks.y[at, cause.stream.kind].sum())
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
