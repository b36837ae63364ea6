"""The evidence slot by slot, in the order it was seen.

A slot's entries are the units first seen in it, and again (without pieces) older units in which a
fault was only now seen. Nothing here looks beyond the slot, so that what is known at a slot's end
does not depend on what came after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.monitor.evidence import SLOT_US, Evidence, Floats, Ints


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SlotEntries:
    """What was seen in one slot: ``unit`` with ``n`` new pieces each; faults by position in
    ``unit``."""

    start_us: int
    unit: Ints
    n: Floats
    fault_at: Ints
    fault_kind: Ints
    fault_n: Floats
    zoned_at: Ints
    zoned_kind: Ints
    zoned_zone: Ints
    zoned_n: Floats


class SlotFeed:
    """Entries of every slot with work."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self._unit_slot = np.maximum(evidence.seen_us, evidence.pressed_us) // SLOT_US
        self._fault_slot = _not_before(evidence.fault_seen_us, evidence.fault_unit, self._unit_slot)
        self._zoned_slot = _not_before(evidence.zoned_seen_us, evidence.zoned_unit, self._unit_slot)
        self._units, self._faults, self._zoned = (
            np.argsort(slot, kind="stable")
            for slot in (self._unit_slot, self._fault_slot, self._zoned_slot)
        )
        self._sorted = tuple(
            slot[order] for slot, order in (
                (self._unit_slot, self._units), (self._fault_slot, self._faults),
                (self._zoned_slot, self._zoned),
            )
        )
        self.slots = np.unique(np.concatenate([self._sorted[0], self._sorted[1]]))
        """Numbers of the slots with work, counted from 1970."""

    def entries(self, slot: int) -> SlotEntries:
        """What was seen in a slot (one of ``slots``)."""
        e = self.evidence
        new, faults, zoned = (
            order[np.searchsorted(by, slot, "left") : np.searchsorted(by, slot, "right")]
            for order, by in zip(
                (self._units, self._faults, self._zoned), self._sorted, strict=True
            )
        )
        faulty = np.concatenate([e.fault_unit[faults], e.zoned_unit[zoned]])
        late = np.unique(faulty[self._unit_slot[faulty] != slot])
        unit = np.sort(np.concatenate([new, late])) if len(late) else new
        n = np.where(self._unit_slot[unit] == slot, e.n[unit], 0.0)
        return SlotEntries(
            start_us=int(slot) * SLOT_US, unit=unit, n=n,
            fault_at=np.searchsorted(unit, e.fault_unit[faults]), fault_kind=e.fault_kind[faults],
            fault_n=e.fault_n[faults],
            zoned_at=np.searchsorted(unit, e.zoned_unit[zoned]), zoned_kind=e.zoned_kind[zoned],
            zoned_zone=e.zoned_zone[zoned], zoned_n=e.zoned_n[zoned],
        )


def _not_before(seen_us: Ints, unit: Ints, unit_slot: Ints) -> Ints:
    return np.maximum(seen_us // SLOT_US, unit_slot[unit])
