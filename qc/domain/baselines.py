"""Which pieces a shop's usual rates rest on: decided by somebody, on a day, for a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineDecision:
    """The baseline frozen at one time.

    It counts from ``decided_at_us`` on, never before: what was signalled until then keeps its
    id and time. From then on the usual rates rest on pieces pressed in
    [``from_us``, ``until_us``); without an end the period goes on growing. Of several, the one
    decided last counts. Instants are microseconds since 1970, UTC.
    """

    decided_at_us: int
    from_us: int
    until_us: int | None
    by: str
    why: str


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
