"""The alarm budget: so many false flags a week, shared out over the streams that are looked at.

Each slot of work may spend its part of the week's budget. The part is divided over the families
of streams (a factor, with or without zones) by what they are worth watching for, then over the
kinds of defect by how often they come, then evenly over the levels that worked in the slot; a
stream without traffic costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from qc.domain.instants import DAY_US
from qc.monitor.evidence import Floats, Ints

SCAN_GAIN = 0.55
"""Flags raised by luck over the tail probability that all streams may spend, with the shares of
`length_share` and `stream_worth`: looking at windows of many lengths costs; testing discrete
counts, levels that share their pieces, and what a past is asked for give back. Set so that shops
with and without a fault stay within the budget (`tests.benchmarks.planted`)."""

LONGEST_ALPHA = 0.01

FAMILY_WORTH = {
    "press": 5.0, "transfer_lot": 1.25, "operator": 1.5, "garment_lot": 1.0, "station": 0.5,
    "fabric": 2.25, "transfer": 1.25, "location": 0.75,
    "size": 0.25, "time_since_start": 0.25, "press_start": 0.25, "shop": 0.5,
}
ZONE_WORTH = 0.2
"""Weights of families in sharing the budget, so that what usually goes wrong is found about equally
often; found by trial in simulated shops (`tests.benchmarks.planted`), no source."""

MODERATE, LEAST_MONTHLY = 15.0, 1.0
"""Faults in four weeks at which a stream is worth a quarter of what a busy one is, and what one is
worth that has not had any yet. Proposed starting values, no source."""

WEEK_US = 7 * DAY_US
WEEKS_OF_WORTH = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmBudget:
    """False flags a week the shop will bear, over all streams."""

    false_flags_per_week: float

    def per_stream(self, slots_per_week: float, share: float, worth: Floats) -> Floats:
        """Tail probability at which each stream of a family may alarm at the end of one slot.

        ``share`` of the budget goes to the family, and is shared among its streams by their
        ``worth`` (of any shape).
        """
        spent = self.false_flags_per_week * share / (slots_per_week * SCAN_GAIN)
        return np.asarray(spent * worth / max(float(worth.sum()), 1e-9))


def stream_worth(monthly: Floats) -> Floats:
    """What streams are worth watching for, from the faults that four weeks usually bring them.

    Where hardly any come no change can be told from luck for a long time; the budget is better
    spent where it can.
    """
    return ((monthly + LEAST_MONTHLY) / (monthly + MODERATE)) ** 2


def length_share(length: Ints | int, n_lengths: int) -> Floats:
    """Factor on a stream's tail probability for windows of a length (slots).

    A window of many slots is looked at anew in each, but hardly changes: it may be tested at a
    tail probability in proportion to its length, and every length spends the same. In the manner
    of multiscale scans: Duembgen & Spokoiny (2001), Annals of Statistics 29, 124-152; Rivera &
    Walther (2013), Scandinavian Journal of Statistics 40, 752-769.
    """
    return np.asarray(length, dtype=np.float64) / n_lengths


def family_share(factor: str, families: Iterable[tuple[str, bool]], *, zoned: bool) -> float:
    """Part of the budget of one family among those watched, each (factor, with zones)."""
    total = sum(_worth(name, has_zones) for name, has_zones in families)
    return _worth(factor, zoned) / total


def _worth(factor: str, zoned: bool) -> float:
    return FAMILY_WORTH[factor] * (ZONE_WORTH if zoned else 1.0)


def slots_per_week(slot_start_us: Ints) -> float:
    """Slots with work in a week, over the (at most) eight weeks up to the last slot."""
    last = int(slot_start_us[-1])
    recent = slot_start_us[slot_start_us > last - 8 * WEEK_US]
    weeks = max((last - int(recent[0])) / WEEK_US, 1.0)
    return len(recent) / weeks
