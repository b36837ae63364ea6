"""The evidence behind a flag, for people: the stream over time, the level beside its peers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.instants import DAY_US
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.findings import Finding, level_name
from qc.monitor.scan import Scan
from qc.stats.comparing.ratios import standardised_ratio


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Series:
    """Days of a stream: pieces, faults seen and faults expected at the usual rates."""

    day_start_us: Ints
    pieces: Floats
    observed: Floats
    expected: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelComparison:
    """One level since the change: observed against what its mix would give; 95 % interval."""

    level: str | None
    pieces: float
    observed: float
    expected: float
    ratio: float
    low: float
    high: float


def _kind_of(scan: Scan, finding: Finding) -> int | None:
    """The defect kind to show for a finding; a platen or setting is shown by its consequence."""
    if scan.outcome is None:
        return None
    kinds = scan.outcome.state.evidence.kinds
    shown = (finding.characteristic, *finding.also)
    return next((kinds.index(code) for code in shown if code in kinds), None)


def stream_series(scan: Scan, finding: Finding) -> Series | None:
    """The flagged level day by day; None where no defect kind is concerned."""
    kind = _kind_of(scan, finding)
    level = _level(scan, finding)
    if kind is None or level is None or scan.outcome is None:
        return None
    state = scan.outcome.state
    b, factor = state.blocks, finding.factor.name
    at = np.flatnonzero(b.level[factor][: state.n_visible] == level)
    rate = state.block_rate(at, np.array([kind]), factor=factor).rate[:, 0]
    day = b.slot_start_us[b.pressed[at]] // DAY_US
    days, which = np.unique(day, return_inverse=True)
    return Series(
        day_start_us=days * DAY_US, pieces=sum_by(which, b.n[at]),
        observed=sum_by(which, state.block_y[at, kind]),
        expected=sum_by(which, b.n[at] * rate),
    )


def compare_levels(scan: Scan, finding: Finding) -> tuple[LevelComparison, ...]:
    """Every level of the flagged factor since the change, the flagged one first."""
    kind = _kind_of(scan, finding)
    if kind is None or scan.outcome is None or _level(scan, finding) is None:
        return ()
    state = scan.outcome.state
    b, factor = state.blocks, finding.factor.name
    slot_us = b.slot_start_us[b.pressed[: state.n_visible]]
    inside = slot_us >= finding.changed_at_us - DAY_US // 6
    if finding.ended_at_us is not None:
        inside &= slot_us <= finding.ended_at_us
    at = np.flatnonzero(inside & (b.level[factor][: state.n_visible] >= 0))
    rate = state.block_rate(at, np.array([kind]), factor=factor).rate[:, 0]
    size = state.n_levels[factor]
    sums = [
        sum_by(b.level[factor][at], weight, size)
        for weight in (b.n[at], state.block_y[at, kind], b.n[at] * rate)
    ]
    rows = [
        _compared(level_name(state.evidence, factor, i), *(float(s[i]) for s in sums))
        for i in range(size) if sums[2][i] > 0
    ]
    return tuple(sorted(rows, key=lambda r: (r.level != finding.factor.level, -r.ratio)))


def _level(scan: Scan, finding: Finding) -> int | None:
    if scan.outcome is None:
        return None
    coded = scan.outcome.state.evidence.factors.get(finding.factor.name)
    if coded is None:
        return None
    if finding.factor.name == "shop":
        return 0
    levels = coded.levels
    return levels.index(finding.factor.level) if finding.factor.level in levels else None


def _compared(level: str | None, pieces: float, seen: float, expected: float) -> LevelComparison:
    ratio = standardised_ratio(round(seen), expected, confidence=0.95)
    return LevelComparison(
        level=level, pieces=pieces, observed=seen, expected=expected, ratio=ratio.ratio,
        low=ratio.low, high=ratio.high,
    )
