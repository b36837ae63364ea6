"""Are two findings one change? What each pair of kinds must have in common.

Either one is the cause of the other (a platen, a setting or a jig, and a defect that the cause
table lists for it in that direction), or both show one cause that the table lists for both. The
place must agree (the same level, or a rival that could not be ruled out, or the same pieces) and
so must the time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.domain.flags import RIVAL
from qc.domain.instants import DAY_US
from qc.domain.kinds import Cause, causes_of
from qc.monitor.evidence import Evidence
from qc.monitor.excess import excess_lies_within
from qc.monitor.factors import LOT_FACTORS
from qc.monitor.findings import Finding

NEAR_US = 7 * DAY_US
"""Starts so close together may be one change."""

TIGHT_US = 2 * DAY_US
"""Starts so close together are one change where the table knows nothing of the kinds."""

SLACK_US = 3 * DAY_US
"""Dates are estimates: a consequence may be dated so much before its cause or after its end."""

SHOWS_US = 28 * DAY_US
"""So long after a setting or a jig changed a rise may still be dated to begin: where few pieces are
pressed in a day its date is late."""

DEPTH = {"calibration": 3, "setting": 2, "placement": 1, "defect_rate": 0}
"""Which finding names the change: the cause before its consequence."""

VARIABLES = {
    "temperature_error_c": ("temperature", "sensor", "warm-up", "limit"),
    "temperature_spread_c": ("temperature", "pressure"),
    "temperature_c": ("temperature", "limit"), "temperature_lower_c": ("temperature", "warm-up"),
    "dwell_s": ("dwell",), "pressure_kpa": ("pressure",), "pressure_dial": ("pressure",),
}
"""Variables of the cause table that a characteristic stands for."""

PLACEMENT_DEFECTS = ("misplacement", "rotated")
FAMILIES = {
    "press": ("press", "settings"), "station": ("press", "settings"),
    "operator": ("operator", "settings"), "transfer": ("transfer",),
    "fabric": ("fabric", "blank"),
}
"""Families of causes that a level of a factor can bring about; all for the others."""

ANY_DIRECTION = ("n/a", "random", "")
SAME_PIECES, MOST_PIECES = 0.8, 0.5
"""Where faults cannot be counted: share of the pieces of a consequence that lie within those of its
cause. From the first on they are the same pieces; from the second on if the records leave the
factor open. Proposed starting values, no source."""

OPEN_WEIGHT = 0.95
"""Share of the evidence below which the records leave a factor open."""


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class Bond:
    """How firmly two findings belong together: same level before the same pieces, then the
    closest in time, then the earliest."""

    same_level: bool
    closeness_us: int
    early_us: int


def bond(a: Finding, b: Finding, evidence: Evidence | None = None) -> Bond | None:
    """The bond of two findings, in either order; None where they are two changes.

    With the evidence, as of the later signal, a consequence put down to what only coincides with
    its cause is told by where its excess lies; without it, by the pieces the two share.
    """
    same = (a.factor.name, a.factor.level) == (b.factor.name, b.factor.level)
    joined = _one_level(a, b) if same else _two_levels(a, b, evidence)
    if not joined:
        return None
    return Bond(same_level=same, closeness_us=-abs(a.changed_at_us - b.changed_at_us),
                early_us=-min(a.signalled_at_us, b.signalled_at_us))


def _one_level(a: Finding, b: Finding) -> bool:
    """Findings at the same press, person, lot..."""
    if a.kind != b.kind:
        cause, effect = _cause_first(a, b)
        return _explains(cause, effect)
    if a.kind == "calibration":
        return a.platen == b.platen and _starts_within(a, b, NEAR_US)
    if a.kind == "setting":
        return _starts_within(a, b, TIGHT_US)
    if a.kind == "placement" or a.characteristic == b.characteristic:
        return _starts_within(a, b, NEAR_US)
    return _one_cause(a, b, a.factor.name)


def _two_levels(a: Finding, b: Finding, evidence: Evidence | None) -> bool:
    """Findings that name different levels, which may coincide."""
    if a.kind != b.kind:
        cause, effect = _cause_first(a, b)
        return _explains(cause, effect) and _coincide(cause, effect, evidence)
    if a.kind != "defect_rate" or a.characteristic == b.characteristic:
        return False
    shared = [one.factor.name for one, other in ((a, b), (b, a)) if _is_rival(one, other)]
    return any(_one_cause(a, b, name) for name in shared)


def _cause_first(a: Finding, b: Finding) -> tuple[Finding, Finding]:
    return (a, b) if DEPTH[a.kind] > DEPTH[b.kind] else (b, a)


def _coincide(cause: Finding, effect: Finding, evidence: Evidence | None) -> bool:
    """Can the effect have been put down to somebody or something that only coincides?"""
    if _is_rival(cause, effect):
        return True
    if len(effect.units) == 0:
        return False
    if evidence is not None and effect.expected_after is not None:
        at_us = max(cause.signalled_at_us, effect.signalled_at_us)
        return excess_lies_within(effect, cause.units, evidence, at_us)
    share = float(np.isin(effect.units, cause.units).mean())
    least = MOST_PIECES if effect.factor.weight < OPEN_WEIGHT else SAME_PIECES
    return share >= least


def _is_rival(one: Finding, other: Finding) -> bool:
    """Could the records of the other not rule out what the one names?"""
    named = (one.factor.name, one.factor.level)
    return any((r.name, r.level) == named and r.weight >= RIVAL for r in other.other_factors)


# -- the table of causes ---------------------------------------------------------------------------


def _explains(cause: Finding, effect: Finding) -> bool:
    """Can a platen, a setting or a jig bring about this defect, and does the time agree?"""
    if effect.kind != "defect_rate" or not _in_time(cause, effect):
        return False
    kinds = (effect.characteristic, *effect.also)
    if cause.kind == "placement":
        return any(kind in PLACEMENT_DEFECTS for kind in kinds)
    wanted, variables = _directions(cause), VARIABLES.get(cause.characteristic, ())
    return any(
        variables_of(listed) & set(variables) and _fits(listed, wanted)
        for kind in kinds for listed in causes_of(kind)
    )


def variables_of(cause: Cause) -> frozenset[str]:
    """The variables a row of the cause table names: 'temperature or dwell' are two."""
    return frozenset(cause.variable.replace(" or ", ", ").split(", "))


def _directions(cause: Finding) -> tuple[str, ...]:
    """Directions in which a platen or a setting is off, in the words of the table."""
    if cause.characteristic == "temperature_spread_c":
        return ("low", "high", "uneven")  # somewhere too cold, elsewhere too hot
    after, target = cause.after, cause.expected_after if cause.kind == "setting" else 0.0
    if after is None or target is None or after == target:
        return ("low",) if cause.direction == "down" else ("high",)
    return ("low",) if after < target else ("high",)


def _fits(listed: Cause, wanted: tuple[str, ...]) -> bool:
    direction = listed.direction
    if listed.variable == "sensor":  # a controller that reads low makes the platen hot
        direction = {"low": "high", "high": "low"}.get(direction, direction)
    if listed.variable == "limit":  # what the cloth can take is passed upwards
        direction = "high"
    return direction in wanted or direction in ANY_DIRECTION


def _one_cause(a: Finding, b: Finding, factor: str) -> bool:
    """Can one cause at such a level bring about both kinds of defect, from the same time on?

    Several kinds from one lot are the lot's; kinds that the table does not know must start
    together.
    """
    if factor in LOT_FACTORS:
        return _starts_within(a, b, NEAR_US)
    ours, theirs = (causes_of(one.characteristic) for one in (a, b))
    if not ours or not theirs:
        return _starts_within(a, b, TIGHT_US)
    families = FAMILIES.get(factor)
    shared = any(
        variables_of(x) & variables_of(y) and _alike(x.direction, y.direction)
        for x in ours for y in theirs
        if families is None or (x.family in families and y.family in families)
    )
    return shared and _starts_within(a, b, NEAR_US)


def _alike(a: str, b: str) -> bool:
    """Directions that one cause can have: a light corner is uneven and low."""
    if a in ANY_DIRECTION or b in ANY_DIRECTION or {a, b} == {"uneven", "low"}:
        return True
    return bool(set(a.split(" or ")) & set(b.split(" or ")))


# -- the time --------------------------------------------------------------------------------------


def _starts_within(a: Finding, b: Finding, slack_us: int) -> bool:
    """Do the two start together, as far as their dates can tell, and overlap in time?"""
    gap = max(a.low_us, b.low_us) - min(a.high_us, b.high_us)
    first_signal = min(a.signalled_at_us, b.signalled_at_us)
    begun = first_signal + SLACK_US >= max(a.low_us, b.low_us)  # not after it was seen
    return gap <= slack_us and begun and _overlap(a, b)


def _in_time(cause: Finding, effect: Finding) -> bool:
    """A drift may take its time to show; a setting or a jig shows within some weeks."""
    if not _overlap(cause, effect):
        return False
    after_begin = effect.high_us >= cause.low_us - SLACK_US
    if cause.kind == "calibration":
        return after_begin
    return after_begin and effect.low_us <= cause.high_us + SHOWS_US


def _overlap(a: Finding, b: Finding) -> bool:
    """Do they go on at the same time? An end is known only some days after it."""
    return _begins_before_end(a, b) and _begins_before_end(b, a)


def _begins_before_end(a: Finding, b: Finding) -> bool:
    return b.ended_at_us is None or a.low_us <= b.ended_at_us + SLACK_US
