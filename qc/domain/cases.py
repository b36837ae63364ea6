"""A case: what was done about a flag, step by step. Steps are only ever added.

A case is keyed by its flag. It opens with the flag as it stood then, since flags are computed
anew and a later scan may see more.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from qc.domain.flags import FactorShare, Flag
from qc.domain.instants import SECOND_US
from qc.domain.steps import check_text
from qc.errors import Conflict, InputError

OPEN = "open"
STEPS = (
    "acknowledge", "contain", "cause", "action", "owner", "due", "note", "close", "reopen",
)
"""What a person can do about a case, in the order of the work. `OPEN` is made by the first."""

AGREED_CHANGE, FALSE_FLAG = "agreed_change", "false"
OTHER_CAUSES = {
    AGREED_CHANGE: "agreed change: the new normal was meant",
    FALSE_FLAG: "false: nothing was found",
}
"""Causes that are none: nothing has to be put right."""
CAUSE_SOURCES = ("trade", "own", *OTHER_CAUSES)

AFTER_CLOSING = frozenset({"note", "reopen"})
TEXTS = {"action": "words", "owner": "name", "note": "words", "reopen": "words", "cause": "words"}
"""Steps that need a text, and the name it is kept under."""
SAME_ACTION_US = 10 * 60 * SECOND_US
"""The same words about an action within so long are a reply that was lost, not a second action."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseStep:
    """One step: who, when and what (JSON values; see `STEPS`)."""

    number: int
    flag_id: str
    step: str
    by: str
    at_us: int
    said: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseFile:
    """All steps of one case, oldest first; the first is `OPEN`."""

    steps: tuple[CaseStep, ...]

    @property
    def flag_id(self) -> str:
        return self.steps[0].flag_id

    @property
    def flag(self) -> Flag:
        """The flag as it stood when the case was opened."""
        return flag_from_json(self.steps[0].said["flag"])

    @property
    def last(self) -> int:
        """Number of the newest step: what somebody who looks now has seen."""
        return self.steps[-1].number

    def newest(self, *names: str) -> CaseStep | None:
        """The newest step of these names."""
        return next((step for step in reversed(self.steps) if step.step in names), None)

    def first(self, name: str) -> CaseStep | None:
        """The oldest step of this name."""
        return next((step for step in self.steps if step.step == name), None)

    @property
    def closed(self) -> CaseStep | None:
        """The step that closed it; None while it is open."""
        newest = self.newest("close", "reopen")
        return newest if newest is not None and newest.step == "close" else None

    @property
    def is_closed(self) -> bool:
        return self.closed is not None

    @property
    def cause(self) -> Mapping[str, Any] | None:
        """``source`` (one of `CAUSE_SOURCES`), ``code``, ``words`` and ``defect``."""
        step = self.newest("cause")
        return step.said if step else None

    @property
    def owner(self) -> str | None:
        step = self.newest("owner")
        return str(step.said["name"]) if step else None

    @property
    def due_us(self) -> int | None:
        step = self.newest("due")
        return int(step.said["due_us"]) if step else None

    @property
    def done_us(self) -> int | None:
        """When the newest action was taken."""
        step = self.newest("action")
        return int(step.said["done_us"]) if step else None

    def is_overdue(self, as_of_us: int) -> bool:
        due = self.due_us
        return not self.is_closed and due is not None and due < as_of_us


def case_files(steps: Iterable[CaseStep]) -> dict[str, CaseFile]:
    """Steps gathered by case, in the order the cases were opened."""
    gathered: dict[str, list[CaseStep]] = {}
    for step in steps:
        gathered.setdefault(step.flag_id, []).append(step)
    return {flag_id: CaseFile(steps=tuple(mine)) for flag_id, mine in gathered.items()}


def check_step(case: CaseFile | None, step: str, said: Mapping[str, Any]) -> None:
    """Refuse a step that cannot follow.

    ``case``: None before its first step.

    Raises
    ------
    InputError
        No such step, or what it needs is not said.
    Conflict
        The case is not where the step can follow: closed, not closed, or not ready to close.
    """
    if step not in STEPS:
        raise InputError(f"a case has no step {step!r}; there are: {', '.join(STEPS)}")
    _check_said(step, said)
    closed = case.closed if case else None
    if closed and step not in AFTER_CLOSING:
        raise Conflict(f"case {closed.flag_id} was closed by {closed.by}; re-open it first")
    if step == "reopen" and not closed:
        raise Conflict("the case is open; only a closed one can be re-opened")
    if step == "close":
        _check_can_close(case)


def missing_to_close(case: CaseFile | None) -> tuple[str, ...]:
    """What must be said before a case can be closed: of 'cause' and 'action'."""
    cause = case.cause if case else None
    if cause is None:
        return ("cause", "action") if case is None or case.newest("action") is None else ("cause",)
    if cause["source"] in OTHER_CAUSES:
        return ()
    return () if case is not None and case.newest("action") else ("action",)


def _check_can_close(case: CaseFile | None) -> None:
    missing = missing_to_close(case)
    if missing:
        raise Conflict(f"the case cannot be closed yet: say its {' and its '.join(missing)} first")


def _check_said(step: str, said: Mapping[str, Any]) -> None:
    name = TEXTS.get(step)
    if name is not None:
        check_text(step, said.get(name))
    if step == "cause" and said.get("source") not in CAUSE_SOURCES:
        raise InputError(f"a cause comes from one of: {', '.join(CAUSE_SOURCES)}")
    for needed, moment in (("due", "due_us"), ("action", "done_us")):
        if step == needed and not isinstance(said.get(moment), int):
            raise InputError(f"the step {step} needs a time")


def is_repeat(case: CaseFile | None, step: str, said: Mapping[str, Any], by: str) -> bool:
    """Whether this was said already: a retry after a lost reply changes nothing.

    Holding pieces is never a repeat (more may be at risk by now); the same action is one if it was
    taken at about the same time (`SAME_ACTION_US`).
    """
    if case is None or step == "contain":
        return False
    mine = [one for one in case.steps if one.step in (step, *_undone_by(step))]
    newest = next((one for one in reversed(mine)
                   if step not in ("acknowledge", "note") or one.by == by), None)
    return (newest is not None and newest.step == step and newest.by == by
            and _same(dict(newest.said), dict(said)))


def _same(was: dict[str, Any], now: dict[str, Any]) -> bool:
    apart_us = abs(was.pop("done_us", 0) - now.pop("done_us", 0))
    return was == now and apart_us <= SAME_ACTION_US


def _undone_by(step: str) -> tuple[str, ...]:
    return {"close": ("reopen",), "reopen": ("close",)}.get(step, ())


def flag_to_json(flag: Flag) -> dict[str, Any]:
    """A flag as JSON values."""
    return asdict(flag)


def flag_from_json(kept: Mapping[str, Any]) -> Flag:
    """The flag that `flag_to_json` wrote; a field it did not know is left out."""
    known = {name: kept[name] for name in Flag.__dataclass_fields__ if name in kept}
    known["changed_between_us"] = tuple(kept["changed_between_us"])
    known["also"] = tuple(kept["also"])
    known["factor"] = FactorShare(**kept["factor"])
    known["other_factors"] = tuple(FactorShare(**share) for share in kept["other_factors"])
    return Flag(**known)
