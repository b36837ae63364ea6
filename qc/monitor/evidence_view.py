"""The evidence behind a flag, for people: the stream over time, the level beside its peers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.instants import DAY_US
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.findings import (
    Finding,
    public_name,
    row_level,
    row_units,
    unit_counts,
    unit_usual,
)
from qc.monitor.replay import Outcome
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


def _kind_of(outcome: Outcome, finding: Finding) -> int | None:
    """The defect kind to show for a finding; a platen or setting is shown by its consequence."""
    kinds = outcome.state.kinds
    shown = (finding.characteristic, *finding.also)
    return next((kinds.index(code) for code in shown if code in kinds), None)


def _rows_of(outcome: Outcome, factor: str) -> dict[str | None, int]:
    """Stream rows of a factor (as flags name it) by level."""
    state = outcome.state
    rows = range(len(state.row_factor))
    return {row_level(state, r): r for r in rows if public_name(state.factor(r)) == factor}


def stream_series(scan: Scan, finding: Finding) -> Series | None:
    """The flagged level day by day; None where no defect kind is concerned."""
    outcome = scan.outcome
    if outcome is None:
        return None
    kind = _kind_of(outcome, finding)
    row = _rows_of(outcome, finding.factor.name).get(finding.factor.level)
    if kind is None or row is None:
        return None
    units = row_units(outcome, row)
    days, which = np.unique(outcome.evidence.pressed_us[units] // DAY_US, return_inverse=True)
    return Series(
        day_start_us=days * DAY_US, pieces=sum_by(which, outcome.evidence.n[units]),
        observed=sum_by(which, unit_counts(outcome, units, kind)),
        expected=sum_by(which, unit_usual(outcome, units, kind, row)),
    )


def compare_levels(scan: Scan, finding: Finding) -> tuple[LevelComparison, ...]:
    """Every level of the flagged factor since the change, the flagged one first."""
    outcome = scan.outcome
    kind = None if outcome is None else _kind_of(outcome, finding)
    if outcome is None or kind is None:
        return ()
    rows = []
    for level, row in _rows_of(outcome, finding.factor.name).items():
        units = row_units(outcome, row)
        pressed = outcome.evidence.pressed_us[units]
        inside = pressed >= finding.changed_at_us
        if finding.ended_at_us is not None:
            inside &= pressed <= finding.ended_at_us
        units = units[inside]
        expected = float(unit_usual(outcome, units, kind, row).sum())
        if expected > 0:
            pieces = float(outcome.evidence.n[units].sum())
            seen = float(unit_counts(outcome, units, kind).sum())
            rows.append(_compared(level, pieces, seen, expected))
    return tuple(sorted(rows, key=lambda r: (r.level != finding.factor.level, -r.ratio)))


def _compared(level: str | None, pieces: float, seen: float, expected: float) -> LevelComparison:
    ratio = standardised_ratio(round(seen), expected, confidence=0.95)
    return LevelComparison(
        level=level, pieces=pieces, observed=seen, expected=expected, ratio=ratio.ratio,
        low=ratio.low, high=ratio.high,
    )
