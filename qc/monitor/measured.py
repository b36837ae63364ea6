"""Measured streams: shifts of readings, found as they come in.

At the end of each slot the mean of a stream since any start is held against the stream's own
past, which is itself uncertain. What crosses the limit is explained by the level that explains
it best, taken out, and looked at again; young explanations are looked at again as more comes in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import SLOT_US, Floats, Ints
from qc.monitor.measured_rivals import (
    COVERED,
    N_RIVALS,
    Alarms,
    Rival,
    alarms,
    back_since,
    explaining,
    rivals,
    stretch_of,
)
from qc.monitor.measured_shifts import Shift, effect_of, touched
from qc.monitor.measured_streams import Order, Sums
from qc.monitor.measured_stretch import Stretch, learn_stretch, whole
from qc.monitor.readings import Characteristic, Readings

MEASURED_SHARE = 0.1
"""Part of the alarm budget that measured streams may spend."""

LEAST_JOBS = 20
"""Jobs from which a usual spread can be told at all."""

GROWTH = 1.5
LARGEST_STEP = 8000
"""What is usual is learnt again after so much more, in readings at the most."""

LOOK_AGAIN = (1, 2, 3, 5, 8, 13, 21, 34, 55, 90)
"""Slots of work after its signal at which a shift's explanation is looked at again."""

MARGIN = 1.0
"""Log likelihood by which another explanation must be better to take the place of one given."""

END_GAIN = 9.0
"""Gain in log likelihood of "it has gone back" before a shift is called ended: it is asked at
every visit for as long as the shift lasts."""

END_COST = 3.0
"""What an explanation that has ended pays against one that goes on."""

ONE_CAUSE = 3.0
"""Log likelihood that one cause may lose against two and still be the likelier story."""

NEXT_TO = 2
ALONG = 0.8
"""A shifted job so many visits before another shift, in the same direction (cosine) and no larger,
is the job during which that one came about."""

STILL = 0.4
"""Part of a shift from which it goes on, changed, rather than has ended."""

MOST_AT_ONCE = 12
"""Times that alarms of one slot are explained, one after the other."""

