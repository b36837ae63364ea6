"""What a stopwatch, a gauge or a dial said of a press against what was set."""

from __future__ import annotations

from dataclasses import dataclass

CHECK_STATES = ("out", "not_shown", "in_tolerance")
"""Beyond its tolerance, too near it to be shown inside, inside; most urgent first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineCheck:
    """The latest round of checks of one quantity of a press, in the quantity's stored unit.

    ``error``: mean of measured less set over ``n`` readings; ``uncertainty``: expanded (k = 2),
    from how far readings of a round differ; ``scatter``: standard deviation of one reading, pooled
    over the rounds of the press, None where no round has two.
    """

    press: str
    quantity: str
    checked_at_us: int
    n: int
    set_value: float
    error: float
    uncertainty: float
    scatter: float | None
    tolerance: float
    state: str
