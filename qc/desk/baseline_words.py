"""The baseline in plain sentences, the same on every face."""

from __future__ import annotations

from qc.desk.baseline import BaselineStanding
from qc.desk.shop import Shop
from qc.domain.baselines import (
    AgreedChange,
    BaselineDecision,
    FrozenBaseline,
    LeftStretch,
    Move,
    Proposal,
    Wait,
)
from qc.domain.instants import from_us
from qc.domain.kinds import plain_name

HOW_TO_FREEZE = "qc baseline --freeze"


def rests_on(standing: BaselineStanding, shop: Shop) -> str:
    """What the usual rates rest on, and by whose word."""
    if standing.decision is not None:
        return (f"Usual rates rest on {period(standing.decision.decision, shop)}, frozen by "
                f"{standing.decision.decision.by}.")
    if standing.setting_from_us is not None:
        return (f"Usual rates rest on all records from {day(standing.setting_from_us, shop)} on, "
                "by the setting baseline_from; nobody froze a baseline.")
    return "Usual rates rest on all records so far; nobody froze a baseline."


def period(decision: BaselineDecision, shop: Shop) -> str:
    """The period of a decision."""
    if decision.until_us is None:
        return f"the work from {day(decision.from_us, shop)} on"
    return f"the work from {day(decision.from_us, shop)} to {day(decision.until_us - 1, shop)}"


def reason(frozen: FrozenBaseline, shop: Shop) -> str:
    """Who froze a baseline, when and why."""
    made = frozen.decision
    return f"Frozen on {day(made.decided_at_us, shop)} by {made.by}: {made.why}."


def proposed(proposal: Proposal, shop: Shop) -> str:
    """What is proposed, or how much longer to wait."""
    stretch = (f"{day(proposal.from_us, shop)} to {day(proposal.until_us - 1, shop)}: "
               f"{_days(proposal.n_days)} of work, {_count(proposal.n_pieces)} pieces")
    if proposal.wait is not None:
        return f"Too early to freeze a baseline ({stretch}). {waiting(proposal.wait)}"
    return f"Proposed: {stretch}."


def waiting(wait: Wait) -> str:
    """How much more is needed."""
    return f"It needs {_needed(wait)}."


def judged(proposal: Proposal, shop: Shop) -> tuple[str, ...]:
    """What speaks for and against a stretch, and what is left out of it."""
    said = [f"Against it: {reason.value}." for reason in proposal.against]
    if proposal.holds:
        said.append("It holds together: no level moved in it for good, and taken together its days "
                    "vary no more than chance allows.")
    if proposal.signals_us:
        days = ", ".join(day(us, shop) for us in proposal.signals_us[:6])
        only = "Single days all the same lie" if proposal.holds else "Days"
        said.append(f"{only} beyond three sigma, worth a look for their cause: {days}.")
    if proposal.n_left_out:
        said.append(f"Not used for the kinds of defect concerned: {_count(proposal.n_left_out)} "
                    f"of the {_count(proposal.n_pieces)} pieces, touched by changes already "
                    "found. They count for all other kinds.")
    return (*said, *(left(one, shop) for one in proposal.left_stretches))


def left(stretch: LeftStretch, shop: Shop) -> str:
    """A stretch not proposed, and the move that lies between."""
    return (f"Not proposed: {day(stretch.from_us, shop)} to {day(stretch.until_us - 1, shop)} "
            f"({_count(stretch.n_pieces)} pieces); {_moved(stretch.move)} lies between.")


def changed(change: AgreedChange, shop: Shop) -> str:
    """An agreed change."""
    by = f" ({change.by})" if change.by else ""
    return f"The process was changed on purpose on {day(change.at_us, shop)}: {change.why}{by}."


def baseline_cautions(standing: BaselineStanding | None, shop: Shop) -> tuple[str, ...]:
    """What a reader of the flags must know of the baseline; empty where it stands."""
    if standing is None or not standing.changes:
        return ()
    start = (f"{changed(standing.changes[-1], shop)} Usual rates still rest on work from before "
             "it, and work from before and after is not mixed:")
    if standing.state == "ready":
        return (f"{start} a new baseline is ready to be frozen ({HOW_TO_FREEZE}).",)
    wait = standing.proposal.wait if standing.proposal else None
    needs = f"needs {_needed(wait)}" if wait else "waits for the first pieces"
    return (f"{start} a new baseline {needs}.",)


def day(instant_us: int, shop: Shop) -> str:
    """The local day of an instant."""
    return from_us(instant_us, shop.zone).strftime("%d %b %Y").lstrip("0")


def _moved(move: Move) -> str:
    what = "all defects" if move.kind is None else plain_name(move.kind).lower()
    where = "" if move.press is None else f" on {move.press}"
    if move.ratio is None:
        return f"a move of {what}{where}"
    return f"a move of {what}{where} by a factor of {move.ratio:.2g}"


def _needed(wait: Wait) -> str:
    pieces = f"{_count(wait.n_pieces)} more pieces, " if wait.n_pieces else ""
    days = _days(wait.n_days, " more")
    return f"{pieces}about {days} of work"


def _count(n: int) -> str:
    """A whole number with its thousands set apart by a thin space that does not break."""
    return f"{n:,}".replace(",", "\u202f")


def _days(n: int, more: str = "") -> str:
    return f"{n}{more} day" if n == 1 else f"{n}{more} days"
