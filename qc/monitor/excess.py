"""Where does the excess of a rise lie: does it go once some of its pieces are taken out?"""

from __future__ import annotations

import numpy as np

from qc.monitor.evidence import Evidence, Ints, sum_by
from qc.monitor.findings import Finding

MOST = 0.5
"""Part of the excess that must lie within pieces that are to explain it."""

OUTSIDE_GAIN = 1.0
"""Log likelihood gain of 'risen outside as well' over 'as usual outside' from which the pieces do
not explain it. Proposed starting value, no source."""


def excess_lies_within(effect: Finding, units: Ints, evidence: Evidence, at_us: int) -> bool:
    """Is a rise explained by some units: most of its excess in them, and none to speak of outside?

    ``effect`` is a defect rate with its figures; records seen after ``at_us`` do not count. The
    counts outside are held against the usual rate and the risen one (Poisson).
    """
    after, usual = effect.after, effect.expected_after
    if effect.characteristic not in evidence.kinds or not after or not usual or after <= usual:
        return False
    known = evidence.fault_kind == evidence.kinds.index(effect.characteristic)
    known &= evidence.fault_seen_us <= at_us
    mine = effect.units[evidence.seen_us[effect.units] <= at_us]
    seen = sum_by(evidence.fault_unit[known], evidence.fault_n[known], len(evidence.n))[mine]
    expected = usual * evidence.n[mine]
    inside, excess = np.isin(mine, units), seen - expected
    if excess[inside].sum() < MOST * excess.sum() or excess.sum() <= 0:
        return False
    ratio = after / usual
    gain = seen[~inside].sum() * np.log(ratio) - (ratio - 1.0) * expected[~inside].sum()
    return bool(gain < OUTSIDE_GAIN)
