"""Which single change explains the records best: every factor and level is asked.

Each candidate's gain in log likelihood is counted over the same records and the same
expectation, so gains compare. Where factors coincide (a lot over its transfer, a lot over the
shop) the specific cause is preferred, and the trade's cause table speaks for the families it
lists.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from qc.domain.kinds import ZONES, causes_of
from qc.monitor.detection import log_likelihood_ratio, upper_tail
from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.factors import FACTORS, LOT_FACTORS, WHOLE_OF
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import (
    Beside,
    Spread,
    Stream,
    Window,
    fit_windows,
    fit_zone_windows,
    window_starts,
    windows,
)

PRIOR = {
    "press": 0.0, "transfer_lot": 0.0, "garment_lot": -0.5, "operator": 0.0, "station": -1.0,
    "fabric": -1.5, "transfer": -1.5, "location": -1.75, "size": -4.0, "time_since_start": -2.5,
    "press_start": -2.5, "shop": -4.0,
}
"""Log prior of each factor being the cause; the specific before the general. Proposed starting
values, no source."""

LOTS_OF = {whole: part for part, whole in WHOLE_OF.items() if part in LOT_FACTORS}
OF_ONE_LOT = 2.5
"""Log prior that a fabric or a transfer loses where all that speaks for it is of one lot; where a
part of it is, by the square of that part. Proposed, no source."""

FAMILY_OF = {
    "press": "press", "station": "press", "operator": "operator", "transfer_lot": "transfer",
    "transfer": "transfer", "garment_lot": "fabric", "fabric": "fabric", "press_start": "press",
}
WHOLE_LOT = 2.0
"""Log prior that a lot gains if it is bad from its first piece: it probably is what it is, while
a press or a person may go wrong at any time. Proposed, no source."""

LISTED_FAMILY = 0.7
"""Log prior gained by a factor whose family the cause table lists for this kind of defect."""

N_EXACT = 8
"""Candidates that are looked at with every source of clumping counted."""

ODD_JOB = 0.05
"""Chance that a window holds a job that is odd for reasons of its own; proposed, no source."""

LEAST_ZONED, LEAST_GAIN = 3, 0.5
"""Faults of a zone, and a gain in log likelihood, below which a window is not looked at."""

THE_SHOP = 0.95
"""Part of all that is expected from which a fabric, a person or the like is just the shop; a press
stays a press, and a lot goes as it came. Proposed, no source."""

CAN_BE_THE_SHOP = np.array([name in ("operator", "fabric", "transfer", "location", "size")
                            for name in FACTORS])
IS_LOT = np.array([name in LOT_FACTORS for name in FACTORS])


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One stream as the explanation: from which slot, how strong, how surprising by luck; ``own``
    is the factor on the usual rates that the level's past speaks for, in ``mean`` already,
    ``own_variance`` its squared coefficient of variation, ``past`` how many faults were to be
    expected before."""

    stream: Stream
    start: int
    observed: float
    mean: float
    gain: float
    prior: float
    score: float
    tail: float
    own: float
    own_variance: float
    past: float

    @property
    def ratio(self) -> float:
        return (self.observed + 0.5) / (self.mean + 0.5)


def log_prior(state: StreamCounts, stream: Stream, n_levels: int, start: int) -> float:
    """Log prior of a candidate: its factor's, shared among the factor's levels at work."""
    levels = np.full(len(FACTORS), n_levels)
    rows, starts = np.array([stream.row]), np.array([start])
    zones = len(ZONES) if stream.zone is not None else 1
    return float(_log_priors(state, stream.kind, rows, starts, levels * zones)[0, 0])


