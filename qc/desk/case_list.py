"""All cases of the shop, each with the check of its newest action."""

from __future__ import annotations

from dataclasses import dataclass

from qc.desk.action_checks import action_check
from qc.desk.shop import Shop
from qc.domain.action_checks import ActionCheck
from qc.domain.cases import CaseFile
from qc.store.cases import read_cases


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseEntry:
    """A case with what the tool found of its action; None where there is nothing to check."""

    case: CaseFile
    check: ActionCheck | None
    is_overdue: bool


def list_cases(shop: Shop, *, as_of_us: int) -> tuple[CaseEntry, ...]:
    """Open cases first, the overdue ahead, then by when they are due and how old they are; closed
    ones newest first."""
    entries = [case_entry(shop, case, as_of_us=as_of_us)
               for case in read_cases(shop.store, as_of_us=as_of_us).values()]
    return tuple(sorted(entries, key=_order))


def cases_now(shop: Shop, *, as_of_us: int) -> dict[str, CaseFile]:
    """Every case by its flag, without the check, in the order they were opened."""
    return read_cases(shop.store, as_of_us=as_of_us)


def case_entry(shop: Shop, case: CaseFile, *, as_of_us: int) -> CaseEntry:
    """One case with its check."""
    return CaseEntry(case=case, check=action_check(shop, case, as_of_us=as_of_us),
                     is_overdue=case.is_overdue(as_of_us))


def _order(entry: CaseEntry) -> tuple[bool, bool, int, int]:
    case = entry.case
    if case.closed is not None:
        return True, False, -case.closed.at_us, 0
    far = 2**62
    return False, not entry.is_overdue, case.due_us or far, case.steps[0].at_us
