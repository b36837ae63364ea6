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
from qc.monitor.buffer import WINDOW
from qc.monitor.changes import Change
from qc.monitor.evidence import SLOT_US, Bools, Evidence, Floats, Ints, sum_by
from qc.monitor.factors import LOT_FACTORS
from qc.monitor.onset import onset
from qc.monitor.replay import Outcome
from qc.monitor.streams import StreamCounts
from qc.monitor.windows import CLUMP_FACTORS

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
    that has explained this one, if any. ``renewed_at_us`` : when the newest finding that is one
    flag with it was signalled; None if it is alone.
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
    renewed_at_us: int | None = None

    def with_also(self, more: tuple[str, ...]) -> Finding:
        return replace(self, also=tuple(dict.fromkeys((*self.also, *more))))


def level_name(evidence: Evidence, factor: str, level: int) -> str | None:
    """A level as people write it; the shop's is None."""
    return None if factor == "shop" else evidence.factors[factor].levels[level]


def public_name(factor: str) -> str:
    """A factor as flags name it: a start of one press is a time since start."""
    return "time_since_start" if factor == "press_start" else factor


def row_level(state: StreamCounts, row: int) -> str | None:
    """The level of a stream's row as people write it; the shop's is None."""
    return None if state.factor(row) == "shop" else state.level(row)


def factor_shares(state: StreamCounts, found: list[Candidate]) -> tuple[FactorShare, ...]:
    """Candidates as shares of the evidence, the largest first; zones of a level united."""
    total: dict[tuple[str, str | None], float] = {}
    for candidate, share in zip(found, shares(found), strict=True):
        row = candidate.stream.row
        key = (public_name(state.factor(row)), row_level(state, row))
        total[key] = total.get(key, 0.0) + float(share)
    return tuple(
        FactorShare(name=name, level=level, weight=weight)
        for (name, level), weight in sorted(total.items(), key=lambda item: -item[1])
    )


def defect_finding(outcome: Outcome, change: Change) -> Finding:
    """The figures of a change of a defect rate, from the pieces it touches."""
    evidence, state = outcome.evidence, outcome.state
    units = row_units(outcome, change.row)
    slot = unit_slots(outcome, units)
    seen = unit_counts(outcome, units, change.kind, change.zone)
    expected = unit_expected(outcome, units, change)
    looked = _onset_range(outcome, change, slot)
    lot = state.factor(change.row) in LOT_FACTORS
    begin = onset(
        evidence.pressed_us[units[looked]], seen[looked],
        np.maximum(expected[looked] * change.own, 1e-9),
        job=np.unique(evidence.run.codes[units[looked]], return_inverse=True)[1],
        job_sd=_luck_of_jobs(outcome, change, units[looked], expected[looked]),
        before_variance=change.rivals[0].own_variance, from_first=lot,
        signalled_us=_signal(outcome, change),
    )
    ended = _ended_at(outcome, change, units, slot)
    last = evidence.pressed_us[units[-1]] if ended is None else ended
    pressed, pieces = evidence.pressed_us[units], evidence.n[units]
    after = (pressed >= begin.changed_at_us) & (pressed <= last)
    shares_ = factor_shares(state, change.rivals)
    return Finding(
        id_text=_id_text(outcome, change),
        part_of="" if change.part_of is None else _id_text(outcome, change.part_of),
        kind="defect_rate", characteristic=state.kinds[change.kind], direction="up", platen=None,
        zone=None if change.zone is None else ZONES[change.zone],
        signalled_at_us=_signal(outcome, change),
        changed_at_us=begin.changed_at_us, low_us=begin.low_us, high_us=begin.high_us,
        ended_at_us=ended, factor=shares_[0], other_factors=shares_[1:],
        before=_before(outcome, change, units, pressed < begin.changed_at_us, seen, expected),
        after=_rate(seen[after], pieces[after]),
        expected_after=_rate(expected[after], pieces[after]), unit="per piece",
        gain=change.rivals[0].gain,
        units=units[(pressed >= begin.low_us) & (pressed <= last)],
    )


def _id_text(outcome: Outcome, change: Change) -> str:
    """What makes a flag this one: how it was first explained, and when it was signalled."""
    state, first = outcome.state, change.first
    name, level = public_name(state.factor(first.row)), row_level(state, first.row)
    kind = state.kinds[change.kind]
    return f"defect_rate|{kind}|{name}|{level}|{_signal(outcome, change)}"


def _signal(outcome: Outcome, change: Change) -> int:
    return outcome.state.slot_end_us(change.signalled)