def _log_priors(
    state: StreamCounts, kind: int, rows: Ints, starts: Ints, n_alike: Ints
) -> Floats:
    """Log priors of rows for each start, (rows, starts); ``n_alike``: of each factor, how many
    streams share its prior."""
    f = state.row_factor[rows]
    of_factor = _factor_priors(state.kinds[kind])[f] - np.log(np.maximum(n_alike, 1))[f]
    whole = (starts <= state.first_slot[rows][:, None]) & IS_LOT[f][:, None]
    return np.asarray(of_factor[:, None] + WHOLE_LOT * whole)


@lru_cache
def _factor_priors(kind: str) -> Floats:
    """Log prior of each factor, with what the cause table says of a kind of defect, (factors,)."""
    families = {cause.family for cause in causes_of(kind)}
    families |= {"fabric"} if "blank" in families else set()
    return np.array([PRIOR[name] + LISTED_FAMILY * (FAMILY_OF.get(name) in families)
                     for name in FACTORS])


def candidates(state: StreamCounts, kind: int, spread: Spread) -> list[Candidate]:
    """The best explanations of a kind's rise at the end of the newest slot, best first."""
    starts = window_starts(state)
    rows, n_levels = _at_work(state, kind, starts), levels_at_work(state, kind)
    rows = rows[~_is_the_shop(state, kind, rows)]
    rough = _rough(state, rows, starts, kind, n_levels, spread)
    rough.sort(key=lambda item: -item[0])
    exact = _exactly(state, rough[:N_EXACT], n_levels, spread)
    return sorted(exact, key=lambda c: -c.score)


def candidate_of(
    state: StreamCounts, kind: int, row: int, spread: Spread, beside: Beside | None = None
) -> Candidate | None:
    """The best explanation by one level, if there is any rise at it."""
    starts, n_levels = window_starts(state), levels_at_work(state, kind)
    rough = _rough(state, np.array([row]), starts, kind, n_levels, spread)
    rough = [item for item in rough if item[1].zone is None]
    return _exactly(state, rough, n_levels, spread, beside)[0] if rough else None


def _at_work(state: StreamCounts, kind: int, starts: Ints) -> Ints:
    """Rows with anything to expect since the first start."""
    inside = state.buffer.expected[kind, :, starts[0] - state.base : state.n_slots - state.base]
    return np.flatnonzero(inside.any(axis=1))


def _is_the_shop(state: StreamCounts, kind: int, rows: Ints) -> Bools:
    """Which levels are all the shop does, but for a little: what they show, the shop shows."""
    expected = state.buffer.expected_total[kind]
    named = CAN_BE_THE_SHOP[state.row_factor[rows]]
    return np.asarray(named & (expected[rows] >= THE_SHOP * expected[state.shop_row]))


def levels_at_work(state: StreamCounts, kind: int) -> Ints:
    """How many levels of each factor may have had a kind of fault lately, (factors,)."""
    rows = _at_work(state, kind, window_starts(state))
    return np.bincount(state.row_factor[rows], minlength=len(FACTORS))


def _exactly(
    state: StreamCounts, rough: list[tuple[float, Stream, int]], n_levels: Ints, spread: Spread,
    beside: Beside | None = None,
) -> list[Candidate]:
    told = state.told()
    exact = [
        judge(state, stream, start, int(n_levels[state.row_factor[stream.row]]), spread, told,
              beside)
        for _, stream, start in rough
    ]
    lost = [OF_ONE_LOT * _of_one_lot(state, c) ** 2 for c in exact]
    return [replace(c, prior=c.prior - less, score=c.score - less)
            for c, less in zip(exact, lost, strict=True)]


def _of_one_lot(state: StreamCounts, candidate: Candidate) -> float:
    """Part of what was expected of a fabric or a transfer that came of a single lot, 0..1."""
    lots = LOTS_OF.get(state.factor(candidate.stream.row))
    if lots is None:
        return 0.0
    b, row = state.blocks, candidate.stream.row
    f = int(state.row_factor[row])
    at = np.flatnonzero((b.row[:, f] == row) & (b.pressed >= candidate.start))
    lot = b.row[at, FACTORS.index(lots)]
    expected = state.block_expected(at[lot >= 0], candidate.stream.kind, f)
    if not expected.any():
        return 0.0
    return float(sum_by(lot[lot >= 0], expected).max() / expected.sum())


