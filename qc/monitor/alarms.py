"""Looking over every stream that worked in a slot for windows beyond their threshold."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from qc.domain.kinds import ZONES
from qc.monitor.attribution import Candidate, judge, prior_shape
from qc.monitor.budget import AlarmBudget, family_share, slots_per_week
from qc.monitor.detection import upper_tail
from qc.monitor.evidence import Floats, Ints
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import (
    GEOMETRIC_LENGTHS,
    Spread,
    Stream,
    WindowFit,
    fit_windows,
    recent_counts,
)

LEAST_FAULTS = 4
"""Fewer faults than this in a window never make a flag: one person's bad hour is not a trend."""

WORTH_A_LOOK = 2.5
"""Gain in log likelihood below which no threshold of a sensible budget can be reached."""


def alarms(
    state: StreamCounts, slot: int, touched: Ints, spread: Spread, budget: AlarmBudget,
    kinds: Ints,
) -> list[Candidate]:
    """Streams beyond their threshold at the end of a slot, the least likely by luck first.

    ``touched`` are the blocks that are new or have new faults; only their levels are looked at.
    """
    pace = slots_per_week(state.blocks.slot_start_us[: slot + 1])
    families = watched_families(state)
    n_kinds = int((state.kind_total > 0).sum())
    found = []
    for factor in state.counts:
        levels = np.unique(state.blocks.level[factor][touched])
        levels = levels[levels >= 0]
        if len(levels) == 0:
            continue
        alpha = {
            zoned: budget.per_stream(
                pace, family_share(factor, families, zoned=zoned),
                n_kinds * len(levels) * (len(ZONES) if zoned else 1),
            )
            for zoned in (False, True)
        }
        for stream, start in _suspects(state, factor, levels, slot, spread, kinds, alpha):
            judged = judge(state, stream, start, len(levels), spread)
            if judged.tail < alpha[stream.zone is not None] and judged.observed >= LEAST_FAULTS:
                found.append(judged)
    return sorted(found, key=lambda c: c.tail)


def watched_families(state: StreamCounts) -> list[tuple[str, bool]]:
    """Families of streams that are looked at: each factor, and with zones where it has them."""
    zoned = [(name, True) for name, counts in state.counts.items() if counts.zoned is not None]
    return [(name, False) for name in state.counts] + zoned


def _suspects(
    state: StreamCounts, factor: str, levels: Ints, slot: int, spread: Spread, kinds: Ints,
    alpha: dict[bool, float],
) -> Iterator[tuple[Stream, int]]:
    job = spread.sd["job"] ** 2
    recent = recent_counts(state, factor, levels, slot, kinds)
    fit = fit_windows(recent, GEOMETRIC_LENGTHS, spread.shape(factor), job)
    for level, kind, start in _beyond(fit, alpha[False]):
        yield Stream(kind=int(kinds[kind]), factor=factor, level=int(levels[level])), start
    if state.counts[factor].zoned is None:
        return
    for zone in range(len(ZONES)):
        recent = recent_counts(state, factor, levels, slot, kinds, zone)
        if recent.observed.sum() < LEAST_FAULTS:
            continue
        shape = prior_shape(spread, Stream(kind=0, factor=factor, level=0, zone=zone))
        fit = fit_windows(recent, GEOMETRIC_LENGTHS, shape, job)
        for level, kind, start in _beyond(fit, alpha[True]):
            yield Stream(
                kind=int(kinds[kind]), factor=factor, level=int(levels[level]), zone=zone
            ), start


def _beyond(fit: WindowFit, alpha: float) -> Iterator[tuple[int, int, int]]:
    """(level, kind, start slot) of the least likely window of each stream beyond alpha."""
    worth = (fit.gain > WORTH_A_LOOK) & (fit.observed >= LEAST_FAULTS)
    level, start, kind = np.nonzero(worth)
    if len(level) == 0:
        return
    at = (level, start, kind)
    tail: Floats = upper_tail(fit.observed[at], fit.mean[at], fit.variance[at])
    order = np.argsort(tail, kind="stable")
    seen: set[tuple[int, int]] = set()
    for i in order[tail[order] < alpha]:
        key = (int(level[i]), int(kind[i]))
        if key not in seen:
            seen.add(key)
            yield key[0], key[1], int(fit.start[start[i]])
