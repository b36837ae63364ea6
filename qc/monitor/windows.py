"""Windows that end now: what was seen and what was to be expected, for every start.

A level is held against its own past as well: before the window its true factor on the usual
rates is a gamma with mean 1 and the honest spread between levels; what it showed before the
window updates that. A new lot is only as suspicious as lots differ anyway.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.kinds import ZONES
from qc.monitor.detection import log_likelihood_ratio
from qc.monitor.dispersion import FITTED_SD
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.streams import FACTORS, WINDOW, StreamCounts

CLUMP_FACTORS = ("job", "transfer_lot", "garment_lot")
"""What makes faults come in clumps inside a window of another stream. Presses and people stay:
what they are like is in a stream's own past."""

GEOMETRIC_LENGTHS = np.array([1, 2, 3, 4, 6, 8, 11, 15, 20, 27, 36, 48, 64, 96, 136, 192])

ZONE_SD = 0.3
"""Honest coefficient of variation of a zone's share between levels; proposed, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """Which stream: kind, row and zone by position (zone None: the whole print)."""

    kind: int
    row: int
    zone: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Honest coefficients of variation between the levels of each factor, and between jobs."""

    sd: dict[str, float]

    def shapes(self, state: StreamCounts, rows: Ints, *, zoned: bool) -> Floats:
        """Shape of each row's own factor before its past is known, (rows,)."""
        sd = np.array([self.sd[name] for name in FACTORS])[state.row_factor[rows]]
        return np.asarray(1.0 / (sd**2 + (ZONE_SD**2 if zoned else 0.0)))

    def shape(self, state: StreamCounts, stream: Stream) -> float:
        rows = np.array([stream.row])
        return float(self.shapes(state, rows, zoned=stream.zone is not None)[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowFit:
    """Windows of some rows; ``start`` is the first slot of each. The other arrays are (rows,
    starts, kinds), of zones (rows, starts, kinds, zones)."""

    start: Ints
    observed: Floats
    mean: Floats
    variance: Floats
    gain: Floats


def window_starts(state: StreamCounts, lengths: Ints | None = None) -> Ints:
    """First slots of the windows of these lengths (all when None), the longest first."""
    last = state.n_slots - 1
    n_slots = min(state.n_slots - state.base, WINDOW)
    if lengths is None:
        lengths = np.arange(1, n_slots + 1)
    lengths = lengths[lengths <= n_slots]
    if len(lengths) == 0 or lengths[-1] < n_slots < WINDOW:
        lengths = np.append(lengths, n_slots)
    return np.asarray(last + 1 - lengths[::-1])


def _since(array: Floats, starts: Ints) -> Floats:
    """Sums over slots (axis 1) from each start to the end."""
    parts = np.add.reduceat(array, starts, axis=1)
    return np.asarray(np.cumsum(parts[:, ::-1], axis=1)[:, ::-1])


def fit_windows(
    state: StreamCounts, rows: Ints, starts: Ints, kinds: Ints, spread: Spread
) -> WindowFit:
    """Fit the windows of rows that begin at these slots and end with the newest."""
    at, stop = starts - state.base, state.n_slots - state.base
    inside = np.ix_(rows, np.arange(stop), kinds)
    seen, mean, squares = (
        _since(array[inside], at) for array in (state.observed, state.expected, state.clump)
    )
    totals = np.ix_(rows, kinds)
    past_seen = state.observed_total[totals][:, None] - seen
    past_mean = state.expected_total[totals][:, None] - mean
    shape = spread.shapes(state, rows, zoned=False)[:, None, None]
    return _fit(starts, seen, mean, squares, past_seen, past_mean, shape, spread)


def fit_zone_windows(
    state: StreamCounts, rows: Ints, starts: Ints, kinds: Ints, spread: Spread
) -> WindowFit:
    """The same for each zone of the print: arrays (rows, starts, kinds, zones)."""
    at, stop = starts - state.base, state.n_slots - state.base
    slots = np.arange(stop)
    inside = np.ix_(rows, slots, kinds)
    seen = _since(state.zoned[inside], at)
    share = state.zone_share[kinds]
    mean = _since(state.expected[inside], at)[..., None] * share
    total = state.expected_total[np.ix_(rows, kinds)][..., None] * share
    for (kind, zone), extra in state.extra.items():
        column = np.flatnonzero(kinds == kind)
        if len(column):
            j = int(column[0])
            weight = (np.arange(len(ZONES)) == zone) - share[j]
            mean[:, :, j] += _since(extra[np.ix_(rows, slots)], at)[..., None] * weight
            total[:, j] += extra[rows].sum(axis=1)[:, None] * weight
    squares = _since(state.clump[inside], at)[..., None] * share**2
    past_seen = state.zoned_total[np.ix_(rows, kinds)][:, None] - seen
    past_mean = total[:, None] - mean
    shape = spread.shapes(state, rows, zoned=True)[:, None, None, None]
    return _fit(starts, seen, mean, squares, past_seen, past_mean, shape, spread)


def _fit(
    starts: Ints, seen: Floats, mean: Floats, squares: Floats, past_seen: Floats,
    past_mean: Floats, prior: Floats, spread: Spread,
) -> WindowFit:
    shape = prior + np.maximum(past_seen, 0.0)
    mean_now = mean * shape / (prior + np.maximum(past_mean, 0.0))
    job = spread.sd["job"] ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = 1.0 / shape + np.where(mean > 0, job * squares / mean**2, 0.0)
    return WindowFit(
        start=starts, observed=seen, mean=mean_now, variance=variance,
        gain=log_likelihood_ratio(seen, mean_now, variance),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One window with every source of clumping counted in ``variance``. ``doubt`` is what the
    uncertainty of the usual rates adds where a level is held against itself, so that its own rate
    cancels: it counts when levels of several factors are compared."""

    observed: float
    mean: float
    variance: float
    doubt: float


def window(state: StreamCounts, stream: Stream, start: int, spread: Spread) -> Window:
    """A stream's window from a slot to the newest."""
    f = int(state.row_factor[stream.row])
    b = state.blocks
    at = np.flatnonzero((b.row[:, f] == stream.row) & (b.pressed >= start))
    if stream.zone is None:
        expected, seen = state.block_expected(at, stream.kind, f), b.y[at, stream.kind]
        totals = state.observed_total, state.expected_total
        all_seen, all_mean = (float(a[stream.row, stream.kind]) for a in totals)
    else:
        expected = state.block_zone_expected(at, stream.kind, stream.zone, f)
        seen = state.block_zoned(stream.kind, stream.zone)[at]
        all_seen = float(state.zoned_total[stream.row, stream.kind, stream.zone])
        all_mean = _zone_total(state, stream)
    observed, mean = float(seen.sum()), float(expected.sum())
    prior = spread.shape(state, stream)
    shape = prior + max(all_seen - observed, 0.0)
    mean_now = mean * shape / (prior + max(all_mean - mean, 0.0))
    variance, doubt = 1.0 / shape, 0.0
    if mean > 0:
        by_cell = sum_by(b.cell[at], expected, len(state.cell_codes))[None]
        doubt = float(state.rate_variance(
            np.array([stream.row]), np.array([stream.kind]), by_cell)[0])
        variance += _clump_variance(state, FACTORS[f], at, expected, spread) / mean**2
        if FACTORS[f] not in FITTED_SD:
            variance, doubt = variance + doubt, 0.0
    return Window(observed=observed, mean=mean_now, variance=variance, doubt=doubt)


def _zone_total(state: StreamCounts, stream: Stream) -> float:
    """Expected faults of a zone over all slots."""
    share = state.zone_share[stream.kind]
    total = float(state.expected_total[stream.row, stream.kind]) * share[stream.zone]
    for (kind, zone), extra in state.extra.items():
        if kind == stream.kind:
            weight = (1.0 if zone == stream.zone else 0.0) - share[stream.zone]
            total += weight * float(extra[stream.row].sum())
    return float(total)


def _clump_variance(
    state: StreamCounts, own: str, at: Ints, expected: Floats, spread: Spread
) -> float:
    """Variance of a window's count from clumping in jobs and lots, beyond its own factor's."""
    b, total = state.blocks, 0.0
    for name in CLUMP_FACTORS:
        if name == own:
            continue
        group = b.job[at] if name == "job" else b.row[at, FACTORS.index(name)]
        _, which = np.unique(group, return_inverse=True)
        total += spread.sd[name] ** 2 * float(np.sum(sum_by(which, expected) ** 2))
    return total
