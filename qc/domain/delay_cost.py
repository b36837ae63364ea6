"""What a day of delay costs: extra defects that a platen makes while its service waits."""

from __future__ import annotations

from dataclasses import dataclass

HORIZON_DAYS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatEffect:
    """How much more often defects come for each degree a platen is off, in one direction.

    The rate is times 1 + ``per_degree`` x degrees; ``low`` and ``high``: 95 % interval. ``kinds``:
    the defects counted. ``direction``: 'cold' or 'hot'. ``clumped``: variance over luck.
    ``n_defects`` and ``n_presses`` it rests on. ``degrees``: the largest error seen in the data.
    """

    direction: str
    kinds: tuple[str, ...]
    per_degree: float
    low: float
    high: float
    clumped: float
    n_defects: int
    n_presses: int
    degrees: float

    @property
    def is_told(self) -> bool:
        """Do the data leave out that heat has no effect?"""
        return self.low > 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayCost:
    """Extra defects a day of one platen while its service waits, against a platen at its setpoint.

    ``today``, ``low``, ``high``: expected extra defects in the first day, with the 95 % interval of
    the effect and the drift; ``week`` with ``week_low`` and ``week_high``: in the `HORIZON_DAYS`
    days from now, the drift going on. ``n_pieces_a_day``: pressed there lately. None throughout
    with ``why_not``: why it cannot be told.
    """

    press: str
    platen: str
    effect: HeatEffect | None
    n_pieces_a_day: float
    today: float | None = None
    low: float | None = None
    high: float | None = None
    week: float | None = None
    week_low: float | None = None
    week_high: float | None = None
    why_not: str = ""
