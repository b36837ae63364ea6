"""One cause, one flag: findings that are the same change are brought together.

A fault at one press, lot or person that shows in several kinds of defect is one change. A platen
out of tolerance explains what heat explains on its press; a changed setting and a shifted jig
explain the defects that follow. The earliest signal keeps its identity; the deepest cause gives
its name. Findings are taken in the order of their signals and each joins what was known by then,
so that a flag once shown is there ever after: two flags shown apart are never made one, but when
their common cause is seen the second ends as part of the first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from qc.domain.flags import FactorShare
from qc.monitor.bonds import DEPTH, Bond, bond
from qc.monitor.evidence import Evidence, Ints
from qc.monitor.findings import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What was known of a finding from a moment on, where later records changed it."""

    at_us: int
    factor: FactorShare
    other_factors: tuple[FactorShare, ...]
    changed_at_us: int
    low_us: int
    high_us: int


History = Mapping[str, Sequence[Known]]
"""What was known of each finding when, oldest first, by ``id_text``."""


def united(
    findings: Iterable[Finding], *, history: History | None = None,
    evidence: Evidence | None = None,
) -> list[Finding]:
    """Findings with those that are one change brought together, in order of their signal.

    Parameters
    ----------
    findings : in any order; the outcome does not depend on it
    history : joins are decided on what was known at the later of two signals; a finding without
        history is taken as it is now
    evidence : what the findings rest on; without it, what only coincides with a cause is judged
        by the pieces alone, also those seen after the later signal
    """
    groups: list[_Group] = []
    for new in sorted(findings, key=_order):
        near = _near(groups, new, history or {}, evidence)
        if not near:
            groups.append(_Group(members=[new]))
            continue
        home = max(near, key=lambda group: (_shown(group, new), near[group]))
        home.members.append(new)
        for other in near:
            if other is not home:
                _meet(groups, home, other, new)
    _explain_later(groups, history or {}, evidence)
    return sorted((_one(group, groups) for group in groups), key=_order)


@dataclass(slots=True, eq=False)
class _Group:
    """Findings that are one flag. ``head``: the flag that explained it, from ``since_us`` on."""

    members: list[Finding]
    head: _Group | None = None
    since_us: int = 0

    def top(self) -> _Group:
        return self if self.head is None else self.head.top()


def _near(
    groups: list[_Group], new: Finding, history: History, evidence: Evidence | None
) -> dict[_Group, Bond]:
    """Flags that a new finding belongs with, with the firmest bond to each."""
    near: dict[_Group, Bond] = {}
    for group in groups:
        found = _bond(group.members, new, history, evidence)
        if found is not None:
            top = group.top()
            near[top] = max(found, near.get(top, found))
    return near


def _meet(groups: list[_Group], home: _Group, other: _Group, new: Finding) -> None:
    """Two flags turn out to belong together: one of them if it was not shown before; else the
    other stays, and is part of the first if the new finding is its cause."""
    if not _shown(other, new):
        home.members += other.members
        groups.remove(other)
        for group in groups:
            group.head = home if group.head is other else group.head
    elif DEPTH[new.kind] > max(DEPTH[f.kind] for f in other.members):
        other.head, other.since_us = home, new.signalled_at_us


def _explain_later(groups: list[_Group], history: History, evidence: Evidence | None) -> None:
    """A flag put down to something else in time may turn out to be the consequence of another."""
    events = sorted(
        ((known.at_us, finding.id_text, finding, group) for group in groups
         for finding in group.members for known in history.get(finding.id_text, ())
         if known.at_us > finding.signalled_at_us), key=lambda event: event[:2])
    for at_us, _, finding, group in events:
        now, depth = _as_of(finding, history, at_us), _depth(group, at_us)
        causes = [
            other for other in groups if group.head is None and other.head is None
            and other is not group and _depth(other, at_us) > depth
            and any(bond(_as_of(f, history, at_us), now, evidence) is not None
                    for f in other.members if f.signalled_at_us <= at_us)
        ]
        if causes:
            group.head = min(causes, key=lambda other: _order(min(other.members, key=_order)))
            group.since_us = at_us


def _depth(group: _Group, at_us: int) -> int:
    """How deep a cause the group had found by then; -1 before its first signal."""
    return max((DEPTH[f.kind] for f in group.members if f.signalled_at_us <= at_us), default=-1)


def _order(finding: Finding) -> tuple[int, str]:
    return finding.signalled_at_us, finding.id_text


def _shown(group: _Group, new: Finding) -> bool:
    """Was there a flag of the group before the new signal?"""
    return min(f.signalled_at_us for f in group.members) < new.signalled_at_us


def _bond(
    group: list[Finding], new: Finding, history: History, evidence: Evidence | None
) -> Bond | None:
    """The strongest bond of a new finding with any of a group."""
    at = new.signalled_at_us
    now = _as_of(new, history, at)
    found = [bond(_as_of(old, history, at), now, evidence) for old in group]
    return max((one for one in found if one is not None), default=None)


def _as_of(finding: Finding, history: History, at_us: int) -> Finding:
    """A finding as it was known at a moment."""
    ended = finding.ended_at_us
    finding = replace(finding, ended_at_us=None if ended is None or ended > at_us else ended)
    known = [one for one in history.get(finding.id_text, ()) if one.at_us <= at_us]
    if not known:
        return finding
    last = known[-1]
    return replace(
        finding, factor=last.factor, other_factors=last.other_factors,
        changed_at_us=last.changed_at_us, low_us=last.low_us, high_us=last.high_us,
    )


def _one(group: _Group, groups: list[_Group]) -> Finding:
    """One finding out of a group: the first's identity, the deepest cause's figures.

    It goes on as long as any of them does; a flag that another has explained has ended with that.
    """
    members = sorted(group.members, key=_order)
    first, main = members[0], max(members, key=lambda f: (DEPTH[f.kind], f.gain, f.id_text))
    others = [f for f in members if f is not main]
    explained = [f for part in groups if part is not group and part.top() is group
                 for f in sorted(part.members, key=_order)]
    more = [c for f in (*others, *explained) for c in (f.characteristic, *f.also)]
    whole = replace(
        main.with_also(tuple(c for c in more if c != main.characteristic)),
        id_text=first.id_text, signalled_at_us=first.signalled_at_us,
        units=_units(main, members),
        zone=main.zone or next((f.zone for f in others if f.zone), None),
        ended_at_us=_last([f.ended_at_us for f in members]),
        renewed_at_us=members[-1].signalled_at_us if len(members) > 1 else None,
    )
    if group.head is None:
        return whole
    ended = whole.ended_at_us
    return replace(
        whole, part_of=min(group.top().members, key=_order).id_text,
        ended_at_us=group.since_us if ended is None else min(ended, group.since_us),
    )


def _last(ends: list[int | None]) -> int | None:
    known = [end for end in ends if end is not None]
    return max(known) if len(known) == len(ends) else None


def _units(main: Finding, group: list[Finding]) -> Ints:
    """The pieces at risk: a platen's from its last good survey on, else the longest list of the
    findings that name the same cause."""
    if main.kind == "calibration":
        return main.units
    where = (main.factor.name, main.factor.level)
    return max((f.units for f in group if (f.factor.name, f.factor.level) == where), key=len)
