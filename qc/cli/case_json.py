"""A case as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qc.cli.flags import flag_json

if TYPE_CHECKING:
    from qc.desk.case_list import CaseEntry
    from qc.desk.shop import Shop
    from qc.domain.action_checks import ActionCheck
    from qc.domain.cases import CaseStep
    from qc.domain.causes import RankedCause
    from qc.domain.flags import Flag


def case_json(
    entry: CaseEntry | None, flag: Flag, pieces: dict[str, int], shop: Shop, *, as_of_us: int
) -> dict[str, Any]:
    """A case with the pieces it touches and the causes to choose from."""
    from qc.desk.case_steps import causes_here

    head = entry_json(entry, shop) if entry else _unopened(flag, shop)
    causes = causes_here(shop, flag, as_of_us=as_of_us)
    return head | {"pieces": pieces, "causes": [_cause_json(one) for one in causes]}


def entry_json(entry: CaseEntry, shop: Shop) -> dict[str, Any]:
    """A case as it stands in a list."""
    case, check = entry.case, entry.check
    return {
        "id": case.flag_id, "state": "closed" if case.is_closed else "open",
        "overdue": entry.is_overdue, "flag": flag_json(case.flag, shop),
        "opened_at": shop.iso(case.steps[0].at_us),
        "acknowledged_by": [step.by for step in case.steps if step.step == "acknowledge"],
        "cause": dict(case.cause) if case.cause else None, "owner": case.owner,
        "due_at": None if case.due_us is None else shop.iso(case.due_us),
        "closed_at": None if case.closed is None else shop.iso(case.closed.at_us),
        "check": None if check is None else check_json(check, shop),
        "steps": [step_json(step, shop) for step in case.steps],
    }


def check_json(check: ActionCheck, shop: Shop) -> dict[str, Any]:
    """The check of the newest action: whether the rate came back."""
    from qc.domain.action_checks import check_sentence

    return {
        "verdict": check.verdict, "says": check_sentence(check),
        "since": shop.iso(check.since_us), "unit": "pieces" if check.is_count else check.unit,
        "seen": check.seen, "usual": check.usual, "raised": check.raised,
        "pieces": check.n_pieces, "more_pieces_needed": check.n_more, "risk": check.risk,
        "cautions": list(check.cautions),
    }


def step_json(step: CaseStep, shop: Shop) -> dict[str, Any]:
    """One step; the flag of the opening is given once, with the case."""
    said = {(name.removesuffix("_us") + "_at" if name.endswith("_us") else name):
            shop.iso(value) if name.endswith("_us") else value
            for name, value in step.said.items() if name != "flag"}
    return {"number": step.number, "step": step.step, "by": step.by, "at": shop.iso(step.at_us),
            **said}


def _unopened(flag: Flag, shop: Shop) -> dict[str, Any]:
    return {
        "id": flag.id, "state": "new", "overdue": False, "flag": flag_json(flag, shop),
        "opened_at": None, "acknowledged_by": [], "cause": None, "owner": None, "due_at": None,
        "closed_at": None, "check": None, "steps": [],
    }


def _cause_json(cause: RankedCause) -> dict[str, Any]:
    return {"code": cause.code, "words": cause.words, "first_check": cause.first_check,
            "share": cause.share, "found_here": cause.n_found}
