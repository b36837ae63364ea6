"""From the first record to the last: learn, look, explain, look again.

The shop is replayed slot by slot. What is known at a slot is what had been seen by then, so that
running over the whole history and feeding records as they come give the same flags.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.instants import DAY_US
from qc.monitor.alarms import alarms
from qc.monitor.attribution import Candidate, candidates, judge, likeliest
from qc.monitor.budget import AlarmBudget
from qc.monitor.changes import (
    Change,
    explains_alarm,
    fold_in,
    look_for_end,
    refresh_ratio,
    touched_by,
)
from qc.monitor.dispersion import DEFAULT_SD, FITTED_SD, between_levels_sd
from qc.monitor.evidence import SLOT_US, Bools, Evidence, Ints, gather_blocks
from qc.monitor.streams import StreamCounts, sum_rows
from qc.monitor.usual import usual_rates
from qc.monitor.windows import LONGEST_WINDOW, Spread

REFIT_DAYS = ((7, 0.5), (14, 1.0), (28, 3.0), (10**6, 7.0))
"""Up to so many days of history the usual rates are fitted again every so many days."""

WARM_UP_PIECES = 500
WARM_UP_DAYS = 10
"""Nothing is flagged before so much is known."""

ATTRIBUTE_AFTER = frozenset({1, 2, 3, 4, 6, 8, 11, 15, 20, 27, 36, 48, 64})
"""Slots after the signal at which a change is attributed anew, with what has come since."""

JOINT_PENALTY = 3.0
"""One cause in place of two may explain less by this much (log likelihood) and still be taken."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """What the replay ended with. ``fitted_slot``: the last slot the usual rates were fitted at."""

    state: StreamCounts
    changes: tuple[Change, ...]
    spread: Spread
    last_slot: int
    first_slot: int
    fitted_slot: int


def replay(
    evidence: Evidence, budget: AlarmBudget, *, as_of_us: int, baseline_from_us: int | None = None
) -> Outcome | None:
    """Replay the records up to a moment; None when no slot of work has ended by then."""
    if len(evidence.n) == 0 or not evidence.kinds:
        return None
    run = _Replay(evidence, budget, baseline_from_us)
    ended = np.flatnonzero(run.state.blocks.slot_start_us + SLOT_US <= as_of_us)
    for slot in ended:
        run.step(int(slot))
    if len(ended) == 0:
        return None
    run.finish(int(ended[-1]))
    return Outcome(
        state=run.state, changes=tuple(run.changes), spread=run.spread, last_slot=int(ended[-1]),
        first_slot=run.first_slot, fitted_slot=run.fitted_slot,
    )


class _Replay:
    def __init__(
        self, evidence: Evidence, budget: AlarmBudget, baseline_from_us: int | None
    ) -> None:
        self.blocks = gather_blocks(evidence)
        self.state = StreamCounts(evidence, self.blocks)
        self.budget = budget
        self.changes: list[Change] = []
        self.spread = Spread(sd=DEFAULT_SD | FITTED_SD)
        starts = self.blocks.slot_start_us
        self.first_slot = (
            0 if baseline_from_us is None else int(np.searchsorted(starts, baseline_from_us))
        )
        self.fitted_slot = -1

    # -- one slot --------------------------------------------------------------------------------

    def step(self, slot: int) -> None:
        new, faulty = self.state.advance(slot)
        if self._refit_due(slot):
            self._refit(slot)
        touched = np.concatenate([new, faulty])
        if len(touched) == 0 or self.fitted_slot < 0:
            return
        self._follow(slot)
        if self._is_warm(slot):
            self._look(slot, touched)

    def _is_warm(self, slot: int) -> bool:
        starts = self.blocks.slot_start_us
        days = (starts[slot] - starts[self.first_slot]) / DAY_US
        return bool(self.state.n_pieces >= WARM_UP_PIECES and days >= WARM_UP_DAYS)

    def finish(self, slot: int) -> None:
        """Attribute what is still open once more, with all that is known now."""
        for change in self._open(slot):
            if slot - change.start < LONGEST_WINDOW and change.attributed < slot:
                self._attribute(change, slot)

    def _look(self, slot: int, touched: Ints) -> None:
        kinds = np.arange(self.state.n_kinds)
        for _ in range(12):
            found = alarms(self.state, slot, touched, self.spread, self.budget, kinds)
            if not found:
                return
            kind = self._explain(found[0], slot)
            kinds = np.unique([c.stream.kind for c in found] + [kind])

    # -- learning --------------------------------------------------------------------------------

    def _refit_due(self, slot: int) -> bool:
        if self.fitted_slot < 0:
            return slot >= self.first_slot
        starts = self.blocks.slot_start_us
        history = (starts[slot] - starts[0]) / DAY_US
        since = (starts[slot] - starts[self.fitted_slot]) / DAY_US
        return bool(since >= next(every for upto, every in REFIT_DAYS if history <= upto))

    def _refit(self, slot: int) -> None:
        state = self.state
        excluded: dict[int, Bools] = {}
        for change in self.changes:
            out = excluded.get(change.kind, np.zeros(len(self.blocks.n), dtype=bool))
            excluded[change.kind] = out | touched_by(state, change)
        y, n = state.fit_counts(excluded, self.first_slot)
        state.fit_zone_shares(excluded)
        usual = usual_rates(y, n, state.evidence.cell_codes)
        state.set_rates(usual, excluded, self.first_slot)
        self.spread = self._spread(slot)
        self.fitted_slot = slot

    def _spread(self, slot: int) -> Spread:
        state, sd = self.state, DEFAULT_SD | FITTED_SD
        at = np.arange(state.n_visible)
        expected = state.block_expected(at)
        n_jobs = state.n_jobs
        job_seen = sum_rows(state.job[at], state.block_y[at], n_jobs)
        job_mean = sum_rows(state.job[at], expected, n_jobs)
        sd["job"] = between_levels_sd(
            job_seen, job_mean, np.zeros_like(job_mean), default=DEFAULT_SD["job"]
        )
        for name, counts in state.counts.items():
            if name in FITTED_SD:
                continue
            mean = counts.expected[:, : slot + 1].sum(axis=1)
            clump = counts.clump[:, : slot + 1].sum(axis=1)
            other = sd["job"] ** 2 * clump / np.maximum(mean, 1e-9) ** 2
            seen = counts.observed[:, : slot + 1].sum(axis=1)
            sd[name] = between_levels_sd(seen, mean, other, default=DEFAULT_SD[name])
        return Spread(sd=sd)

    # -- following what is known -------------------------------------------------------------------

    def _open(self, slot: int) -> list[Change]:
        return [c for c in self.changes if c.end is None and c.signalled <= slot]

    def _follow(self, slot: int) -> None:
        for change in self._open(slot):
            if slot - change.signalled in ATTRIBUTE_AFTER:
                self._attribute(change, slot)
            moved = refresh_ratio(self.state, change)
            if look_for_end(self.state, change, self.spread.sd["job"] ** 2):
                refresh_ratio(self.state, change)
                moved = True
            if moved:
                fold_in(self.state, self.changes, change.kind)

    def _without(self, gone: list[Change], slot: int) -> list[Candidate]:
        """Best explanations of a kind when these changes are taken out of the expectation."""
        kind = gone[0].kind
        fold_in(self.state, [c for c in self.changes if c not in gone], kind)
        return candidates(self.state, kind, slot, self.spread)

    def _attribute(self, change: Change, slot: int) -> None:
        found = self._fitting(change, self._without([change], slot))
        if all(c.stream != change.stream for c in found):  # it stays in the running as it is
            found.append(judge(self.state, change.stream, change.start, 1, self.spread))
        change.attributed = slot
        self._adopt(change, likeliest(found), found)
        fold_in(self.state, self.changes, change.kind)
        self._drop_twins(change)

    def _fitting(self, change: Change, found: list[Candidate]) -> list[Candidate]:
        """Candidates that began before the signal and account for it."""
        return [
            c for c in found
            if c.start <= change.signalled and explains_alarm(self.state, change, c)
        ]

    def _adopt(self, change: Change, best: Candidate, found: list[Candidate]) -> None:
        change.stream, change.start = best.stream, best.start
        change.ratio = max(best.ratio, 1.0)
        change.rivals = sorted(found, key=lambda c: c is not best)

    def _drop_twins(self, change: Change) -> None:
        """Two changes that turned out to be one: the earlier signal stands."""
        twins = [
            c for c in self.changes
            if c is not change and c.stream == change.stream and c.end is None
        ]
        if not twins:
            return
        keep, *drop = sorted([change, *twins], key=lambda c: c.signalled)
        keep.start = min(c.start for c in [keep, *drop])
        self.changes = [c for c in self.changes if c not in drop]
        refresh_ratio(self.state, keep)
        fold_in(self.state, self.changes, keep.kind)

    # -- a new change ------------------------------------------------------------------------------

    def _explain(self, alarm: Candidate, slot: int) -> int:
        """Make a change of an alarm, or let it correct one that was wrongly explained."""
        kind = alarm.stream.kind
        change = Change(
            alarm=alarm, first=alarm.stream, stream=alarm.stream, start=alarm.start,
            signalled=slot, rivals=[alarm], ratio=max(alarm.ratio, 1.0), attributed=slot,
        )
        found = self._fitting(change, candidates(self.state, kind, slot, self.spread))
        if found:
            self._adopt(change, likeliest(found), found)
            change.first = change.stream
        earlier = [c for c in self._open(slot) if c.kind == kind]
        for old in earlier:
            if self._one_cause(old, change, slot):
                return kind
        self.changes.append(change)
        fold_in(self.state, self.changes, kind)
        self._drop_twins(change)
        return kind

    def _one_cause(self, old: Change, new: Change, slot: int) -> bool:
        """Does one cause explain the old change and the new alarm together?"""
        if slot - old.start >= LONGEST_WINDOW:
            return False
        joint = self._fitting(old, self._without([old], slot))
        joint = [c for c in joint if explains_alarm(self.state, new, c)]
        fold_in(self.state, self.changes, old.kind)
        if not joint:
            return False
        score_old = max((c.score for c in joint if c.stream == old.stream), default=0.0)
        if joint[0].stream == old.stream:
            return False
        if joint[0].score < score_old + new.rivals[0].score - JOINT_PENALTY:
            return False
        self._adopt(old, likeliest(joint), joint)
        old.attributed = slot
        fold_in(self.state, self.changes, old.kind)
        self._drop_twins(old)
        return True
