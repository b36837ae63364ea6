"""From the first record to the last: learn, look, explain, look again.

The shop is replayed slot by slot. What is known at a slot is what had been seen by then, so that
running over the whole history and feeding records as they come give the same flags.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from qc.domain.baselines import BaselineDecision
from qc.domain.instants import DAY_US
from qc.monitor.alarms import alarms
from qc.monitor.attribution import Candidate, candidates, judge, likeliest
from qc.monitor.budget import AlarmBudget
from qc.monitor.buffer import WINDOW
from qc.monitor.changes import Change, Knowledge, explains_alarm, look_for_end, refresh_ratio
from qc.monitor.dispersion import (
    DEFAULT_SD,
    FITTED_SD,
    JOB_OUTLIER_SHARE,
    LEAST_MEAN,
    between_levels_sd,
)
from qc.monitor.evidence import SLOT_US, Evidence, Floats, Ints, sum_by
from qc.monitor.slots import SlotEntries, SlotFeed
from qc.monitor.streams import FACTORS, Explained, Period, Reader, StreamCounts
from qc.monitor.usual import left_out
from qc.monitor.windows import Spread, Stream

REFIT_DAYS = ((7, 0.5), (14, 1.0), (28, 3.0), (10**6, 7.0))
"""Up to so many days of history the usual rates are fitted again every so many days."""

WARM_UP_PIECES = 500
WARM_UP_DAYS = 10
"""Nothing is flagged before so much is known."""

ATTRIBUTE_AFTER = frozenset({1, 2, 3, 4, 6, 8, 11, 15, 20, 27, 36, 48, 64})
"""Slots after the signal at which a change is attributed anew, with what has come since."""

AGREED_WITHIN_US = 5 * DAY_US
"""A change dated so long before an agreed one, or later, may be that one: dates are estimates."""

STILL_A_RISE = 1.4
"""What an open change must still come to by the rates of a new baseline."""

MOST_ALARMS = 12
"""Alarms that are explained at the end of one slot; the rest waits for the next."""

FADING_GAIN = 3.0
"""Gain in log likelihood that a change may lose and still be explained anew."""

ALSO_TAIL = 1e-4
"""A second cause beside one that explains much must be as unlikely by luck as this."""


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


@dataclass(slots=True, kw_only=True, eq=False)
class Pick:
    """One of the causes chosen for a kind, with the candidates it was chosen from."""

    best: Candidate
    found: list[Candidate]

    @property
    def kind(self) -> int:
        return self.best.stream.kind

    @property
    def row(self) -> int:
        return self.best.stream.row

    @property
    def zone(self) -> int | None:
        return self.best.stream.zone

    @property
    def start(self) -> int:
        return self.best.start

    @property
    def end(self) -> int | None:
        return None

    @property
    def ratio(self) -> float:
        return max(self.best.ratio, 1.0)


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

    def catch_up(self, evidence: Evidence, *, as_of_us: int) -> None:
        """Take in every slot that has ended by a moment and comes after those known already.

        The evidence must hold all that was seen in those slots; kinds beyond those of the watch
        are an error.
        """
        feed, reader = SlotFeed(evidence), Reader(evidence, self.state)
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
        self._follow()
        if self._is_warm():
            self._look(rows)

    def outcome(self, evidence: Evidence) -> Outcome | None:
        """What is known now, of evidence that holds everything; None before the first slot."""
        if self.state.n_slots == 0:
            return None
        self._finish()
        starts = self.state.slot_start_us
        begin = self.state.period.from_us
        first = starts[0] if begin is None else max(begin, starts[0])
        return Outcome(
            evidence=evidence, reader=Reader(evidence, self.state), state=self.state,
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
        for kind in sorted({c.kind for c in self._open() if c.attributed < self.slot}):
            self._explain_anew(kind)

    def _look(self, rows: Ints) -> None:
        kinds = np.arange(len(self.state.kinds))
        looked_at: set[Stream] = set()
        while len(looked_at) < MOST_ALARMS:
            found = alarms(self.state, rows, self.spread, self.budget, kinds)
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
        self.spread = self._spread()
        self.fitted_slot = self.slot

    def _accept(self, agreed_us: tuple[int, ...]) -> None:
        """What was signalled since something was changed on purpose, and did not clearly begin
        before, is part of what is usual from this decision on."""
        if agreed_us:
            since = max(agreed_us)
            for change in self.changes:
                first = max(change.start, int(self.state.first_slot[change.row]))
                begun = self.state.slot_start_us[first]
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

    def _spread(self) -> Spread:
        state, sd = self.state, DEFAULT_SD | FITTED_SD
        sd["job"] = _job_sd(state)
        fitted = np.flatnonzero(state.rate_at > 0)
        seen, mean, variance = _own_counts(state, fitted, sd["job"])
        for f, name in enumerate(FACTORS):
            mine = state.row_factor[fitted] == f
            if name not in FITTED_SD and mine.any():
                sd[name] = between_levels_sd(
                    seen[mine], mean[mine], variance[mine], default=DEFAULT_SD[name]
                )
        return Spread(sd=sd)

    # -- following what is known -------------------------------------------------------------------

    def _open(self) -> list[Change]:
        return [c for c in self.changes if c.end is None]

    def _follow(self) -> None:
        due = {c.kind for c in self._open() if self.slot - c.signalled in ATTRIBUTE_AFTER}
        for kind in sorted(due):
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
        mine = [c for c in self._open() if c.kind == kind and self.slot - c.start < WINDOW]
        mine = [c for c in mine if not self._is_fading(c)]
        mine += [] if new is None else [new]
        if not mine:
            return
        others = [c for c in self._unusual() if c not in mine]
        picks = self._picks(kind, others, limit=len(mine))
        self.state.changes = others
        self._assign(mine, picks, new)
        self.state.changes = self._unusual()
        self.state.rebuild(np.array([kind]))

    def _is_fading(self, change: Change) -> bool:
        """Has a change begun to lose its evidence? It was put right, then, and what is known of
        its cause from before is better than what is seen now."""
        self.state.changes = [c for c in self._unusual() if c is not change]
        self.state.rebuild(np.array([change.kind]))
        now = judge(self.state, change.stream, change.start, 1, self.spread)
        self.state.changes = self._unusual()
        return now.gain < change.peak - FADING_GAIN

    def _picks(self, kind: int, others: list[Change], *, limit: int) -> list[Pick]:
        """The few causes that together explain a kind best, beside the other changes.

        They are taken one by one, the best first. Where that needs several, each other candidate
        for the first place is tried as well: one cause may do the work of two.
        """
        picks = self._one_by_one(kind, others, [], limit=limit)
        if len(picks) < 2:
            return picks
        sets = [picks]
        taken = {p.best.stream for p in picks}
        for rival in picks[0].found:
            if rival.stream not in taken and rival.tail <= ALSO_TAIL:
                first = Pick(best=rival, found=picks[0].found)
                sets.append(self._one_by_one(kind, others, [first], limit=limit))
        return max(sets, key=lambda some: sum(p.best.score for p in some))

    def _one_by_one(
        self, kind: int, others: list[Change], picks: list[Pick], *, limit: int
    ) -> list[Pick]:
        while len(picks) < limit:
            pick = self._best_beside(kind, [*others, *picks])
            if pick is None or (picks and pick.best.tail > ALSO_TAIL):
                break
            picks = [*picks, pick]
        for old in picks[:-1]:
            rest = [p for p in picks if p is not old]
            again = self._best_beside(kind, [*others, *rest])
            if again is None or again.best.tail > ALSO_TAIL:
                picks = rest  # what was found after it explains it
            elif all(again.best.stream != p.best.stream for p in rest):
                picks = [again if p is old else p for p in picks]
        return picks

    def _best_beside(self, kind: int, others: Sequence[Explained]) -> Pick | None:
        """The best cause when these are taken as known."""
        self.state.changes = others
        self.state.rebuild(np.array([kind]))
        found = candidates(self.state, kind, self.spread)
        return Pick(best=likeliest(found), found=found) if found else None

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
                best = judge(self.state, change.stream, change.start, 1, self.spread)
                self._adopt(change, Pick(best=best, found=[best]))
                taken.append((change, best))
            elif change is not new:
                change.join(known[0], self.slot)
        if new is not None and any(change is new for change, _ in taken):
            new.first = new.stream
            self.changes.append(new)

    def _adopt(self, change: Change, pick: Pick) -> None:
        best = pick.best
        same = best.stream == change.stream
        change.peak = max(change.peak, best.gain) if same else best.gain
        rivals = [c for c in pick.found if c is best or explains_alarm(self.state, change, c)]
        change.stream, change.start, change.ratio = best.stream, best.start, pick.ratio
        change.rivals = sorted(rivals, key=lambda c: c is not best)
        change.attributed = self.slot
        change.known.append(
            Knowledge(slot=self.slot, start=best.start, rivals=tuple(change.rivals))
        )

def _own_counts(state: StreamCounts, rows: Ints, job_sd: float) -> tuple[Floats, Floats, Floats]:
    """Of streams among those the rates were fitted to, (rows, kinds): faults, faults expected by
    the rates without them, and the relative variance of that from job luck and rates."""
    level = state.rate_at[rows]
    rest_n, rest_y = state.rates.rest_n, state.rates.rest_y
    n, seen = rest_n[0] - rest_n[level], (rest_y[0] - rest_y[level]).sum(axis=2)
    expected = n * state.rates.rate[level].transpose(0, 2, 1)
    mean = expected.sum(axis=2)
    upto = state.n_slots - state.base
    inside, squares = (
        array[:, rows, :upto].sum(axis=2).T for array in (state.buffer.expected, state.buffer.clump)
    )
    variance = job_sd**2 * squares / np.maximum(inside, 1e-9) ** 2
    variance *= np.minimum(inside / np.maximum(mean, 1e-9), 1.0)  # the longer, the more jobs
    at, kind = np.nonzero(mean > LEAST_MEAN)
    share = expected[at, kind] / mean[at, kind, None]
    variance[at, kind] += state.rate_variance(rows[at], kind, share)
    return seen, mean, variance


def _job_sd(state: StreamCounts) -> float:
    """How much jobs differ beyond what they are made of, from those in the buffer.

    Each job is judged by rates that it did not help to fit.
    """
    b, usual = state.blocks, state.usual
    if usual is None:
        return DEFAULT_SD["job"]
    _, job = np.unique(b.job, return_inverse=True)
    n_jobs = int(job.max(initial=-1)) + 1
    shop, n_kinds = int(state.row_factor[state.shop_row]), len(state.kinds)
    seen, mean, variance = (np.zeros((n_jobs, n_kinds)) for _ in range(3))
    every = np.arange(len(b))
    for kind in range(n_kinds):
        expected = state.block_expected(every, kind, shop)
        doubt = usual.cell_variance[kind, b.cell]
        seen[:, kind] = sum_by(job, b.y[:, kind], n_jobs)
        mean[:, kind] = sum_by(job, expected, n_jobs)
        variance[:, kind] = sum_by(job, expected * doubt, n_jobs)
    doubt = variance / np.maximum(mean, 1e-9)
    leverage = np.minimum(mean * doubt, 0.9)
    return between_levels_sd(
        seen, left_out(seen, mean, leverage), doubt / (1.0 - leverage), default=DEFAULT_SD["job"],
        outlier_share=JOB_OUTLIER_SHARE,
    )
