"""A stretch of slots with what was usual when it began: what is judged until one learns anew."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.monitor.budget import WEEK_US
from qc.monitor.evidence import SLOT_US, Floats, Ints
from qc.monitor.measured_limit import limits_of
from qc.monitor.measured_streams import (
    LONGEST,
    Layout,
    Order,
    Sums,
    Weights,
    running_sums,
    weights_of,
)
from qc.monitor.measured_usual import Usual, learn_usual
from qc.monitor.readings import FACTORS_OF, Characteristic, Readings

REMEMBERED = 12_000
"""Readings that what is usual rests on; more would say nothing new and cost time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stretch:
    """Readings ``part``, the streams they lie in, and what was usual when they began.

    ``base`` : their usual places. ``limit`` of T2 and ``n_levels`` seen, by factor number.
    """

    readings: Readings
    part: slice
    layout: Layout
    usual: Usual
    weights: Weights
    base: Floats
    limit: Floats
    n_levels: Ints

    def sums(self, effect: Floats) -> Sums:
        """Running sums of all streams, without the ``effect`` of shifts on each reading."""
        return self.sums_around(effect, None)

    def sums_around(self, effect: Floats, own: Floats | None) -> Sums:
        """The same with the effect of some shifts put back, slips told from what is left first."""
        left = np.zeros_like(effect)
        left[self.part] = self.readings.value[self.part] - effect[self.part] - self.base
        return running_sums(
            self.layout, self.usual, left, self.weights, self.readings.n, put_back=own
        )


def learn_stretch(
    readings: Readings, characteristics: tuple[Characteristic, ...], order: Order, effect: Floats,
    *, n_seen: int, until: int, budget: float,
) -> Stretch:
    """What the first ``n_seen`` readings say is usual, for judging them up to reading ``until``.

    ``budget`` : false flags a week of all these streams together; factors share it evenly.
    """
    low = max(0, n_seen - REMEMBERED)
    now_us = int(readings.seen_slot[n_seen - 1] + 1) * SLOT_US
    usual = learn_usual(
        readings, readings.value - effect, characteristics, slice(low, n_seen)
    )
    layout = order.between(low, until)
    known = layout.reading < n_seen
    a_week = _visits_a_week(readings, layout, known, now_us)
    least = np.array([c.least for c in characteristics])
    measured = (readings.n[low:n_seen] > 0).any(axis=0)
    share = budget / len(FACTORS_OF[characteristics[0].kind])
    limit = limits_of(
        share / np.maximum(a_week, 1.0), n_directions=int(measured.sum()), longest=LONGEST,
        least_shift=float((least / usual.sigma)[measured].min()), degrees=usual.degrees,
    )
    seen = np.zeros(len(layout.level), dtype=bool)
    seen[layout.stream[known]] = True
    return Stretch(
        readings=readings, part=slice(low, until), layout=layout, usual=usual,
        weights=weights_of(layout, usual, readings), limit=limit,
        base=usual.place(readings, slice(low, until)),
        n_levels=np.bincount(layout.factor[seen], minlength=len(layout.names)),
    )


def _visits_a_week(
    readings: Readings, layout: Layout, known: np.ndarray, now_us: int
) -> Floats:
    """Visits of each factor in a week, over the (at most) eight weeks before now."""
    seen = readings.seen_slot[layout.reading] * SLOT_US
    since = max(now_us - 8 * WEEK_US, int(seen[known].min()))
    weeks = max((now_us - since) / WEEK_US, 1.0)
    counted = known & (seen >= since)
    factor = layout.factor[layout.stream[counted]]
    return np.bincount(factor, minlength=len(layout.names)) / weeks


def whole(stretch: Stretch, order: Order, n_seen: int) -> Stretch:
    """The same usual places and spreads over all readings so far, also those long past."""
    layout = order.between(0, n_seen)
    return replace(
        stretch, part=slice(0, n_seen), layout=layout,
        weights=weights_of(layout, stretch.usual, stretch.readings),
        base=stretch.usual.place(stretch.readings, slice(0, n_seen)),
    )