def row_units(outcome: Outcome, row: int) -> Ints:
    """Units of a stream's level seen so far, in order of pressing."""
    evidence, mine = outcome.evidence, _of_row(outcome, row)
    units = np.flatnonzero(mine & _seen_so_far(outcome))
    return units[np.argsort(evidence.pressed_us[units], kind="stable")]


def _of_row(outcome: Outcome, row: int) -> Bools:
    coded = outcome.evidence.factors[outcome.state.factor(row)]
    return np.asarray(coded.codes == coded.levels.index(outcome.state.level(row)))


def _seen_so_far(outcome: Outcome) -> Bools:
    evidence = outcome.evidence
    last = outcome.state.slot_start_us[-1] + SLOT_US
    return np.asarray(np.maximum(evidence.seen_us, evidence.pressed_us) < last)


def unit_slots(outcome: Outcome, units: Ints) -> Ints:
    """Slot in which units were pressed: the first with work that had not ended then."""
    ends = np.array(outcome.state.slot_start_us) + SLOT_US
    pressed = outcome.evidence.pressed_us[units]
    return np.minimum(np.searchsorted(ends, pressed, side="right"), len(ends) - 1)


def unit_counts(outcome: Outcome, units: Ints, kind: int, zone: int | None = None) -> Floats:
    """Faults of a kind (in a zone) of each unit."""
    evidence = outcome.evidence
    code = outcome.reader.kind.tolist().index(kind)
    if zone is None:
        chosen = evidence.fault_kind == code
        unit, n = evidence.fault_unit[chosen], evidence.fault_n[chosen]
    else:
        chosen = (evidence.zoned_kind == code) & (evidence.zoned_zone == zone)
        unit, n = evidence.zoned_unit[chosen], evidence.zoned_n[chosen]
    return sum_by(unit, n, len(evidence.n))[units]


def unit_usual(outcome: Outcome, units: Ints, kind: int, row: int) -> Floats:
    """Faults of a kind that the usual rates give each unit, as a stream's row sees them."""
    state, evidence = outcome.state, outcome.evidence
    rate = state.rates.rate[state.rate_at[row], outcome.reader.cell(evidence.cell[units]), kind]
    return np.asarray(evidence.n[units] * rate)


def unit_expected(outcome: Outcome, units: Ints, change: Change) -> Floats:
    """Faults expected of each unit without a change, with all others that touch it."""
    state = outcome.state
    expected = unit_usual(outcome, units, change.kind, change.row)
    share = state.zone_share[change.kind]
    if change.zone is not None:
        expected = expected * share[change.zone]
    slot = unit_slots(outcome, units)
    for other in outcome.changes:
        if other.kind != change.kind or (other.row, other.zone) == (change.row, change.zone):
            continue
        touched = _of_row(outcome, other.row)[units] & (slot >= other.start)
        if other.end is not None:
            touched &= slot <= other.end
        ratio = other.ratio
        if other.zone is not None and change.zone is None:
            ratio = 1.0 + share[other.zone] * (ratio - 1.0)
        elif other.zone not in (None, change.zone):
            continue
        expected = np.where(touched, ratio, 1.0) * expected
    return expected


def _onset_range(outcome: Outcome, change: Change, slot: Ints) -> Bools:
    stop = change.end if change.end is not None else outcome.last_slot
    chosen = (slot >= change.start - WINDOW // 2) & (slot <= stop)
    return chosen if chosen.any() else np.ones(len(slot), dtype=bool)


def _luck_of_jobs(outcome: Outcome, change: Change, units: Ints, expected: Floats) -> float:
    """Coefficient of variation between jobs: from all that makes them clump but what changed, and
    from what is not known of the usual rates of what they are."""
    state, sd = outcome.state, outcome.spread.sd
    clumps = sum(sd[name] ** 2 for name in CLUMP_FACTORS if name != state.factor(change.row))
    doubt = state.cell_variance(change.kind, outcome.reader.cell(outcome.evidence.cell[units]))
    return float(np.sqrt(clumps + np.average(doubt, weights=expected + 1e-9)))


def _ended_at(outcome: Outcome, change: Change, units: Ints, slot: Ints) -> int | None:
    pressed = outcome.evidence.pressed_us[units]
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
    evidence = outcome.evidence
    if expected[past].sum() >= ENOUGH_PAST:
        return _rate(seen[past], evidence.n[units[past]])
    others = np.flatnonzero(_seen_so_far(outcome) & ~_of_row(outcome, change.row))
    return _rate(unit_counts(outcome, others, change.kind, change.zone), evidence.n[others])


def _rate(count: Floats, pieces: Floats) -> float | None:
    total = float(pieces.sum())
    return float(count.sum()) / total if total > 0 else None
