"""One cause, one flag: findings that are the same change are brought together.

A fault at one press, lot or person that shows in several kinds of defect is one change. A platen
out of tolerance explains what heat explains on its press; a changed setting explains the defects
that follow on that press. The earliest signal keeps its identity; the deepest cause its name.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from qc.domain.instants import DAY_US
from qc.domain.kinds import causes_of
from qc.monitor.evidence import Ints
from qc.monitor.findings import Finding

NEAR_US = 7 * DAY_US
"""Starts so close together may be one change."""

BEFORE_CAUSE_US = 3 * DAY_US
"""A consequence may be dated so much before its cause, both dates being estimates."""

DEPTH = {"calibration": 3, "setting": 2, "defect_rate": 1, "placement": 0}
"""Which finding names the change: the cause before its consequence."""

VARIABLES = {
    "temperature_error_c": ("temperature", "sensor", "warm-up", "limit"),
    "temperature_spread_c": ("temperature", "pressure"),
    "temperature_c": ("temperature", "limit"), "temperature_lower_c": ("temperature", "warm-up"),
    "dwell_s": ("dwell", "temperature or dwell"), "pressure_kpa": ("pressure",),
    "pressure_dial": ("pressure",),
}
"""Variables of the cause table that a characteristic stands for."""

SAME_PIECES = 0.3
"""Share of the pieces of a consequence that must lie within those of its cause."""

PLACEMENT_DEFECTS = ("misplacement", "rotated")


def united(findings: list[Finding]) -> list[Finding]:
    """Findings with those that are one change brought together, in order of their signal."""
    left = sorted(findings, key=lambda f: (f.signalled_at_us, f.id_text))
    out: list[Finding] = []
    for finding in left:
        for i, earlier in enumerate(out):
            if _one_change(earlier, finding):
                out[i] = _together(earlier, finding)
                break
        else:
            out.append(finding)
    return out


def _one_change(a: Finding, b: Finding) -> bool:
    if (a.factor.name, a.factor.level) != (b.factor.name, b.factor.level):
        return _on_the_same_pieces(a, b)
    if a.kind == "calibration" and b.kind == "calibration":
        return a.platen == b.platen and _close(a, b)
    if a.kind == b.kind:
        return a.kind in ("defect_rate", "placement", "setting") and _close(a, b)
    cause, effect = (a, b) if DEPTH[a.kind] > DEPTH[b.kind] else (b, a)
    if effect.kind == "placement":
        return cause.characteristic in PLACEMENT_DEFECTS and _close(a, b)
    if effect.kind == "setting":
        return False
    return _explains(cause, effect)


def _on_the_same_pieces(a: Finding, b: Finding) -> bool:
    """A platen or setting and a defect rate of somebody who works mostly with it."""
    cause, effect = (a, b) if DEPTH[a.kind] > DEPTH[b.kind] else (b, a)
    if cause.kind not in ("calibration", "setting") or effect.kind != "defect_rate":
        return False
    if len(effect.units) == 0 or not _explains(cause, effect):
        return False
    return float(np.isin(effect.units, cause.units).mean()) >= SAME_PIECES


def _close(a: Finding, b: Finding) -> bool:
    """Do the two start together, as far as their dates can tell, and overlap in time?"""
    near = a.low_us - NEAR_US <= b.changed_at_us <= a.high_us + NEAR_US
    near |= b.low_us - NEAR_US <= a.changed_at_us <= b.high_us + NEAR_US
    signalled = min(a.signalled_at_us, b.signalled_at_us)  # not before either can have begun
    return near and signalled >= max(a.low_us, b.low_us) and _overlap(a, b)


def _overlap(a: Finding, b: Finding) -> bool:
    a_end = a.ended_at_us if a.ended_at_us is not None else 2**62
    b_end = b.ended_at_us if b.ended_at_us is not None else 2**62
    return a.low_us <= b_end and b.low_us <= a_end


def _explains(cause: Finding, effect: Finding) -> bool:
    """Can a platen or a setting bring about this defect, and did it come first?"""
    variables = VARIABLES.get(cause.characteristic, ())
    known = any(
        cause_.variable in variables
        for kind in (effect.characteristic, *effect.also)
        for cause_ in causes_of(kind)
    )
    in_time = effect.high_us >= cause.low_us - BEFORE_CAUSE_US
    return known and in_time and _overlap(cause, effect)


def _together(earlier: Finding, later: Finding) -> Finding:
    """One finding out of two: the earlier's identity, the deeper cause's name and figures."""
    same_depth = DEPTH[earlier.kind] == DEPTH[later.kind]
    if same_depth:
        main, other = (earlier, later) if earlier.gain >= later.gain else (later, earlier)
    else:
        deeper = DEPTH[earlier.kind] > DEPTH[later.kind]
        main, other = (earlier, later) if deeper else (later, earlier)
    more = tuple(c for c in (other.characteristic, *other.also) if c != main.characteristic)
    return replace(
        main.with_also(more), id_text=earlier.id_text, signalled_at_us=earlier.signalled_at_us,
        zone=main.zone or other.zone,
        units=_units(main, other),
    )


def _units(main: Finding, other: Finding) -> Ints:
    """The pieces at risk: a platen's from its last good survey on, else the longer list."""
    longer = main if len(main.units) >= len(other.units) else other
    return main.units if main.kind == "calibration" else longer.units
