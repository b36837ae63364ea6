"""What a choice of alarm budget costs: false flags a week against days until a doubling is seen."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.scanning import scanned
from qc.desk.shop import Shop
from qc.domain.flags import StreamDelay
from qc.monitor.budget import AlarmBudget
from qc.monitor.delays import stream_delays, typical_delay

CHOICES = (0.05, 0.125, 0.25, 0.5, 1.0, 2.0)
"""False flags a week to choose from: one in twenty weeks to two a week."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetCost:
    """One choice: so many false flags a week, and the typical days until a doubling of the most
    common defect at an ordinary press would be flagged; None where too little is known or it is
    more than a quarter of a year. ``is_chosen``: the one in force."""

    false_flags_per_week: float
    days: float | None
    is_chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetCosts:
    """The choices, fewest false flags first; with how many streams are watched and, of the choice
    in force, the delay of the busiest streams."""

    choices: tuple[BudgetCost, ...]
    n_streams: int
    streams: tuple[StreamDelay, ...]

    @property
    def chosen(self) -> BudgetCost:
        return next(one for one in self.choices if one.is_chosen)


def budget_costs(shop: Shop, *, as_of_us: int) -> BudgetCosts:
    """What the budget in force costs, beside others, at the traffic and the usual rates of now.

    The other choices are reckoned on the changes found under the one in force.
    """
    found = scanned(shop, as_of_us).scan
    mine = float(shop.settings["false_flags_per_week"])
    others = [one for one in CHOICES if abs(one - mine) > 1e-3 * mine]
    choices = []
    for per_week in sorted([mine, *others]):
        delays = found.flags.delays if per_week == mine else ()
        if per_week != mine and found.outcome is not None:
            delays = stream_delays(found.outcome, AlarmBudget(false_flags_per_week=per_week))
        choices.append(BudgetCost(false_flags_per_week=per_week, days=typical_delay(delays),
                                  is_chosen=per_week == mine))
    return BudgetCosts(choices=tuple(choices), n_streams=found.flags.n_streams,
                       streams=found.flags.delays)
