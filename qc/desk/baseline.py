"""The baseline: which pieces the usual rates rest on, who decided it, and when to decide anew."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from qc.desk.agreed import agreed_changes
from qc.desk.decisions import setting_us
from qc.desk.floor import day_start
from qc.desk.scanning import Scanned, scanned
from qc.desk.shop import Shop
from qc.domain.baselines import AgreedChange, BaselineDecision, FrozenBaseline, Proposal
from qc.domain.instants import DAY_US, HOUR_US
from qc.errors import InputError
from qc.monitor.evidence import Ints
from qc.monitor.findings import Finding
from qc.monitor.history import Days, Explained, History, gather_history
from qc.monitor.proposing import judge_period, propose
from qc.store.baselines import freeze_baseline as write_baseline
from qc.store.baselines import read_baselines
from qc.store.baselines import tell_agreed_change as write_agreed_change

LEAST_PIECES = 200
"""With fewer a rate of one in a hundred is known to no better than a factor of three."""

LOOK_BACK_US = 365 * DAY_US
"""What is proposed begins no earlier: a shop of last year is another shop."""

NEAR_US = DAY_US
"""A change found to begin so close before an agreed one may be that one."""

_QUARTER_US = HOUR_US // 4  # every zone's midnight is at a quarter of an hour UTC


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineStanding:
    """The baseline as of a moment.

    ``state``: 'open' (nobody froze one; the usual rates rest on all records, or on those from
    ``setting_from_us`` on), 'frozen' (it stands), 'waiting' or 'ready' (the process was changed on
    purpose since what they rest on: a new one needs more work, or can be frozen). ``changes``:
    agreed changes that the baseline does not come after. ``proposal`` None: no work.
    """

    as_of_us: int
    state: str
    decision: FrozenBaseline | None
    history: tuple[FrozenBaseline, ...]
    setting_from_us: int | None
    changes: tuple[AgreedChange, ...]
    proposal: Proposal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """A period somebody chose; ``until_us`` None goes on growing."""

    from_us: int
    until_us: int | None


def baseline_standing(shop: Shop, *, as_of_us: int) -> BaselineStanding:
    """Which baseline counts, why, and what is proposed."""
    known = scanned(shop, as_of_us)
    agreed = agreed_changes(shop, known.counted.pieces, as_of_us=as_of_us)
    history = read_baselines(shop.store, as_of_us=as_of_us)
    changes = _not_come_after(shop, history, agreed)
    proposal = _proposed(shop, known, agreed, as_of_us)
    return BaselineStanding(
        as_of_us=as_of_us, state=_state(history, changes, proposal),
        decision=history[-1] if history else None, history=history,
        setting_from_us=setting_us(shop), changes=changes, proposal=proposal,
    )


def outdated(shop: Shop, *, as_of_us: int) -> BaselineStanding | None:
    """How the baseline stands where the process was changed on purpose since what it rests on;
    else None, at little cost."""
    agreed = agreed_changes(shop, scanned(shop, as_of_us).counted.pieces, as_of_us=as_of_us)
    if not _not_come_after(shop, read_baselines(shop.store, as_of_us=as_of_us), agreed):
        return None
    return baseline_standing(shop, as_of_us=as_of_us)


def freeze_baseline(
    shop: Shop, *, period: Period | None, by: str, why: str, at_us: int
) -> FrozenBaseline:
    """Rest the usual rates on a period from now on; without one, on what is proposed.

    Raises
    ------
    InputError
        Nobody or no reason is named, the period is no period, lies in the future, holds hardly
        any pieces or an agreed change, or there is nothing to propose yet.
    """
    known = scanned(shop, at_us)
    agreed = agreed_changes(shop, known.counted.pieces, as_of_us=at_us)
    if period is None:
        found = _proposed(shop, known, agreed, at_us)
        if found is None or not found.is_ready:
            raise InputError("there is not enough work yet to propose a baseline; "
                             "wait, or name a period with --from and --until")
        period = Period(from_us=found.from_us, until_us=found.until_us)
    else:
        _check(shop, period, agreed, at_us)
        found = judge_period(history_of(shop, known, agreed, as_of_us=at_us,
                                        since_us=period.from_us, until_us=period.until_us))
    n_pieces = 0 if found is None else found.n_pieces
    if found is None or n_pieces < LEAST_PIECES:
        raise InputError(f"only {n_pieces} pieces were pressed in that period; "
                         f"a baseline needs at least {LEAST_PIECES}")
    return write_baseline(shop.store, from_us=period.from_us, until_us=period.until_us, why=why,
                          evidence=figures(found), by=by, at_us=at_us)


def tell_agreed_change(shop: Shop, *, changed_us: int, by: str, why: str, at_us: int) -> None:
    """Record that the process was changed on purpose; InputError if that is still to come."""
    if changed_us > at_us:
        raise InputError(f"the change would be in the future ({shop.iso(changed_us)}); "
                         "tell it once it is made")
    write_agreed_change(shop.store, changed_us=changed_us, why=why, by=by, at_us=at_us)


def history_of(
    shop: Shop, known: Scanned, agreed: tuple[AgreedChange, ...], *, as_of_us: int,
    since_us: int | None = None, until_us: int | None = None,
) -> History:
    """The work of a period day by day, without the pieces of changes found to be faults."""
    first = day_start(shop, as_of_us - LOOK_BACK_US) if since_us is None else since_us
    stop = as_of_us if until_us is None else until_us
    days = _days(shop, known.evidence.pressed_us, first, stop)
    explained = _explained(known, agreed, read_baselines(shop.store, as_of_us=as_of_us))
    return gather_history(known.evidence, days, explained, as_of_us=as_of_us)


def figures(proposal: Proposal) -> dict[str, Any]:
    """A proposal as JSON can hold it; kept as what a decision rested on."""
    found = asdict(proposal)
    return found | {
        "against": [reason.name.lower() for reason in proposal.against],
        "holds": proposal.holds, "is_ready": proposal.is_ready,
    }


def _proposed(
    shop: Shop, known: Scanned, agreed: tuple[AgreedChange, ...], as_of_us: int
) -> Proposal | None:
    """What the work since the last agreed change, or of a year, lets be proposed."""
    since_us = agreed[-1].at_us if agreed else None
    return propose(history_of(shop, known, agreed, as_of_us=as_of_us, since_us=since_us))


def _not_come_after(
    shop: Shop, history: tuple[FrozenBaseline, ...], agreed: tuple[AgreedChange, ...]
) -> tuple[AgreedChange, ...]:
    """Agreed changes after the beginning of what the usual rates rest on."""
    since_us = history[-1].decision.from_us if history else setting_us(shop)
    return tuple(c for c in agreed if since_us is None or c.at_us > since_us)


def _state(
    history: tuple[FrozenBaseline, ...], changes: tuple[AgreedChange, ...],
    proposal: Proposal | None,
) -> str:
    if not changes:
        return "frozen" if history else "open"
    return "ready" if proposal is not None and proposal.is_ready else "waiting"


def _check(shop: Shop, period: Period, agreed: tuple[AgreedChange, ...], at_us: int) -> None:
    start, end = shop.iso(period.from_us), period.until_us
    if end is not None and end <= period.from_us:
        raise InputError(f"the baseline would end ({shop.iso(end)}) before it begins ({start})")
    if period.from_us >= at_us or (end is not None and end > at_us):
        raise InputError("the baseline would lie in the future; it rests on pieces already "
                         f"pressed, up to {shop.iso(at_us)}")
    for change in agreed:
        if period.from_us < change.at_us < (at_us if end is None else end):
            raise InputError(
                f"the process was changed on purpose at {shop.iso(change.at_us)} ({change.why}); "
                "a baseline lies before or after it, not across it")


def _days(shop: Shop, pressed_us: Ints, first_us: int, stop_us: int) -> Days:
    """The local days of units pressed in [first, stop)."""
    inside = (pressed_us >= first_us) & (pressed_us < stop_us)
    quarters, quarter_of = np.unique(pressed_us[inside] // _QUARTER_US, return_inverse=True)
    starts = [day_start(shop, int(quarter) * _QUARTER_US) for quarter in quarters]
    days, day_of = np.unique(np.array(starts, dtype=np.int64), return_inverse=True)
    ends = [day_start(shop, int(day) + 30 * HOUR_US) for day in days]  # days have 23 to 25 hours
    of_unit = np.full(len(pressed_us), -1, dtype=np.int64)
    of_unit[inside] = day_of[quarter_of] if len(quarters) else 0
    return Days(start_us=np.maximum(days, first_us), of_unit=of_unit,
                end_us=np.minimum(np.array(ends, dtype=np.int64), stop_us))


def _explained(
    known: Scanned, agreed: tuple[AgreedChange, ...], history: tuple[FrozenBaseline, ...]
) -> tuple[Explained, ...]:
    """Changes found, but those that only say that the process was changed on purpose."""
    judged_anew = [one.decision for one in history]
    return tuple(
        Explained(flag_id=flag_id, kinds=(found.characteristic, *found.also), units=found.units)
        for flag_id, found in known.scan.findings.items()
        if not any(_comes_of(change, flag_id, found, judged_anew) for change in agreed)
    )


def _comes_of(
    change: AgreedChange, flag_id: str, found: Finding, baselines: list[BaselineDecision]
) -> bool:
    """Does a change found come of an agreed one? By the word of its case; or because its rate was
    compared with work from before the change, until a baseline after it was frozen. What began
    clearly before is a fault of its own."""
    if change.flag_id == flag_id:
        return True
    if found.kind != "defect_rate" or found.high_us < change.at_us - NEAR_US:
        return False
    anew = [made.decided_at_us for made in baselines if made.from_us >= change.at_us]
    return change.at_us <= found.signalled_at_us < min(anew, default=found.signalled_at_us + 1)
