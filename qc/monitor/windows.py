"""Windows that end now: what was seen and what was to be expected, for every start.

A level is held against its own past as well: before the window its true factor on the usual
rates is a gamma with mean 1 and the honest spread between levels; what it showed before the
window updates that. A new lot is only as suspicious as lots differ anyway.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.kinds import ZONES
from qc.monitor.buffer import WINDOW
from qc.monitor.detection import log_likelihood_ratio
from qc.monitor.evidence import Bools, Floats, Ints, sum_by
from qc.monitor.factors import FACTORS
from qc.monitor.streams import Explained, StreamCounts

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
    """Windows of some rows; ``start`` is the first slot of each. The other arrays are (kinds,
    rows, starts), of zones (kinds, rows, zones, starts)."""

    start: Ints
    observed: Floats
    mean: Floats
    variance: Floats
    gain: Floats


def window_starts(state: StreamCounts, lengths: Ints | None = None) -> Ints:
    """First slots of the windows of these lengths (all when None), the longest first."""
    last = state.n_slots - 1
    n_slots = max(min(state.n_slots - max(state.base, state.begin), WINDOW), 1)
    if lengths is None:
        lengths = np.arange(1, n_slots + 1)
    lengths = lengths[lengths <= n_slots]
    if len(lengths) == 0 or lengths[-1] < n_slots < WINDOW:
        lengths = np.append(lengths, n_slots)
    return np.asarray(last + 1 - lengths[::-1])


def _since(array: Floats, starts: Ints) -> Floats:
    """Sums over slots (the last axis) from each start to the end."""
    parts = np.add.reduceat(array, starts, axis=-1)
    return np.asarray(np.cumsum(parts[..., ::-1], axis=-1)[..., ::-1])


def fit_windows(
    state: StreamCounts, rows: Ints, starts: Ints, kinds: Ints, spread: Spread
) -> WindowFit:
    """Fit the windows of rows that begin at these slots and end with the newest."""
    buffer = state.buffer
    at, stop = starts - buffer.base, state.n_slots - buffer.base
    some = np.ix_(kinds, rows)
    seen, mean, squares = (
        _since(array[some][..., :stop], at)
        for array in (buffer.observed, buffer.expected, buffer.clump)
    )
    past_seen = buffer.observed_total[some][..., None] - seen
    past_mean = buffer.expected_total[some][..., None] - mean
    prior = spread.shapes(state, rows, zoned=False)[:, None]
    return _fit(starts, seen, mean, squares, past_seen, past_mean, prior, spread)


def fit_zone_windows(
    state: StreamCounts, rows: Ints, starts: Ints, kinds: Ints, spread: Spread
) -> WindowFit:
    """The same for each zone of the print: arrays (kinds, rows, zones, starts)."""
    buffer = state.buffer
    at, stop = starts - buffer.base, state.n_slots - buffer.base
    some, zones = np.ix_(kinds, rows), np.ix_(kinds, state.zone_row[rows])
    seen = _since(buffer.zoned[zones][..., :stop], at)
    share = state.zone_share[kinds][:, None, :, None]
    mean = _since(buffer.expected[some][..., :stop], at)[:, :, None] * share
    total = buffer.expected_total[some][..., None, None] * share
    for (kind, zone), extra in buffer.extra.items():
        for j in np.flatnonzero(kinds == kind):
            weight = ((np.arange(len(ZONES)) == zone) - state.zone_share[kind])[:, None]
            mean[j] += _since(extra[rows, :stop], at)[:, None] * weight
            total[j] += extra[rows].sum(axis=1)[:, None, None] * weight
    squares = _since(buffer.clump[some][..., :stop], at)[:, :, None] * share**2
    past_seen = buffer.zoned_total[zones][..., None] - seen
    prior = spread.shapes(state, rows, zoned=True)[:, None, None]
    return _fit(starts, seen, mean, squares, past_seen, total - mean, prior, spread)


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
    """One window with every source of clumping counted in ``variance``. ``own``: factor on the
    usual rates from the level's own past, in ``mean`` already, and its squared coefficient of
    variation ``own_variance``; ``past``: faults expected in that past."""

    observed: float
    mean: float
    variance: float
    own: float
    own_variance: float
    past: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A change that is taken as known, with the squared coefficient of variation of its rise."""

    change: Explained
    variance: float


