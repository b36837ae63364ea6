"""How soon a doubling of each stream would be flagged, with the thresholds in force."""

from __future__ import annotations

import numpy as np

from qc.domain.flags import StreamDelay
from qc.domain.instants import DAY_US
from qc.monitor.alarms import LEAST_FAULTS, Thresholds
from qc.monitor.budget import AlarmBudget
from qc.monitor.detection import upper_tail
from qc.monitor.evidence import SLOT_US, Floats
from qc.monitor.findings import public_name, row_level
from qc.monitor.replay import Outcome
from qc.monitor.streams import StreamCounts

RECENT_US = 28 * DAY_US
LONGEST_DAYS = 91
TYPICAL = "press"


def doubling_delay(
    expected_per_day: float, alpha: Floats, relative_variance: float, *, factor: float = 2.0
) -> float | None:
    """Days within which a stream whose rate is multiplied by ``factor`` alarms in half the cases.

    The first day at which the median count of the raised stream is beyond the threshold: an
    alarm may come on any day before, so the true median is no later. None if no day is.

    Parameters
    ----------
    alpha : (days,) tail probability at which a window of 1, 2, ... days alarms.
    relative_variance : of the expectation, over its mean squared.
    """
    days = np.arange(1, len(alpha) + 1, dtype=np.float64)
    mean = expected_per_day * days
    count = np.floor(factor * mean + 1 / 3)
    tail = upper_tail(np.maximum(count, 1.0), mean, np.asarray(relative_variance))
    beyond = (count >= LEAST_FAULTS) & (tail < alpha)
    return float(days[np.argmax(beyond)]) if beyond.any() else None


def stream_delays(outcome: Outcome, budget: AlarmBudget) -> tuple[StreamDelay, ...]:
    """The delay of every stream that worked in the last weeks, the busiest first."""
    state = outcome.state
    starts = np.array(state.slot_start_us)
    recent = np.maximum(np.searchsorted(starts, starts[-1] - RECENT_US), state.base)
    days = max((int(starts[-1]) + SLOT_US - int(starts[recent])) / DAY_US, 1.0)
    n = len(state.row_factor)
    inside = slice(recent - state.base, state.n_slots - state.base)
    per_day = state.buffer.expected[:, :n, inside].sum(axis=2).T / days
    rows = np.flatnonzero(per_day.sum(axis=1) > 0)
    thresholds = Thresholds(state, rows, budget)
    lengths = np.maximum(np.arange(1, LONGEST_DAYS + 1) * (len(starts) - recent) / days, 1.0)
    found = []
    for row in rows:
        for kind in np.flatnonzero(per_day[row] > 0):
            alpha = thresholds.alpha(np.array([kind]), np.array([row]), lengths, zoned=False)
            variance = _own_variance(outcome, state, int(row), int(kind))
            found.append(StreamDelay(
                factor=public_name(state.factor(int(row))), level=row_level(state, int(row)),
                kind=state.kinds[kind], expected_per_day=float(per_day[row, kind]),
                days=doubling_delay(float(per_day[row, kind]), alpha, variance),
            ))
    return tuple(sorted(found, key=lambda d: -d.expected_per_day))


def _own_variance(outcome: Outcome, state: StreamCounts, row: int, kind: int) -> float:
    """Relative variance of what a level is expected to show, given its own past."""
    shape = outcome.spread.shapes(state, np.array([row]), zoned=False)[0]
    return float(1.0 / (shape + state.buffer.observed_total[kind, row]))


def typical_delay(delays: tuple[StreamDelay, ...]) -> float | None:
    """Days to see a doubling of the most common defect on a press of middling traffic."""
    of_press = [d for d in delays if d.factor == TYPICAL]
    if not of_press:
        return None
    kind = of_press[0].kind
    mine = [d for d in of_press if d.kind == kind]
    return mine[len(mine) // 2].days
