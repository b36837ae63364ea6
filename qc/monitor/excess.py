"""Where does the excess of a rise lie: does it go once some of its pieces are taken out?"""

from __future__ import annotations

import numpy as np

from qc.monitor.evidence import Evidence, Ints, sum_by
from qc.monitor.findings import Finding

MOST = 0.5
"""Part of the excess that must lie within pieces that are to explain it."""

LEAST = 1.0
"""Faults too many below which there is no rise to explain."""

OUTSIDE_GAIN = 1.0
"""Log likelihood gain of 'risen outside as well' over 'as usual outside' from which the pieces do
not explain it. Proposed starting value, no source."""


def excess_lies_within(effect: Finding, units: Ints, evidence: Evidence, at_us: int) -> bool:
    """Is a rise explained by some units: most of its excess in them, and none to speak of outside?

    ``effect`` is a defect rate with its usual rate; records seen after ``at_us`` do not count. The
    counts outside are held against the usual rate and the risen one (Poisson).
    """
    usual = effect.expected_after
    if effect.characteristic not in evidence.kinds or not usual:
        return False
    known = evidence.fault_kind == evidence.kinds.index(effect.characteristic)
    known &= evidence.fault_seen_us <= at_us
    mine = _touched(effect, evidence, at_us)
    seen = sum_by(evidence.fault_unit[known], evidence.fault_n[known], len(evidence.n))[mine]
    expected = usual * evidence.n[mine]
    inside, excess = np.isin(mine, units), seen - expected
    if excess.sum() < LEAST or excess[inside].sum() < MOST * excess.sum():
        return False
    ratio = seen.sum() / expected.sum()
    gain = seen[~inside].sum() * np.log(ratio) - (ratio - 1.0) * expected[~inside].sum()
    return bool(gain < OUTSIDE_GAIN)


def _touched(effect: Finding, evidence: Evidence, at_us: int) -> Ints:
    """Units of the effect's level since the change, as seen by then: not what it came to later."""
    coded = evidence.factors.get(effect.factor.name)
    level = effect.factor.level if effect.factor.name != "shop" else "shop"
    if coded is None or level not in coded.levels:
        return effect.units[evidence.seen_us[effect.units] <= at_us]
    mine = coded.codes == coded.levels.index(level)
    mine &= (evidence.pressed_us >= effect.changed_at_us) & (evidence.seen_us <= at_us)
    return np.flatnonzero(mine)
