"""From the first record to the last: learn, look, explain, look again.

The shop is replayed slot by slot. What is known at a slot is what had been seen by then, so that
running over the whole history and feeding records as they come give the same flags.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.domain.baselines import BaselineDecision
from qc.domain.instants import DAY_US
from qc.monitor.alarms import Thresholds, alarms, is_signal
from qc.monitor.attribution import Candidate, candidates, judge
from qc.monitor.budget import AlarmBudget
from qc.monitor.buffer import WINDOW
from qc.monitor.changes import Change, Knowledge, explains_alarm, look_for_end, refresh_ratio
from qc.monitor.dispersion import DEFAULT_SD, FITTED_SD
from qc.monitor.evidence import SLOT_US, Evidence, Ints
from qc.monitor.explaining import Pick, best_causes, parts_of_one, was_another, whole_cause
from qc.monitor.numbering import Reader
from qc.monitor.slots import SlotEntries, SlotFeed
from qc.monitor.spreads import spread_of
from qc.monitor.streams import Explained, Period, StreamCounts
from qc.monitor.windows import Spread, Stream

REFIT_DAYS = ((7, 0.5), (14, 1.0), (28, 3.0), (10**6, 7.0))
"""Up to so many days of history the usual rates are fitted again every so many days."""

WARM_UP_PIECES = 500
WARM_UP_DAYS = 10
"""Nothing is flagged before so much is known."""

MORE_SINCE = 0.5
"""A change is attributed anew when so much more has come since its signal than the last time."""

AGREED_WITHIN_US = 5 * DAY_US
"""A change dated so long before an agreed one, or later, may be that one: dates are estimates."""

STILL_A_RISE = 1.4
"""What an open change must still come to by the rates of a new baseline."""

HIDDEN_PART, LATELY = 0.5, 8
"""A cause that others hid may spend so much of what its stream may, since it is looked at twice,
and must have been at work within so many slots. Proposed values, no source."""

MOST_ALARMS = 12
"""Alarms that are explained at the end of one slot; the rest waits for the next."""

FADING_GAIN = 3.0
"""Gain in log likelihood that a change may lose and still be explained anew."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What the replay ended with. ``fitted_slot``: the last slot the usual rates were fitted at."""

    evidence: Evidence
    reader: Reader
    state: StreamCounts
    changes: tuple[Change, ...]
    spread: Spread
    baseline_us: tuple[int, int]

    @property
    def last_slot(self) -> int:
        return self.state.n_slots - 1


def replay(
    evidence: Evidence, budget: AlarmBudget, *, as_of_us: int,
    baselines: tuple[BaselineDecision, ...] = (),
) -> Outcome | None:
    """Replay the records up to a moment; None when no slot of work has ended by then."""
    if len(evidence.n) == 0 or not evidence.kinds:
        return None
    watch = Watch(evidence.kinds, budget, baselines)
    watch.catch_up(evidence, as_of_us=as_of_us)
    return watch.outcome(evidence)


