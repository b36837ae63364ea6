"""A finding: one change with its figures, before it is put into words.

Defect rates, measured streams and platens all end in this one form, so that what belongs
together can be brought together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.domain.flags import FactorShare
from qc.domain.kinds import ZONES
from qc.monitor.attribution import Candidate, shares
from qc.monitor.changes import Change, touched_by
from qc.monitor.evidence import Bools, Evidence, Floats, Ints, sum_by
from qc.monitor.onset import onset
from qc.monitor.replay import Outcome
from qc.monitor.windows import LONGEST_WINDOW

LOT_FACTORS = ("transfer_lot", "garment_lot")
ENOUGH_PAST = 1.0
"""Expected faults before a change from which its own past is a fair 'before'."""

IDLE_SLOTS = 24
"""A level not seen for so many slots of work is no longer at work: its change has ended."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Finding:
    """One change. ``gain`` is its log likelihood gain; ``units`` the units it touches.

    ``shift`` : how far each measured characteristic moved, as (characteristic, amount, low, high)
    in its stored unit with its 95 % interval, the one that moved most first; placements are + to
    the right, + down seen from the front, + clockwise. ``part_of`` : ``id_text`` of the finding
    that has explained this one, if any.
    """

    id_text: str
    kind: str
    characteristic: str
    direction: str
    zone: str | None
    platen: str | None
    signalled_at_us: int
    changed_at_us: int
    low_us: int
    high_us: int
    ended_at_us: int | None
    factor: FactorShare
    other_factors: tuple[FactorShare, ...]
    before: float | None
    after: float | None
    expected_after: float | None
    unit: str
    gain: float
    units: Ints
    also: tuple[str, ...] = ()
    shift: tuple[tuple[str, float, float, float], ...] = ()
    part_of: str = ""

    def with_also(self, more: tuple[str, ...]) -> Finding:
        return replace(self, also=tuple(dict.fromkeys((*self.also, *more))))


def level_name(evidence: Evidence, factor: str, level: int) -> str | None:
    """A level as people write it; the shop's is None."""
    return None if factor == "shop" else evidence.factors[factor].levels[level]


def factor_shares(evidence: Evidence, found: list[Candidate]) -> tuple[FactorShare, ...]:
    """Candidates as shares of the evidence, the largest first; zones of a level united."""
    total: dict[tuple[str, str | None], float] = {}
    for candidate, share in zip(found, shares(found), strict=True):
        stream = candidate.stream
        key = (stream.factor, level_name(evidence, stream.factor, stream.level))
        total[key] = total.get(key, 0.0) + float(share)
    return tuple(
        FactorShare(name=name, level=level, weight=weight)
        for (name, level), weight in sorted(total.items(), key=lambda item: -item[1])
    )


def defect_finding(outcome: Outcome, change: Change) -> Finding:
    """The figures of a change of a defect rate, from the pieces it touches."""
    evidence, stream = outcome.state.evidence, change.stream
    units = _stream_units(outcome, change)
    seen, expected = _unit_counts(outcome, change, units)
    looked = _onset_range(outcome, change, units)
    begin = onset(
        evidence.pressed_us[units[looked]], seen[looked], np.maximum(expected[looked], 1e-9),
        clump=_clump(outcome, change), from_first=stream.factor in LOT_FACTORS,
        signalled_us=_signal(outcome, change),
    )
    ended = _ended_at(outcome, change, units)
    last = evidence.pressed_us[units[-1]] if ended is None else ended
    pressed = evidence.pressed_us[units]
    after = (pressed >= begin.changed_at_us) & (pressed <= last)
    pieces = evidence.n[units]
    kind = evidence.kinds[stream.kind]
    first = change.first
    level = level_name(evidence, first.factor, first.level)
    shares_ = factor_shares(evidence, change.rivals)
    return Finding(
        id_text=f"defect_rate|{kind}|{first.factor}|{level}|{_signal(outcome, change)}",
        kind="defect_rate", characteristic=kind, direction="up", platen=None,
        zone=None if stream.zone is None else ZONES[stream.zone],
        signalled_at_us=_signal(outcome, change),
        changed_at_us=begin.changed_at_us, low_us=begin.low_us, high_us=begin.high_us,
        ended_at_us=ended, factor=shares_[0], other_factors=shares_[1:],
        before=_before(outcome, change, units, pressed < begin.changed_at_us, seen, expected),
        after=_rate(seen[after], pieces[after]),
        expected_after=_rate(expected[after], pieces[after]), unit="per piece",
        gain=change.rivals[0].gain,
        units=units[(pressed >= begin.low_us) & (pressed <= last)],
    )


