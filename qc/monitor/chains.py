"""One cause, one flag: findings that are the same change are brought together.

A fault at one press, lot or person that shows in several kinds of defect is one change. A platen
out of tolerance explains what heat explains on its press; a changed setting and a shifted jig
explain the defects that follow. The earliest signal keeps its identity; the deepest cause gives
its name. Findings are taken in the order of their signals and each joins what was known by then,
so that a flag once shown is there ever after: two flags shown apart are never made one.
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
    groups: list[list[Finding]] = []
    for new in sorted(findings, key=_order):
        near = [(found, group) for group in groups
                if (found := _bond(group, new, history or {}, evidence)) is not None]
        if not near:
            groups.append([new])
            continue
        _, home = max(near, key=lambda pair: (_shown(pair[1], new), pair[0]))
        home.append(new)
        for _, other in near:  # not shown apart yet: still free to join
            if other is not home and not _shown(other, new):
                home += other
                groups = [group for group in groups if group is not other]
    return sorted((_one(sorted(group, key=_order)) for group in groups), key=_order)


def _order(finding: Finding) -> tuple[int, str]:
    return finding.signalled_at_us, finding.id_text


def _shown(group: list[Finding], new: Finding) -> bool:
    """Was there a flag of the group before the new signal?"""
    return min(f.signalled_at_us for f in group) < new.signalled_at_us


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


def _one(group: list[Finding]) -> Finding:
    """One finding out of a group, in order: the first's identity, the deepest cause's figures.

    It goes on as long as any of them does.
    """
    first, main = group[0], max(group, key=lambda f: (DEPTH[f.kind], f.gain, f.id_text))
    others = [f for f in group if f is not main]
    more = [c for f in others for c in (f.characteristic, *f.also) if c != main.characteristic]
    ends = [f.ended_at_us for f in group if f.ended_at_us is not None]
    return replace(
        main.with_also(tuple(more)), id_text=first.id_text,
        signalled_at_us=first.signalled_at_us, units=_units(main, group),
        zone=main.zone or next((f.zone for f in others if f.zone), None),
        ended_at_us=max(ends) if len(ends) == len(group) else None,
    )


def _units(main: Finding, group: list[Finding]) -> Ints:
    """The pieces at risk: a platen's from its last good survey on, else the longest list of the
    findings that name the same cause."""
    if main.kind == "calibration":
        return main.units
    where = (main.factor.name, main.factor.level)
    return max((f.units for f in group if (f.factor.name, f.factor.level) == where), key=len)