def judge(
    state: StreamCounts, stream: Stream, start: int, n_levels: int, spread: Spread,
    told: Bools | None = None, beside: Beside | None = None,
) -> Candidate:
    """A candidate with every source of clumping counted in.

    Now and then a job is odd for reasons of its own (`ODD_JOB`): what one job alone shows is not
    laid at the door of the press or the person that it was worked with.
    """
    whole, rest = windows(state, stream, start, spread, told, beside)
    gain, tail = _gain_and_tail(whole)
    rest_gain, rest_tail = _gain_and_tail(rest)
    gain = min(gain, rest_gain - float(np.log(ODD_JOB)))
    prior = log_prior(state, stream, n_levels, start)
    return Candidate(
        stream=stream, start=start, observed=whole.observed, mean=whole.mean, gain=gain,
        prior=prior, score=gain + prior, tail=tail + ODD_JOB * rest_tail,
        own=whole.own, own_variance=whole.own_variance, past=whole.past,
    )


def _gain_and_tail(w: Window) -> tuple[float, float]:
    if w.observed <= w.mean or w.mean <= 0:
        return 0.0, 1.0
    count, mean, variance = np.asarray(w.observed), np.asarray(w.mean), np.asarray(w.variance)
    gain = log_likelihood_ratio(count, mean, variance)
    return float(gain), float(upper_tail(count, mean, variance))


def shares(found: list[Candidate]) -> Floats:
    """Share of the evidence of each candidate; they sum to 1."""
    score = np.array([candidate.score for candidate in found])
    weight = np.exp(score - score.max())
    return weight / weight.sum()


def likeliest(found: list[Candidate]) -> Candidate:
    """The best candidate of the level with the largest share; zones of a level are one level."""
    total: dict[int, float] = {}
    for candidate, share in zip(found, shares(found), strict=True):
        row = candidate.stream.row
        total[row] = total.get(row, 0.0) + float(share)
    best = max(total, key=lambda row: total[row])
    return max((c for c in found if c.stream.row == best), key=lambda c: c.score)


def _rough(
    state: StreamCounts, rows: Ints, starts: Ints, kind: int, n_levels: Ints, spread: Spread
) -> list[tuple[float, Stream, int]]:
    """Score, stream and start of the best window of each stream."""
    kinds = np.array([kind])
    gain = fit_windows(state, rows, starts, kinds, spread).gain[0]
    (at,) = np.nonzero(gain.max(axis=-1) > LEAST_GAIN)
    prior = _log_priors(state, kind, rows[at], starts, n_levels)
    out = [(score, Stream(kind=kind, row=int(row)), start)
           for row, (score, start) in zip(rows[at], _best(gain[at] + prior, starts), strict=True)]
    zoned = state.zoned_rows(rows)
    if len(zoned):
        fit = fit_zone_windows(state, zoned, starts, kinds, spread)
        gain, enough = fit.gain[0], fit.observed[0, ..., 0] >= LEAST_ZONED
        at, zones = np.nonzero(enough & (gain.max(axis=-1) > LEAST_GAIN))
        prior = _log_priors(state, kind, zoned[at], starts, n_levels * len(ZONES))
        out += [(score, Stream(kind=kind, row=int(row), zone=int(zone)), start)
                for row, zone, (score, start) in zip(
                    zoned[at], zones, _best(gain[at, zones] + prior, starts), strict=True)]
    return out


def _best(score: Floats, starts: Ints) -> list[tuple[float, int]]:
    """The best score of each row and its start; of equal windows the shortest."""
    best = len(starts) - 1 - score[:, ::-1].argmax(axis=-1)
    return [(float(score[i, at]), int(starts[at])) for i, at in enumerate(best)]
