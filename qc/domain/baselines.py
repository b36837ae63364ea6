"""Which pieces a shop's usual rates rest on: proposed, then decided by somebody for a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineDecision:
    """The baseline frozen at one time.

    It counts from ``decided_at_us`` on, never before: what was signalled until then keeps its
    id and time. From then on the usual rates rest on pieces pressed in
    [``from_us``, ``until_us``); without an end the period goes on growing. Of several, the one
    decided last counts. Instants are microseconds since 1970, UTC.

    ``agreed_us`` : when the process was changed on purpose before this period. What was found to
    have changed then is part of what is usual from the decision on, not a fault to leave out.
    """

    decided_at_us: int
    from_us: int
    until_us: int | None
    by: str
    why: str
    agreed_us: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class AgreedChange:
    """A change of the process that the shop wanted, from ``at_us`` on: not a fault.

    Pieces from before it say nothing about what is usual after it. ``flag_id`` is the flag
    whose case named it, None where it was entered or read from a recipe.
    """

    at_us: int
    by: str
    why: str
    flag_id: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenBaseline:
    """A decision as it was recorded, with the figures it was made on (JSON values)."""

    number: int
    decision: BaselineDecision
    evidence: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A level that moved when a day began, the ``day``-th of those looked at, from 0.

    ``kind`` None: all kinds together; ``press`` None: the whole shop. ``ratio``: the level after
    over the level before, for the same mix of work; None where there was nothing before.
    """

    kind: str | None
    press: str | None
    day: int
    ratio: float | None
    p_value: float


class Against(Enum):
    """What speaks against freezing a stretch; the value is the sentence to show."""

    TOO_LITTLE = "too little work yet to rest usual rates on"
    MOSTLY_EXPLAINED = "a change already found runs in most of it"
    HIGHER = "an earlier or later stretch had fewer defects for the same work: look for the cause"
    UNSTABLE = "single days stand further out than chance allows: look for what happened on them"
    LEVEL_MOVED = "a level moved inside it: look for the cause, it must not become normal"
    NEIGHBOURS_ALIKE = "the rate wanders slowly: days are more alike to the day before than chance"


@dataclass(frozen=True, slots=True, kw_only=True)
class KindCount:
    """Defects of a kind in the pieces of the stretch that it may be judged by."""

    kind: str
    n_defects: int
    n_looked: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftStretch:
    """Work not proposed: it lies beyond a move of a level."""

    from_us: int
    until_us: int
    n_pieces: int
    move: Move


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """How much more is needed before a baseline can be proposed; days at the pace of late."""

    n_days: int
    n_pieces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A stretch of work proposed as the baseline, and what was found about it.

    ``n_left_out`` : pieces inside it that explained changes touch; they are left out of the usual
    rates of the kinds concerned. ``signals_us`` : starts of days that stand out. ``wait`` is None
    where there is enough.
    """

    from_us: int
    until_us: int
    n_days: int
    n_pieces: int
    n_left_out: int
    defects: tuple[KindCount, ...]
    left_stretches: tuple[LeftStretch, ...]
    against: tuple[Against, ...]
    signals_us: tuple[int, ...]
    wait: Wait | None

    @property
    def is_ready(self) -> bool:
        """There is enough of it to be frozen."""
        return self.wait is None

    @property
    def holds(self) -> bool:
        """Nothing speaks against it."""
        return not self.against
