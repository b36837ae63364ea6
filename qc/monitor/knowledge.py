"""What was known of a change when, so that what was shown together or apart stays so."""

from __future__ import annotations

from qc.monitor.chains import Known
from qc.monitor.changes import Change
from qc.monitor.findings import factor_shares
from qc.monitor.replay import Outcome

START_SLACK = 12
"""Slots by which the first dating of a change may err, for telling whether two are one."""


def known_of(outcome: Outcome, change: Change) -> tuple[Known, ...]:
    """What was known of a change when, oldest first; starts to the slot."""
    starts, state = outcome.state.slot_start_us, outcome.state
    found = []
    for one in change.known:
        shares_ = factor_shares(state, list(one.rivals))
        low, high = max(one.start - START_SLACK, 0), min(one.start + START_SLACK, one.slot)
        found.append(Known(
            at_us=state.slot_end_us(one.slot), factor=shares_[0], other_factors=shares_[1:],
            changed_at_us=starts[one.start], low_us=starts[low], high_us=starts[high],
        ))
    return tuple(found)