class Watch:
    """The shop as it is watched, slot by slot; it may be fed the whole history or what is new."""

    def __init__(
        self, kinds: tuple[str, ...], budget: AlarmBudget,
        baselines: tuple[BaselineDecision, ...] = (),
    ) -> None:
        self.budget = budget
        self.baselines = sorted(baselines, key=lambda b: b.decided_at_us)
        self.changes: list[Change] = []
        periods = (
            Period(), *(Period(from_us=b.from_us, until_us=b.until_us) for b in self.baselines)
        )
        self.state = StreamCounts(kinds, self.changes, periods)
        self.spread = Spread(sd=DEFAULT_SD | FITTED_SD)
        self.fitted_slot = -1
        self.period = 0
        self._thresholds: Thresholds | None = None

    def catch_up(self, evidence: Evidence, *, as_of_us: int) -> None:
        """Take in every slot that has ended by a moment and comes after those known already.

        The evidence must hold all that was seen in those slots; kinds beyond those of the watch
        are an error.
        """
        feed, reader = SlotFeed(evidence), Reader(evidence, self.state.numbers)
        known = self.state.slot_start_us[-1] // SLOT_US if self.state.slot_start_us else -1
        for slot in feed.slots[(feed.slots > known) & ((feed.slots + 1) * SLOT_US <= as_of_us)]:
            self.take_in(feed.entries(int(slot)), reader)

    def take_in(self, entries: SlotEntries, reader: Reader) -> None:
        """Take in the slot after those known: learn, look, explain, look again."""
        rows = self.state.advance(entries, reader)
        if self._refit_due():
            self._refit()
        if self.fitted_slot < 0 or len(rows) == 0:
            return
        self._thresholds = Thresholds(self.state, rows, self.budget)
        self._follow()
        if self._is_warm():
            self._look(rows, self._thresholds)

    def outcome(self, evidence: Evidence) -> Outcome | None:
        """What is known now, of evidence that holds everything; None before the first slot."""
        if self.state.n_slots == 0:
            return None
        self._finish()
        starts = self.state.slot_start_us
        begin = self.state.period.from_us
        first = starts[0] if begin is None else max(begin, starts[0])
        return Outcome(
            evidence=evidence, reader=Reader(evidence, self.state.numbers), state=self.state,
            changes=tuple(self.changes), spread=self.spread,
            baseline_us=(first, starts[self.fitted_slot]),
        )

    # -- one slot --------------------------------------------------------------------------------

    @property
    def slot(self) -> int:
        """The newest slot."""
        return self.state.n_slots - 1

    def _is_warm(self) -> bool:
        starts = self.state.slot_start_us
        begin = max(starts[0], self.state.period.from_us or starts[0])
        days = (starts[-1] - begin) / DAY_US
        return bool(self.state.n_pieces >= WARM_UP_PIECES and days >= WARM_UP_DAYS)

    def _finish(self) -> None:
        """Explain what is still open once more, with all that is known now."""
        self._thresholds = None  # no new signal without a new slot
        for kind in sorted({c.kind for c in self._near() if c.attributed < self.slot}):
            self._explain_anew(kind)

    def _look(self, rows: Ints, thresholds: Thresholds) -> None:
        kinds = np.arange(len(self.state.kinds))
        looked_at: set[Stream] = set()
        while len(looked_at) < MOST_ALARMS:
            found = alarms(self.state, rows, self.spread, thresholds, kinds)
            new = [c for c in found if c.stream not in looked_at]
            if not new:
                return
            looked_at.add(new[0].stream)
            kind = self._explain(new[0])
            kinds = np.unique([c.stream.kind for c in found] + [kind])

    # -- learning --------------------------------------------------------------------------------

    def _period_now(self) -> int:
        """The baseline decision in force at the end of the slot; 0 is all there is."""
        now = self.state.slot_start_us[-1] + SLOT_US
        return sum(decision.decided_at_us <= now for decision in self.baselines)

    def _refit_due(self) -> bool:
        if self.fitted_slot < 0 or self._period_now() != self.period:
            return True
        starts = self.state.slot_start_us
        history = (starts[-1] - starts[0]) / DAY_US
        since = (starts[-1] - starts[self.fitted_slot]) / DAY_US
        return bool(since >= next(every for upto, every in REFIT_DAYS if history <= upto))

    def _refit(self) -> None:
        if self._period_now() != self.period:
            self.period = self._period_now()
            self._accept(self.baselines[self.period - 1].agreed_us)
            self.state.refit(self.period)
            self._hold_against_new_rates()
        self.state.refit(self.period)
        self.spread = spread_of(self.state)
        self.fitted_slot = self.slot

    def _accept(self, agreed_us: tuple[int, ...]) -> None:
        """What was signalled since something was changed on purpose, and did not clearly begin
        before, is part of what is usual from this decision on."""
        if agreed_us:
            since = max(agreed_us)
            for change in self.changes:
                begun = self.state.slot_start_us[self._begun(change)]
                signalled = self.state.slot_end_us(change.signalled)
                if signalled > since and begun >= since - AGREED_WITHIN_US:
                    change.agree(self.slot)
        self.state.changes = self._unusual()

    def _hold_against_new_rates(self) -> None:
        """End what is no rise any more by the rates of the new baseline."""
        for change in self._open():
            refresh_ratio(self.state, change)
            if change.ratio < STILL_A_RISE:
                change.end, change.ratio = self.slot, 1.0

    def _unusual(self) -> list[Change]:
        """Changes that do not count as usual."""
        return [c for c in self.changes if not c.agreed]

    def _begun(self, change: Change) -> int:
        """The slot of the first pieces of a change."""
        return max(change.start, int(self.state.first_slot[change.row]))

    # -- following what is known -------------------------------------------------------------------

    def _open(self) -> list[Change]:
        return [c for c in self.changes if c.end is None]

    def _near(self) -> list[Change]:
        """Changes of which all records are still at hand."""
        return [c for c in self._unusual()
                if c.part_of is None and self.slot - self._begun(c) < WINDOW]

    def _is_due(self, change: Change) -> bool:
        known, now = change.attributed - change.signalled, self.slot - change.signalled
        return now >= max((1 + MORE_SINCE) * known, known + 1)

    def _follow(self) -> None:
        for kind in sorted({c.kind for c in self._near() if self._is_due(c)}):
            self._explain_anew(kind)
        for change in self._open():
            moved = refresh_ratio(self.state, change)
            if look_for_end(self.state, change, self.spread.sd["job"] ** 2):
                refresh_ratio(self.state, change)
                moved = True
            if moved:
                self.state.rebuild(np.array([change.kind]))

    # -- explaining --------------------------------------------------------------------------------

    def _explain(self, alarm: Candidate) -> int:
        """Make a change of an alarm, or let it correct those found before; its kind."""
        change = Change(
            alarm=alarm, first=alarm.stream, stream=alarm.stream, start=alarm.start,
            signalled=self.slot, rivals=[alarm], ratio=max(alarm.ratio, 1.0), attributed=self.slot,
        )
        self._explain_anew(change.kind, change)
        return change.kind

    def _explain_anew(self, kind: int, new: Change | None = None) -> None:
        """Explain what is open of a kind, and a new alarm, from the beginning: with what has come
        since, one cause may take the place of two, or another the place of the first."""
        near = [c for c in self._near() if c.kind == kind]
        for change in near:
            change.attributed = self.slot
        mine = [c for c in near if self._is_in_question(c)]
        earlier = [c for c in near if c not in mine]
        mine += [] if new is None else [new]
        if not mine:
            return
        others = [c for c in self._unusual() if c not in mine]
        picks = best_causes(
            self.state, kind, others, self.spread, held=[c.stream for c in mine],
            signals=self._would_signal,
        )
        for row, parts in parts_of_one(self.state, picks, earlier).items():
            known: list[Explained] = [*others, *picks]
            rest = [c for c in known if c not in parts]
            whole = whole_cause(self.state, kind, row, parts, rest, self.spread)
            if whole is not None:
                picks = [*(p for p in picks if p not in parts), whole]
                mine += [c for c in earlier if c in parts]
                others = [c for c in others if c not in mine]
        self.state.changes = others
        self.state.rebuild(np.array([kind]))
        self._assign(mine, picks, new)
        self.state.changes = self._unusual()
        self.state.rebuild(np.array([kind]))

    def _is_in_question(self, change: Change) -> bool:
        """May a change have another cause than the one it was put down to?

        One that is over, or has begun to lose its evidence, was put right: what is known of its
        cause from before is better than what is seen now, unless another cause explains it better
        now than its own ever did.
        """
        state = self.state
        state.changes = [c for c in self._unusual() if c is not change]
        state.rebuild(np.array([change.kind]))
        if change.end is not None:
            asked = was_another(state, change, self.spread)
        else:
            now = judge(state, change.stream, change.start, 1, self.spread, state.told())
            asked = now.gain >= change.peak - FADING_GAIN or any(
                c.score > change.peak_score and explains_alarm(state, change, c)
                for c in candidates(state, change.kind, self.spread) if c.stream != change.stream
            )
        state.changes = self._unusual()
        return asked

    def _assign(self, mine: list[Change], picks: list[Pick], new: Change | None) -> None:
        """Give each change the cause that accounts for its alarm, the same one if it can be."""
        free, left = list(picks), sorted(mine, key=lambda c: c.signalled)
        taken: list[tuple[Change, Candidate]] = []
        for same in (True, False):
            for change in list(left):
                fitting = [
                    p for p in free
                    if (not same or p.best.stream == change.stream)
                    and explains_alarm(self.state, change, p.best)
                ]
                if fitting:
                    pick = max(fitting, key=lambda p: p.best.score)
                    free.remove(pick)
                    left.remove(change)
                    self._adopt(change, pick)
                    taken.append((change, pick.best))
        for change in left:
            known = [c for c, best in taken if explains_alarm(self.state, change, best)]
            if not known:
                best = self._beside(change, picks)
                self._adopt(change, Pick(best=best, found=[best]))
                taken.append((change, best))
            elif change is not new:
                change.join(known[0], self.slot)
        if new is not None and any(change is new for change, _ in taken):
            new.first = new.stream
            self.changes.append(new)
        for pick in free:
            if self._would_signal(pick.best):
                self._begin(pick)

    def _begin(self, pick: Pick) -> None:
        """A change that others hid until now: a signal of its own beside them."""
        best = pick.best
        change = Change(
            alarm=best, first=best.stream, stream=best.stream, start=best.start,
            signalled=self.slot, rivals=[best], attributed=self.slot,
        )
        self._adopt(change, pick)
        self.changes.append(change)

    def _would_signal(self, candidate: Candidate) -> bool:
        """May a cause raise a flag by itself now, beside others that share pieces with it?"""
        state, stream = self.state, candidate.stream
        lately = slice(max(state.n_slots - LATELY - state.base, 0), state.n_slots - state.base)
        return (
            self._thresholds is not None
            and bool(state.buffer.expected[stream.kind, stream.row, lately].any())
            and is_signal(state, candidate, self._thresholds, part=HIDDEN_PART)
        )

    def _beside(self, change: Change, picks: list[Pick]) -> Candidate:
        """A change for which nothing better was found, judged beside what was."""
        state = self.state
        others = state.changes
        state.changes = [*others, *picks]
        state.rebuild(np.array([change.kind]))
        best = judge(state, change.stream, change.start, 1, self.spread)
        state.changes = others
        state.rebuild(np.array([change.kind]))
        return replace(best, score=change.peak_score or best.score)

    def _adopt(self, change: Change, pick: Pick) -> None:
        best = pick.best
        same = best.stream == change.stream
        change.end = change.end if same else None
        change.peak = max(change.peak, best.gain) if same else best.gain
        change.peak_score = max(change.peak_score, best.score) if same else best.score
        rivals = [c for c in pick.found if c is best or explains_alarm(self.state, change, c)]
        change.stream, change.start, change.ratio = best.stream, best.start, pick.ratio
        change.rivals = sorted(rivals, key=lambda c: c is not best)
        change.known.append(
            Knowledge(slot=self.slot, start=best.start, rivals=tuple(change.rivals))
        )
