"""`qc baseline`: what the usual rates rest on, who decided it, and when to decide anew."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli import shared
from qc.cli.lines import paragraph
from qc.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from qc.desk.baseline import BaselineStanding, Period
    from qc.desk.shop import Shop
    from qc.domain.baselines import AgreedChange, FrozenBaseline, LeftStretch, Proposal

OPEN = "open"

Freeze = Annotated[
    bool, typer.Option("--freeze", help="Rest the usual rates on a period from now on: the one "
                                        "proposed, or --from and --until. Needs --why."),
]
From = Annotated[
    str | None, typer.Option("--from", metavar="TIME", show_default=False,
                             help="With --freeze: first moment of the period."),
]
Until = Annotated[
    str | None, typer.Option("--until", metavar="TIME", show_default=False,
                             help="With --from: end of the period (default: now), or 'open' for "
                                  "one that goes on growing."),
]
Changed = Annotated[
    str | None, typer.Option("--changed", metavar="TIME", show_default=False,
                             help="The process was changed on purpose then: a new baseline is "
                                  "proposed from work after it. Needs --why."),
]
By = Annotated[
    str | None, typer.Option("--by", metavar="NAME", show_default=False,
                             help="Who decides, kept with the decision; else QC_USER, else your "
                                  "log-in name."),
]
Why = Annotated[
    str | None, typer.Option("--why", metavar="TEXT", show_default=False,
                             help="The reason, kept with the decision."),
]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("baseline")(baseline)


def baseline(
    freeze: Freeze = False, from_: From = None, until: Until = None, changed: Changed = None,
    by: By = None, why: Why = None, store: shared.Store = None, as_of: shared.AsOf = None,
    json: shared.Json = False,
) -> None:
    """Show what the usual rates rest on and what is proposed; freeze it, or tell a change."""
    _check_use(freeze=freeze, changed=changed, why=why, as_of=as_of, by=by,
               period=(from_, until))
    from qc.desk.baseline import baseline_standing

    shop = shared.open_store(store)
    moment = shared.as_of_us(as_of, shop)
    if freeze:
        _freeze(shop, _period(shop, from_, until, moment), by=by, why=why or "", at_us=moment)
    if changed is not None:
        _tell(shop, changed, by=by, why=why or "", at_us=moment)
    shared.answer(
        baseline_standing(shop, as_of_us=moment), as_json=json,
        to_json=lambda standing: standing_json(standing, shop),
        to_text=lambda standing, console: _show(standing, shop, console),
    )


def _check_use(
    *, freeze: bool, changed: str | None, why: str | None, as_of: str | None, by: str | None,
    period: tuple[str | None, str | None],
) -> None:
    changes = freeze or changed is not None
    if freeze and changed is not None:
        raise InputError("--freeze and --changed are two decisions; make one after the other")
    if changes and as_of is not None:
        raise InputError("--as-of looks back; a decision is made now and counts from now on")
    if changes and not (why or "").strip():
        raise InputError("a decision needs a reason; say it with --why")
    if not freeze and any(period):
        raise InputError("--from and --until go with --freeze")
    if period[1] is not None and period[0] is None:
        raise InputError("--until needs --from: where the period begins")
    if not changes and (why is not None or by is not None):
        raise InputError("--by and --why go with --freeze or --changed")


def _period(shop: Shop, start: str | None, end: str | None, moment: int) -> Period | None:
    from qc.desk.baseline import Period
    from qc.domain.instants import parse_instant

    if start is None:
        return None
    until = moment if end is None else None if end == OPEN else parse_instant(end, shop.zone)
    return Period(from_us=parse_instant(start, shop.zone), until_us=until)


def _freeze(shop: Shop, period: Period | None, *, by: str | None, why: str, at_us: int) -> None:
    from qc.config import user_name
    from qc.desk.baseline import freeze_baseline

    made = freeze_baseline(shop, period=period, by=user_name(by), why=why, at_us=at_us)
    shared.say(f"frozen: baseline {made.number}; it counts from now on, and flags already "
               "signalled stay as they are")


def _tell(shop: Shop, changed: str, *, by: str | None, why: str, at_us: int) -> None:
    from qc.config import user_name
    from qc.desk.baseline import tell_agreed_change
    from qc.domain.instants import parse_instant

    tell_agreed_change(shop, changed_us=parse_instant(changed, shop.zone), by=user_name(by),
                       why=why, at_us=at_us)
    shared.say("noted: the process was changed on purpose; work from before and after is not mixed")


def standing_json(standing: BaselineStanding, shop: Shop) -> dict[str, Any]:
    """The standing as JSON."""
    decision, proposal = standing.decision, standing.proposal
    setting = standing.setting_from_us
    return {
        "state": standing.state,
        "decision": None if decision is None else _decision_json(decision, shop),
        "history": [_decision_json(one, shop) for one in standing.history],
        "baseline_from": None if setting is None else shop.iso(setting),
        "changes": [_change_json(change, shop) for change in standing.changes],
        "proposal": None if proposal is None else _proposal_json(proposal, shop),
    }


def _decision_json(one: FrozenBaseline, shop: Shop) -> dict[str, Any]:
    made = one.decision
    return {
        "number": one.number, "decided_at": shop.iso(made.decided_at_us), "by": made.by,
        "why": made.why, "from": shop.iso(made.from_us),
        "until": None if made.until_us is None else shop.iso(made.until_us),
        "pieces": one.evidence.get("n_pieces"), "against": one.evidence.get("against"),
    }


def _change_json(change: AgreedChange, shop: Shop) -> dict[str, Any]:
    return {"at": shop.iso(change.at_us), "by": change.by, "why": change.why,
            "flag_id": change.flag_id}


def _proposal_json(proposal: Proposal, shop: Shop) -> dict[str, Any]:
    wait = proposal.wait
    return {
        "from": shop.iso(proposal.from_us), "until": shop.iso(proposal.until_us),
        "days": proposal.n_days, "pieces": proposal.n_pieces, "left_out": proposal.n_left_out,
        "defects": [{"kind": count.kind, "defects": count.n_defects, "looks": count.n_looked}
                    for count in proposal.defects],
        "left_stretches": [_left_json(one, shop) for one in proposal.left_stretches],
        "against": [reason.name.lower() for reason in proposal.against],
        "signals": [shop.iso(us) for us in proposal.signals_us], "ready": proposal.is_ready,
        "wait": None if wait is None else {"days": wait.n_days, "pieces": wait.n_pieces},
    }


def _left_json(one: LeftStretch, shop: Shop) -> dict[str, Any]:
    return {
        "from": shop.iso(one.from_us), "until": shop.iso(one.until_us), "pieces": one.n_pieces,
        "moved": {"kind": one.move.kind, "press": one.move.press, "ratio": one.move.ratio,
                  "p_value": one.move.p_value},
    }


def _show(standing: BaselineStanding, shop: Shop, console: Console) -> None:
    from qc.desk import baseline_words as words

    def line(text: str, style: str = "", *, first: str = "") -> None:
        paragraph(console, text, first=first, style=style)

    line(words.rests_on(standing, shop), "bold")
    if standing.decision is not None:
        line(words.reason(standing.decision, shop), first="  ")
    for caution in words.baseline_cautions(standing, shop):
        line(caution, "yellow", first="Note: ")
    if standing.proposal is None:
        console.print()
        line("No pieces to propose a baseline from.")
    else:
        console.print()
        line(words.proposed(standing.proposal, shop), "bold")
        for text in words.judged(standing.proposal, shop):
            line(text, first="  ")
        if standing.proposal.is_ready:
            line(f"{words.HOW_TO_FREEZE} --by NAME --why TEXT", "dim", first="  To freeze it: ")
    if len(standing.history) > 1:
        console.print()
        line("Earlier baselines", "bold")
        for earlier in reversed(standing.history[:-1]):
            line(f"{words.period(earlier.decision, shop)}. {words.reason(earlier, shop)}",
                 first="  ")