def windows(
    state: StreamCounts, stream: Stream, start: int, spread: Spread, told: Bools | None = None,
    beside: Beside | None = None,
) -> tuple[Window, Window]:
    """A stream's window from a slot to the newest, and the same without its oddest job.

    ``told``: the blocks that are to count in the window; all when None. ``beside``: one of the
    changes found, whose rise is uncertain.
    """
    f = int(state.row_factor[stream.row])
    b = state.blocks
    mine = np.flatnonzero(b.row[:, f] == stream.row)
    if stream.zone is None:
        expected, seen = state.block_expected(mine, stream.kind, f), b.y[mine, stream.kind]
        totals = state.buffer.observed_total, state.buffer.expected_total
        all_seen, all_mean = (float(a[stream.kind, stream.row]) for a in totals)
    else:
        expected = state.block_zone_expected(mine, stream.kind, stream.zone, f)
        seen = state.block_zoned(stream.kind, stream.zone)[mine]
        zone_row = state.zone_row[stream.row]
        all_seen = float(state.buffer.zoned_total[stream.kind, zone_row, stream.zone])
        all_mean = _zone_total(state, stream)
    inside = b.pressed[mine] >= start
    n_cells = len(state.cell_codes)
    before = sum_by(b.cell[mine[~inside]], expected[~inside], n_cells)
    before += state.past_by_cell(stream.row, stream.kind)
    past_mean = max(all_mean - float(expected[inside].sum()), 0.0)
    past_seen = max(all_seen - float(seen[inside].sum()), 0.0)
    if told is not None:
        inside &= told[mine]
    at, seen, expected = mine[inside], seen[inside], expected[inside]
    shape = spread.shape(state, stream)
    past = Past(
        shape=shape + past_seen, mean=shape + past_mean, expected=past_mean,
        by_cell=before * past_mean / ((shape + past_mean) * max(float(before.sum()), 1e-9)),
    )
    _, job = np.unique(b.job[at], return_inverse=True)
    excess = sum_by(job, seen - expected * past.shape / past.mean)
    rest = job != int(excess.argmax()) if len(excess) else np.zeros(0, dtype=bool)
    whole = _window(state, stream, at, job, seen, expected, past, spread, beside)
    return whole, _window(
        state, stream, at[rest], job[rest], seen[rest], expected[rest], past, spread, beside)


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What a level is known by from before its window: a gamma of this shape and this mean of
    the shape (both grow with what it showed and what was to be ``expected`` of it).

    ``by_cell``: how far it stands in for the usual rates of each cell, which then cancel; in all
    the weight of the past, 0..1.
    """

    shape: float
    mean: float
    expected: float
    by_cell: Floats


def _window(
    state: StreamCounts, stream: Stream, at: Ints, job: Ints, seen: Floats, expected: Floats,
    past: Past, spread: Spread, beside: Beside | None,
) -> Window:
    factor, mean = state.factor(stream.row), float(expected.sum())
    variance = 1.0 / past.shape
    if mean > 0:
        share = sum_by(state.blocks.cell[at], expected, len(state.cell_codes)) / mean
        variance += state.rate_variance(stream.row, stream.kind, share - past.by_cell)
        variance += clump_variance(state, factor, at, expected, spread, job) / mean**2
        if beside is not None:
            shared = float(expected[state.touched(beside.change, at)].sum()) / mean
            variance += shared**2 * beside.variance
    return Window(
        observed=float(seen.sum()), mean=mean * past.shape / past.mean, variance=variance,
        own=past.shape / past.mean, own_variance=1.0 / past.shape, past=past.expected,
    )


def _zone_total(state: StreamCounts, stream: Stream) -> float:
    """Expected faults of a zone over all slots."""
    share = state.zone_share[stream.kind]
    total = float(state.buffer.expected_total[stream.kind, stream.row]) * share[stream.zone]
    for (kind, zone), extra in state.buffer.extra.items():
        if kind == stream.kind:
            weight = (1.0 if zone == stream.zone else 0.0) - share[stream.zone]
            total += weight * float(extra[stream.row].sum())
    return float(total)


def clump_variance(
    state: StreamCounts, own: str, at: Ints, expected: Floats, spread: Spread,
    job: Ints | None = None,
) -> float:
    """Variance of a window's count from clumping in jobs and lots, beyond its own factor's.

    ``job``: number of the job of each block, where they have been numbered.
    """
    b, n_rows, total = state.blocks, len(state.row_factor), 0.0
    if job is None:
        _, job = np.unique(b.job[at], return_inverse=True)
    for name in CLUMP_FACTORS:
        if name == own:
            continue
        group = job
        if name != "job":  # a lot that nobody noted is taken to be that of a job
            row = b.row[at, FACTORS.index(name)]
            group = np.where(row >= 0, row, n_rows + job)
        total += spread.sd[name] ** 2 * float(np.sum(sum_by(group, expected) ** 2))
    return total