CHUNK = 3000
"""Entries looked at in one go."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Watched:
    """The shifts of some characteristics, and their ``effect`` on each reading.

    ``final`` : the streams of all readings, with what was usual in the last stretch.
    """

    readings: Readings
    shifts: tuple[Shift, ...]
    effect: Floats
    final: Stretch | None


def find_shifts(
    readings: Readings, characteristics: tuple[Characteristic, ...], budget: AlarmBudget, *,
    as_of_us: int, n_groups: int,
) -> Watched:
    """Shifts of characteristics that are judged together, found slot by slot as they came in.

    ``n_groups`` : how many such groups share the measured part of the budget.
    """
    slots = np.unique(readings.seen_slot)
    slots = slots[(slots + 1) * SLOT_US <= as_of_us]
    watch = _Watch(readings, characteristics, slots)
    watch.run(budget.false_flags_per_week * MEASURED_SHARE / n_groups)
    return Watched(
        readings=readings, effect=watch.effect,
        shifts=tuple(sorted(watch.shifts, key=lambda s: (s.signalled, s.first))),
        final=watch.final() if watch.shifts else None,
    )


class _Watch:
    """Readings as they come in, the shifts found so far, and what is left without them."""

    def __init__(
        self, readings: Readings, characteristics: tuple[Characteristic, ...], slots: Ints
    ) -> None:
        self.readings, self.characteristics, self.slots = readings, characteristics, slots
        self.kind = characteristics[0].kind
        self.least = np.array([c.least for c in characteristics])
        self.stops = np.searchsorted(readings.seen_slot, slots, side="right")
        self.slot_of = np.searchsorted(slots, readings.seen_slot)
        self.effect = np.zeros_like(readings.value)
        self.shifts: list[Shift] = []
        self.order = Order.of(readings)
        self.stretch: Stretch | None = None
        self._sums: Sums | None = None

    def run(self, budget: float) -> None:
        """Go through all slots; ``budget`` in false flags a week."""
        at = self._first_slot()
        if at >= len(self.slots):
            return
        while at < len(self.slots):
            known = int(self.stops[at])
            enough = min(known * GROWTH, known + LARGEST_STEP)
            until = min(max(int(np.searchsorted(self.stops, enough)), at + 1), len(self.slots))
            self.stretch = learn_stretch(
                self.readings, self.characteristics, self.order, self.effect, n_seen=known,
                until=int(self.stops[until - 1]), budget=budget,
            )
            self._sums = None
            self._watch(self.stretch, at, until)
            at = until

    def final(self) -> Stretch | None:
        """The last stretch, over all readings that were looked at."""
        if self.stretch is None:
            return None
        return whole(self.stretch, self.order, int(self.stops[-1]))

    def _first_slot(self) -> int:
        new = np.zeros(len(self.readings), dtype=np.int64)
        new[np.unique(self.readings.job, return_index=True)[1]] = 1
        n_jobs = np.concatenate([[0], np.cumsum(new)])[self.stops]
        return int(np.searchsorted(n_jobs, LEAST_JOBS))

    def _watch(self, stretch: Stretch, at: int, until: int) -> None:
        """The slots from ``at`` to ``until``, from one in which something happens to the next."""
        while at < until:
            slot = self._next_event(stretch, at, until)
            if slot is None:
                return
            self._handle(stretch, slot)
            at = slot + 1

    def _left(self, stretch: Stretch) -> Sums:
        """Running sums without the shifts found so far."""
        if self._sums is None:
            self._sums = stretch.sums(self.effect)
        return self._sums

    def _add(self, shift: Shift, sign: int) -> None:
        """Add a shift to what is taken out of the readings, or (sign -1) take it away again."""
        self.effect += sign * effect_of(self.readings, shift)
        self._sums = None

    # -- what happens next -------------------------------------------------------------------------

    def _next_event(self, stretch: Stretch, at: int, until: int) -> int | None:
        layout, sums = stretch.layout, self._left(stretch)
        due = [s for s in (self._due(shift, at) for shift in self._open()) if s is not None]
        endings = [self._ending(sums, shift, at) for shift in self._open()]
        due += [ending[0] for ending in endings if ending is not None]
        until = min([until, *(s + 1 for s in due)])
        slot = self.slot_of[layout.reading]
        rows = np.flatnonzero(layout.slot_last & (slot >= at) & (slot < until))
        rows = rows[np.argsort(slot[rows], kind="stable")]
        for begin in range(0, len(rows), CHUNK):
            found = alarms(stretch, sums, rows[begin : begin + CHUNK], self.least)
            if len(found.entry):
                return int(slot[found.entry].min())
        return min(due) if due and min(due) < until else None

    def _open(self) -> list[Shift]:
        return [shift for shift in self.shifts if shift.is_open]

    def _due(self, shift: Shift, at: int) -> int | None:
        """The slot at which a young shift is looked at again, if that is not over."""
        while shift.looks < len(LOOK_AGAIN):
            slot = shift.looked_from + LOOK_AGAIN[shift.looks]
            if slot >= at:
                return slot
            shift.looks += 1
        return None

    def _ending(self, sums: Sums, shift: Shift, at: int) -> tuple[int, int] | None:
        """The first slot from ``at`` on in which a shift is seen to have gone back, and the last
        reading of the shift."""
        layout = sums.layout
        mine = layout.visits(shift.stream)
        reading = layout.reading[mine]
        first = mine.start + int(np.searchsorted(reading, shift.steps[-1][0]))
        slot = self.slot_of[reading]
        rows = mine.start + np.flatnonzero(
            layout.slot_last[mine] & (slot >= max(at, shift.signalled_slot + 1))
        )
        rows = rows[rows > first]
        if len(rows) == 0:
            return None
        gain, begin = back_since(sums, rows, first, shift.shift)
        over = np.flatnonzero(gain >= END_GAIN)
        if len(over) == 0:
            return None
        row = over[0]
        last = int(layout.reading[begin[row] - 1])
        return int(self.slot_of[layout.reading[rows[row]]]), last

    # -- doing something about it ------------------------------------------------------------------

    def _handle(self, stretch: Stretch, slot: int) -> None:
        for shift in self._open():
            if shift.absorbed:  # by one that was reconsidered just now
                continue
            ending = self._ending(self._left(stretch), shift, slot)
            if ending is not None and ending[0] == slot:
                self._change(shift, end=ending[1])
                if self._is_young(shift, slot):
                    self._reconsider(stretch, shift, slot)
        for shift in self._open():
            if shift.is_open and self._due(shift, slot) == slot:
                shift.looks += 1
                self._reconsider(stretch, shift, slot)
        layout = stretch.layout
        rows = np.flatnonzero(layout.slot_last & (self.slot_of[layout.reading] == slot))
        tried: set[int] = set()
        for _ in range(MOST_AT_ONCE):
            found = alarms(stretch, self._left(stretch), rows, self.least)
            if len(found.entry) == 0:
                return
            self._explain(stretch, slot, found, tried)

    def _change(
        self, shift: Shift, *, end: int | None = None,
        steps: list[tuple[int, Floats]] | None = None, best: Rival | None = None,
    ) -> None:
        """Change a shift and what it takes out of the readings; with ``best`` it is open again."""
        self._add(shift, -1)
        if best is not None:
            shift.factor, shift.level, shift.stream = best.factor, best.level, best.stream
            shift.end, shift.steps = None, [(best.start, best.shift)]
        shift.end = end if end is not None else shift.end
        shift.steps = steps if steps is not None else shift.steps
        self._add(shift, 1)

    def _explain(self, stretch: Stretch, slot: int, found: Alarms, tried: set[int]) -> None:
        """Let a young shift account for an alarm, change one of its stream, or make a new one."""
        for old in self.shifts:
            if not old.absorbed and self._is_young(old, slot) and id(old) not in tried:
                tried.add(id(old))
                self._reconsider(stretch, old, slot)
                if self._sums is None:  # something has changed: is the alarm still there?
                    return
        sums, n_seen = self._left(stretch), int(self.stops[slot])
        layout, begin, entry = stretch.layout, int(found.begin[0]), int(found.entry[0])
        share = np.zeros(len(self.readings), dtype=bool)
        share[layout.reading[begin : entry + 1]] = True
        able = rivals(
            stretch, sums, share, n_seen=n_seen, latest=n_seen, kind=self.kind, least=self.least
        )
        fitting = explaining(able, stretch, sums, found) or able[:1]
        best = fitting[0]
        known = next((s for s in self._open() if s.stream == best.stream), None)
        if known is not None:
            self._revise(known, best, slot)
            return
        shift = Shift(
            first=(best.factor, best.level), factor=best.factor, level=best.level,
            stream=best.stream, signalled=n_seen - 1, signalled_slot=slot, rivals=fitting,
            steps=[(best.start, best.shift)], looked_from=slot,
        )
        self.shifts.append(shift)
        self._add(shift, 1)

    def _is_young(self, shift: Shift, slot: int) -> bool:
        return slot - shift.signalled_slot <= LOOK_AGAIN[-1]

    def _revise(self, old: Shift, news: Rival, slot: int) -> None:
        """The stream of an open shift stands out again: it has grown, shrunk, or ended."""
        before, total = old.shift, old.shift + news.shift
        main = int(np.argmax(np.abs(before) / self.least))
        goes_on = total[main] / before[main] >= STILL
        if news.start <= old.start:
            self._change(old, steps=[(news.start, total)])
        elif goes_on:
            self._change(old, steps=[*old.steps, (news.start, news.shift)])
            old.looks, old.looked_from = 0, slot
        else:
            mine = np.flatnonzero(self.readings.level[old.factor] == old.level)
            last = int(mine[np.searchsorted(mine, news.start) - 1])
            self._change(old, end=max(last, old.start))

    def _reconsider(self, stretch: Stretch, shift: Shift, slot: int) -> bool:
        """Explain a young shift anew with what has come since; True if another level did better."""
        if shift.start < stretch.part.start:
            return False
        if len(shift.steps) > 1:
            self._settle(stretch, shift, slot)
        sums = stretch.sums_around(self.effect, effect_of(self.readings, shift))
        found = self._rivals(stretch, sums, [shift], slot)
        mine = next((r for r in found if r.stream == shift.stream), None)
        if shift.end is not None or len(shift.steps) > 1:
            mine = self._as_it_is(stretch, sums, shift, slot)
        if self._joined(stretch, shift, 0.0 if mine is None else mine.score, slot):
            return True
        if not found or mine is None or len(shift.steps) > 1:
            return False
        best = found[0] if found[0].score > mine.score + MARGIN else mine
        if best is mine and shift.end is not None:
            return False
        shift.rivals = [best, *(r for r in found if r.stream != best.stream)][:N_RIVALS]
        twin = next((s for s in self._open() if s.stream == best.stream and s is not shift), None)
        if twin is not None:
            return self._merge(stretch, shift, twin, slot, least=-np.inf)
        self._change(shift, best=best)
        return best is not mine

    def _rivals(
        self, stretch: Stretch, sums: Sums, of: list[Shift], slot: int
    ) -> list[Rival]:
        """Explanations of what shifts explain, that began before the first was signalled."""
        n_seen = int(self.stops[slot])
        share = np.any([touched(self.readings, shift) for shift in of], axis=0)
        share[n_seen:] = False
        share[: stretch.part.start] = False
        return rivals(
            stretch, sums, share, n_seen=n_seen, latest=min(shift.signalled for shift in of),
            kind=self.kind, least=self.least,
        )

    def _as_it_is(
        self, stretch: Stretch, sums: Sums, shift: Shift, slot: int
    ) -> Rival | None:
        """The explanation a shift has now; one that has ended pays for that."""
        last = int(self.stops[slot]) - 1 if shift.end is None else shift.end
        found = stretch_of(stretch, sums, shift.stream, shift.start, last, kind=self.kind)
        if found is None or shift.end is None:
            return found
        return replace(found, score=found.score - END_COST)

    def _joined(self, stretch: Stretch, shift: Shift, score: float, slot: int) -> bool:
        """Does another shift explain this one too, if it is taken to have begun with it?"""
        mine = touched(self.readings, shift)
        mine[int(self.stops[slot]) :] = False
        for other in self._open():
            level = self.readings.level[other.factor][mine]
            inside = len(level) > 0 and (level == other.level).mean() >= COVERED
            if other is shift or not inside or len(other.steps) > 1:
                continue
            if self._half_way(stretch, shift, other):
                self._hand_over(shift, other)
                return True
            around = stretch.sums_around(self.effect, effect_of(self.readings, other))
            alone = self._as_it_is(stretch, around, other, slot)
            if alone is not None and self._merge(
                stretch, shift, other, slot, least=alone.score + score - ONE_CAUSE
            ):
                return True
        return False

    def _half_way(self, stretch: Stretch, shift: Shift, other: Shift) -> bool:
        """Is this the job during which the other shift came about, part of it before?"""
        if shift.factor != "job" or len(shift.steps) > 1:
            return False
        mine = stretch.layout.visits(other.stream)
        reading = stretch.layout.reading[mine]
        of_job = np.flatnonzero(self.readings.job[reading] == self.readings.job[shift.start])
        start = int(np.searchsorted(reading, other.start))
        if len(of_job) == 0 or not start - NEXT_TO <= of_job[-1] < start:
            return False
        part, whole = shift.shift / self.least, other.steps[0][1] / self.least
        size, full = np.linalg.norm(part), np.linalg.norm(whole)
        return bool(size < 1.2 * full and part @ whole > ALONG * size * full)

    def _hand_over(self, shift: Shift, other: Shift) -> None:
        """Count a shift as part of the other from now on: the earlier signal stands."""
        if shift.signalled < other.signalled:
            shift.first, other.first = other.first, shift.first
            shift.signalled, other.signalled = other.signalled, shift.signalled
            shift.signalled_slot, other.signalled_slot = (
                other.signalled_slot, shift.signalled_slot)
        shift.absorbed = True

    def _merge(
        self, stretch: Stretch, shift: Shift, other: Shift, slot: int, *, least: float
    ) -> bool:
        """Make one shift of two, in the other's stream, if that reaches a score: the earlier
        signal stands."""
        own = effect_of(self.readings, shift) + effect_of(self.readings, other)
        sums = stretch.sums_around(self.effect, own)
        found = self._rivals(stretch, sums, [shift, other], slot)
        joint = next((r for r in found if r.stream == other.stream), None)
        if joint is None or joint.score < least:
            return False
        keep, gone = (shift, other) if shift.signalled <= other.signalled else (other, shift)
        self._add(gone, -1)
        gone.absorbed, gone.steps = True, []
        keep.rivals = [joint, *(r for r in found if r is not joint)][:N_RIVALS]
        self._change(keep, best=joint)
        return True

    def _settle(self, stretch: Stretch, shift: Shift, slot: int) -> None:
        """Measure the last step of a shift again."""
        start, delta = shift.steps[-1]
        last = int(self.stops[slot]) - 1
        left = stretch_of(
            stretch, self._left(stretch), shift.stream, start, last, kind=self.kind
        )
        if left is not None and shift.is_open:
            self._change(shift, steps=[*shift.steps[:-1], (start, delta + left.shift)])
