"""Windows that end now: what was seen and what was to be expected, for every start.

A level is held against its own past as well: before the window its true factor on the usual
rates is a gamma with mean 1 and the honest spread between levels; what it showed before the
window updates that. A new lot is only as suspicious as lots differ anyway.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.detection import log_likelihood_ratio
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.streams import CLUMP_FACTORS, StreamCounts

LONGEST_WINDOW = 96
"""Slots a window may reach back: about four weeks of a two-shift shop."""

GEOMETRIC_LENGTHS = np.array([1, 2, 3, 4, 6, 8, 11, 15, 20, 27, 36, 48, 64, 96])


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """Which stream: positions of kind and level, factor by name, zone by position or None."""

    kind: int
    factor: str
    level: int
    zone: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WindowFit:
    """Windows of some levels, each array (levels, starts, kinds); ``start`` is the first slot."""

    start: Ints
    observed: Floats
    mean: Floats
    variance: Floats
    gain: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Honest coefficients of variation between the levels of each factor, and between jobs."""

    sd: dict[str, float]

    def shape(self, factor: str) -> float:
        return 1.0 / self.sd[factor] ** 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recent:
    """The slots a window may reach back over, (levels, slots, kinds), and totals over all slots,
    (levels, kinds)."""

    first_slot: int
    observed: Floats
    expected: Floats
    clump: Floats
    observed_total: Floats
    expected_total: Floats


def recent_slots(slot: int) -> slice:
    """The slots a window that ends with this one may reach back over."""
    return slice(max(0, slot + 1 - LONGEST_WINDOW), slot + 1)


def recent_counts(
    state: StreamCounts, factor: str, levels: Ints, slot: int, kinds: Ints, zone: int | None = None
) -> Recent:
    """What the windows of some levels and kinds are made of, at the end of a slot."""
    counts, slots = state.counts[factor], recent_slots(slot)
    clump = counts.clump[levels, slots][..., kinds]
    if zone is None:
        return Recent(
            first_slot=slots.start, observed=counts.observed[levels, slots][..., kinds],
            expected=counts.expected[levels, slots][..., kinds], clump=clump,
            observed_total=counts.observed_total[levels][:, kinds],
            expected_total=counts.expected_total[levels][:, kinds],
        )
    if counts.zoned is None or counts.zoned_total is None:
        raise ValueError(f"factor is {factor!r}; zones are kept for presses and stations")
    expected, total = state.zone_expected(factor, zone, levels, slots, kinds)
    return Recent(
        first_slot=slots.start, observed=counts.zoned[levels, slots, :, zone][..., kinds],
        expected=expected, clump=clump * state.zone_share()[kinds, zone] ** 2,
        observed_total=counts.zoned_total[levels, :, zone][:, kinds], expected_total=total,
    )


def fit_windows(
    recent: Recent, lengths: Ints, prior_shape: float, job_variance: float
) -> WindowFit:
    """Fit every window of the given lengths (slots, ending with the newest)."""
    n_slots = recent.observed.shape[1]
    lengths = lengths[lengths <= n_slots]
    if len(lengths) == 0 or lengths[-1] < n_slots < LONGEST_WINDOW:
        lengths = np.append(lengths, n_slots)
    reach = int(lengths[-1])
    seen, mean, squares = (
        np.cumsum(array[:, n_slots - reach :][:, ::-1], axis=1)[:, lengths - 1]
        for array in (recent.observed, recent.expected, recent.clump)
    )
    past_seen = np.maximum(recent.observed_total[:, None] - seen, 0.0)
    past_mean = np.maximum(recent.expected_total[:, None] - mean, 0.0)
    shape = prior_shape + past_seen
    mean_now = mean * shape / (prior_shape + past_mean)
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = 1.0 / shape + np.where(mean > 0, job_variance * squares / mean**2, 0.0)
    return WindowFit(
        start=recent.first_slot + n_slots - lengths, observed=seen, mean=mean_now,
        variance=variance, gain=log_likelihood_ratio(seen, mean_now, variance),
    )


def full_variance(
    state: StreamCounts, stream: Stream, start: int, spread: Spread, prior_shape: float
) -> tuple[float, float, float]:
    """Observed, mean and relative variance of one window, every source of clumping included."""
    b = state.blocks
    level = b.level[stream.factor][: state.n_visible]
    own = np.flatnonzero(level == stream.level)
    expected = _expected_of(state, stream, own)
    seen = _observed_of(state, stream, own)
    inside = b.pressed[own] >= start
    observed, mean = float(seen[inside].sum()), float(expected[inside].sum())
    shape = prior_shape + float(seen[~inside].sum())
    mean_now = mean * shape / (prior_shape + float(expected[~inside].sum()))
    variance = 1.0 / shape
    if mean > 0:
        at, e = own[inside], expected[inside]
        variance += _cell_variance(state, stream, at, e) / mean**2
        for factor in CLUMP_FACTORS:
            recorded = factor == "job" or factor in b.level
            if factor == stream.factor or factor not in spread.sd or not recorded:
                continue
            group = state.job[at] if factor == "job" else b.level[factor][at]
            per_group = sum_by(group + 1, e)
            variance += spread.sd[factor] ** 2 * float(np.sum(per_group**2)) / mean**2
    return observed, mean_now, variance


def _expected_of(state: StreamCounts, stream: Stream, at: Ints) -> Floats:
    if stream.zone is None:
        kind = np.array([stream.kind])
        return state.block_expected(at, kind, factor=stream.factor)[:, 0]
    return state.block_zone_expected(at, stream.kind, stream.zone, factor=stream.factor)


def _observed_of(state: StreamCounts, stream: Stream, at: Ints) -> Floats:
    if stream.zone is None:
        return state.block_y[at, stream.kind]
    if state.block_z is None:
        return np.zeros(len(at))
    return state.block_z[at, stream.kind, stream.zone]


def _cell_variance(
    state: StreamCounts, stream: Stream, at: Ints, expected: Floats
) -> float:
    """Variance of a window's expectation from the uncertainty of the usual rates.

    A pairing errs for itself; a main effect errs the same way in all its cells.
    """
    rates = state.block_rate(at, np.array([stream.kind]), factor=stream.factor)
    codes = state.evidence.cell_codes[state.blocks.cell[at]]
    groups = [state.blocks.cell[at], *(codes.T + 1)]
    parts = [rates.pairing_variance[:, 0], *rates.main_variance[..., 0]]
    return sum(
        float(np.sum(sum_by(group, expected * np.sqrt(variance)) ** 2))
        for group, variance in zip(groups, parts, strict=True)
    )
