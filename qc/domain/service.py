"""A service order: why a platen is to be looked at, and what was done, step by step.

Steps are only ever added. What surveys say of an order (as found, as left, the check) is read from
the surveys themselves, not said again here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from qc.domain.platens import Conformity
from qc.domain.steps import check_text
from qc.errors import Conflict, InputError

OPEN = "open"
STEPS = ("owner", "due", "done", "note", "close", "cancel")
"""What a person can do about an order, in the order of the work; `OPEN` makes it. ``done`` says
what was adjusted or repaired."""

TEXTS = {"owner": "name", "done": "words", "note": "words", "cancel": "words"}
AFTER_THE_END = frozenset({"note"})

REASONS = ("flag", "due", "pieces", "person")
"""What an order comes from: a flag, the date a check is due, what finished pieces say, or
somebody's own judgement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceStep:
    """One step: who, when and what (JSON values; see `STEPS`)."""

    number: int
    order_id: str
    step: str
    by: str
    at_us: int
    said: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceOrder:
    """All steps of one order, oldest first; the first is `OPEN` and says ``press``, ``platen``,
    ``reason`` (one of `REASONS`), ``words``, ``flag_id`` where it comes from a flag, and
    ``evidence``, pairs of what was known then."""

    steps: tuple[ServiceStep, ...]

    @property
    def order_id(self) -> str:
        return self.steps[0].order_id

    @property
    def _opening(self) -> Mapping[str, Any]:
        return self.steps[0].said

    @property
    def press(self) -> str:
        return str(self._opening["press"])

    @property
    def platen(self) -> str:
        return str(self._opening["platen"])

    @property
    def reason(self) -> str:
        return str(self._opening["reason"])

    @property
    def words(self) -> str:
        return str(self._opening["words"])

    @property
    def flag_id(self) -> str | None:
        named = self._opening.get("flag_id")
        return None if named is None else str(named)

    @property
    def evidence(self) -> tuple[tuple[str, str], ...]:
        """What was known when it was opened: names with what is known of each."""
        return tuple((str(name), str(value)) for name, value in self._opening["evidence"])

    @property
    def opened_at_us(self) -> int:
        return self.steps[0].at_us

    @property
    def opened_by(self) -> str:
        return self.steps[0].by

    @property
    def ended(self) -> ServiceStep | None:
        """The step that closed or cancelled it; None while it is open."""
        return next((step for step in self.steps if step.step in ("close", "cancel")), None)

    @property
    def is_open(self) -> bool:
        return self.ended is None

    @property
    def owner(self) -> str | None:
        step = self.newest("owner")
        return None if step is None else str(step.said["name"])

    @property
    def due_us(self) -> int | None:
        step = self.newest("due")
        return None if step is None else int(step.said["due_us"])

    def newest(self, name: str) -> ServiceStep | None:
        """The newest step of this name."""
        return next((step for step in reversed(self.steps) if step.step == name), None)


def orders_of(steps: Iterable[ServiceStep]) -> dict[str, ServiceOrder]:
    """Steps gathered by order, in the order they were opened."""
    gathered: dict[str, list[ServiceStep]] = {}
    for step in steps:
        gathered.setdefault(step.order_id, []).append(step)
    return {order_id: ServiceOrder(steps=tuple(mine)) for order_id, mine in gathered.items()}


def check_service_step(order: ServiceOrder, step: str, said: Mapping[str, Any]) -> None:
    """Refuse a step that cannot follow.

    Raises
    ------
    InputError
        No such step, or what it needs is not said.
    Conflict
        The order is closed or cancelled.
    """
    if step not in STEPS:
        raise InputError(f"a service order has no step {step!r}; there are: {', '.join(STEPS)}")
    if step in TEXTS:
        check_text(step, said.get(TEXTS[step]))
    if step == "due" and not isinstance(said.get("due_us"), int):
        raise InputError("the step due needs a time")
    ended = order.ended
    if ended is not None and step not in AFTER_THE_END:
        words = "closed" if ended.step == "close" else "cancelled"
        raise Conflict(f"service order {order.order_id} was {words} by {ended.by}; open a new one")


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyFound:
    """One survey as an order needs it: degC; ``judged``: what it shows of each tolerance under the
    shop's rule, empty without one; ``points``: (row, column) of each point probed; ``unjudged``:
    its spread has a tolerance, but too few were probed to show that it is kept; ``caution``: what
    is wrong with its probe, in words."""

    survey_id: str
    at_us: int
    state: str
    instrument: str | None
    setpoint_c: float
    offset_c: float
    spread_c: float
    uncertainty_c: float
    n_points: int
    judged: tuple[Conformity, ...]
    points: frozenset[tuple[int, int]] = frozenset()
    unjudged: bool = False
    caution: str = ""

    @property
    def good(self) -> bool | None:
        """Is every tolerance shown to be kept? None without one, and where nothing speaks against
        it but one cannot be judged."""
        kept = all(one.decision == "in_tolerance" for one in self.judged)
        if not self.judged or (kept and self.unjudged):
            return None
        return kept

    def covers(self, other: SurveyFound) -> bool:
        """Was every point of another survey probed?"""
        return self.points >= other.points

    @property
    def risk(self) -> float | None:
        """The largest chance that a true value is beyond its tolerance."""
        return max((one.risk for one in self.judged), default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class PressedSince:
    """Pieces pressed on a press between its last good check and what was found out of tolerance."""

    since_us: int
    until_us: int
    n_pieces: int
    by_status: tuple[tuple[str, int], ...]
    last_good: SurveyFound | None


ORDER_STATES = ("find", "found_few", "leave", "order_wrong", "check", "check_few", "ready",
                "closed", "cancelled")
"""What an order waits for: an as-found survey; one of points enough; an as-left one; that the
as-left survey has none as found before it is a fault that cannot be mended; a check in tolerance;
one that covers the points it is held against; to be closed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderStanding:
    """An order with what surveys say of it. ``state``: of `ORDER_STATES`; ``next_step``: what to
    do, in a sentence. ``found``, ``left``, ``check``: the surveys it rests on; ``n_found``: how
    many as-found surveys there are, one of which is ``found``; ``last_good``: the newest in
    tolerance before. ``pressed``: where the as-found survey was out, if asked for."""

    order: ServiceOrder
    state: str
    next_step: str
    found: SurveyFound | None = None
    left: SurveyFound | None = None
    check: SurveyFound | None = None
    last_good: SurveyFound | None = None
    n_found: int = 0
    pressed: PressedSince | None = None