def _signal(outcome: Outcome, change: Change) -> int:
    return int(outcome.state.blocks.slot_last_seen_us[change.signalled])


def _stream_units(outcome: Outcome, change: Change) -> Ints:
    """Visible units of the stream's level, in order of pressing."""
    evidence, blocks = outcome.state.evidence, outcome.state.blocks
    mine = evidence.factors[change.stream.factor].codes == change.stream.level
    visible = blocks.seen[blocks.unit_block] <= outcome.last_slot
    units = np.flatnonzero(mine & visible)
    return units[np.argsort(evidence.pressed_us[units], kind="stable")]


def _unit_counts(outcome: Outcome, change: Change, units: Ints) -> tuple[Floats, Floats]:
    """Faults seen and expected without the change, for each unit."""
    state, stream = outcome.state, change.stream
    evidence, block = state.evidence, state.blocks.unit_block[units]
    factor = stream.factor
    if stream.zone is None:
        chosen = evidence.fault_kind == stream.kind
        unit, n = evidence.fault_unit[chosen], evidence.fault_n[chosen]
        per_block = state.block_expected(block, np.array([stream.kind]), factor=factor)[:, 0]
    else:
        chosen = (evidence.zoned_kind == stream.kind) & (evidence.zoned_zone == stream.zone)
        unit, n = evidence.zoned_unit[chosen], evidence.zoned_n[chosen]
        per_block = state.block_zone_expected(block, stream.kind, stream.zone, factor=factor)
    total = sum_by(unit, n, len(evidence.n))
    own = np.where(touched_by(state, change)[block], change.ratio, 1.0)
    share = evidence.n[units] / state.blocks.n[block]
    return total[units], per_block * share / own


def _onset_range(outcome: Outcome, change: Change, units: Ints) -> Bools:
    blocks = outcome.state.blocks
    slot = blocks.pressed[blocks.unit_block[units]]
    stop = change.end if change.end is not None else outcome.last_slot
    chosen = (slot >= change.start - LONGEST_WINDOW // 2) & (slot <= stop)
    return chosen if chosen.any() else np.ones(len(units), dtype=bool)


def _clump(outcome: Outcome, change: Change) -> float:
    """Variance over mean of a job's count, at the changed rate."""
    state = outcome.state
    blocks = state.blocks
    mine = blocks.level[change.stream.factor][: state.n_visible] == change.stream.level
    expected = state.block_expected(np.flatnonzero(mine), np.array([change.kind]))[:, 0]
    per_job = sum_by(state.job[: state.n_visible][mine], expected)
    typical = float(per_job[per_job > 0].mean()) if (per_job > 0).any() else 0.0
    return 1.0 + 1.5 * outcome.spread.sd["job"] ** 2 * typical


def _ended_at(outcome: Outcome, change: Change, units: Ints) -> int | None:
    state = outcome.state
    slot = state.blocks.pressed[state.blocks.unit_block[units]]
    pressed = state.evidence.pressed_us[units]
    if change.end is not None:
        within = pressed[slot <= change.end]
        return int(within[-1]) if len(within) else int(pressed[-1])
    if outcome.last_slot - slot[-1] > IDLE_SLOTS:
        return int(pressed[-1])
    return None


def _before(
    outcome: Outcome, change: Change, units: Ints, past: Bools, seen: Floats, expected: Floats
) -> float | None:
    """The rate before: the level's own, or, where it has hardly a past, everybody else's."""
    state = outcome.state
    evidence = state.evidence
    if expected[past].sum() >= ENOUGH_PAST:
        return _rate(seen[past], evidence.n[units[past]])
    others = np.setdiff1d(np.flatnonzero(
        state.blocks.seen[state.blocks.unit_block] <= outcome.last_slot
    ), units)
    seen_else, _ = _unit_counts(outcome, change, others)
    return _rate(seen_else, evidence.n[others])


def _rate(count: Floats, pieces: Floats) -> float | None:
    total = float(pieces.sum())
    return float(count.sum()) / total if total > 0 else None


