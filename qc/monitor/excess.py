"""Where does the excess of a rise lie: does it go once some of its pieces are taken out?"""

from __future__ import annotations

import numpy as np

from qc.monitor.evidence import Evidence, Ints, sum_by
from qc.monitor.findings import Finding

MOST = 0.5
"""Part of the excess that must lie within pieces that are to explain it."""

ENOUGH_PAST = 5.0
"""Faults before the change from which the level's own past says what is usual: unlike a fitted
rate it stays as it was when more is known."""

LEAST = 1.0
"""Faults too many below which there is no rise to explain."""

OUTSIDE_GAIN = 1.0
"""Log likelihood gain of 'risen outside as well' over 'as usual outside' from which the pieces do
not explain it. Proposed starting value, no source."""


def excess_lies_within(effect: Finding, units: Ints, evidence: Evidence, at_us: int) -> bool:
    """Is a rise explained by some units: most of its excess in them, and none to speak of outside?

    What is usual is the past of the effect's own level, or its usual rate. Records seen after
    ``at_us`` do not count. The counts outside are held against the usual rate and the risen one
    (Poisson).
    """
    if effect.characteristic not in evidence.kinds:
        return False
    known = evidence.fault_kind == evidence.kinds.index(effect.characteristic)
    known &= evidence.fault_seen_us <= at_us
    faults = sum_by(evidence.fault_unit[known], evidence.fault_n[known], len(evidence.n))
    before, mine = _before_and_since(effect, evidence, at_us)
    usual = effect.expected_after
    if faults[before].sum() >= ENOUGH_PAST:
        usual = faults[before].sum() / evidence.n[before].sum()
    if not usual:
        return False
    seen, expected = faults[mine], usual * evidence.n[mine]
    inside, excess = np.isin(mine, units), seen - expected
    if excess.sum() < LEAST or excess[inside].sum() < MOST * excess.sum():
        return False
    ratio = seen.sum() / expected.sum()
    gain = seen[~inside].sum() * np.log(ratio) - (ratio - 1.0) * expected[~inside].sum()
    return bool(gain < OUTSIDE_GAIN)


def _before_and_since(effect: Finding, evidence: Evidence, at_us: int) -> tuple[Ints, Ints]:
    """Units of the effect's level before and since the change, as seen by then: not what it came
    to later."""
    coded = evidence.factors.get(effect.factor.name)
    level = effect.factor.level if effect.factor.name != "shop" else "shop"
    if coded is None or level not in coded.levels:
        none = np.zeros(0, dtype=np.int64)
        return none, effect.units[evidence.seen_us[effect.units] <= at_us]
    mine = (coded.codes == coded.levels.index(level)) & (evidence.seen_us <= at_us)
    since = evidence.pressed_us >= effect.changed_at_us
    return np.flatnonzero(mine & ~since), np.flatnonzero(mine & since)
