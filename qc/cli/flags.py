"""`qc flags`: what is off now, since when, and what it touches."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli.shared import AsOf, Json, Store, answer, as_of_us, open_store
from qc.errors import InputError

if TYPE_CHECKING:
    from qc.desk.shop import Shop
    from qc.domain.flags import FactorShare, Flag, StreamDelay

Hold = Annotated[
    str | None,
    typer.Option(
        "--hold", metavar="FLAG_ID", show_default=False,
        help="Write the hold list of this flag to the file named by --out.",
    ),
]
Out = Annotated[
    str | None,
    typer.Option(
        "--out", metavar="FILE", show_default=False,
        help="The hold list as .pdf or .html (to print), .xlsx, or .csv (pieces alone).",
    ),
]
Delays = Annotated[
    bool,
    typer.Option(
        "--delays", help="How soon a doubling would be seen, for each kind of stream, instead.",
    ),
]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""

    @app.command()
    def flags(
        store: Store = None, as_of: AsOf = None, json: Json = False, hold: Hold = None,
        out: Out = None, delays: Delays = False,
    ) -> None:
        """What is off now, since when, what it touches and what to do first."""
        if hold is not None or out is not None:
            _write_hold_list(store, as_of, json, flag_id=hold, file=out)
            return
        from qc.cli.flags_text import show_delays, show_flags
        from qc.desk.flags import current_flags

        shop = open_store(store)
        found = current_flags(shop, as_of_us=as_of_us(as_of, shop))
        if delays:
            answer(
                found, as_json=json, to_text=show_delays,
                to_json=lambda result: [delay_json(one) for one in result.delays],
            )
            return
        answer(
            found, as_json=json,
            to_json=lambda result: [flag_json(flag, shop) for flag in result.flags],
            to_text=lambda result, console: show_flags(result, shop.zone, console),
        )


def _write_hold_list(
    store: str | None, as_of: str | None, as_json: bool, *, flag_id: str | None, file: str | None
) -> None:
    if not flag_id or not file:
        raise InputError("--hold FLAG_ID and --out FILE go together: which flag, and where to")
    from qc.desk.cases import case_of
    from reports.hold_list import hold_list
    from reports.writing import check_place, write_document

    check_place(file)
    shop = open_store(store)
    moment = as_of_us(as_of, shop)
    case = case_of(shop, flag_id, as_of_us=moment)
    document = hold_list(case, shop_name=shop.name, zone=shop.zone, as_of_us=moment)
    place = write_document(document, file)
    answer(
        {"hold": flag_id, "file": str(place), "pieces": case.flag.pieces_at_risk},
        as_json=as_json, to_json=lambda done: done,
        to_text=lambda done, console: console.print(
            f"{done['pieces']} pieces to hold: {done['file']}", highlight=False, markup=False,
            soft_wrap=True),
    )


def flag_json(flag: Flag, shop: Shop) -> dict[str, Any]:
    """One flag as JSON values; programs read these keys."""
    return {
        "id": flag.id, "kind": flag.kind, "press": flag.press, "platen": flag.platen,
        "characteristic": flag.characteristic, "direction": flag.direction, "zone": flag.zone,
        "signalled_at": shop.iso(flag.signalled_at_us),
        "changed_at": shop.iso(flag.changed_at_us),
        "changed_between": [shop.iso(moment) for moment in flag.changed_between_us],
        "ended_at": None if flag.ended_at_us is None else shop.iso(flag.ended_at_us),
        "state": "open" if flag.is_open else "ended",
        "factor": _share(flag.factor),
        "other_factors": [_share(rival) for rival in flag.other_factors],
        "before": flag.before, "after": flag.after, "expected_after": flag.expected_after,
        "unit": flag.unit, "pieces_at_risk": flag.pieces_at_risk, "also": list(flag.also),
        "message": flag.message, "next_step": flag.next_step, "sure": flag.sure,
        "settle": flag.settle, "part_of": flag.part_of,
    }


def delay_json(delay: StreamDelay) -> dict[str, Any]:
    """How soon a doubling of one stream would be seen."""
    return {
        "factor": delay.factor, "level": delay.level, "characteristic": delay.kind,
        "expected_per_day": delay.expected_per_day, "days_to_see_doubling": delay.days,
    }


def _share(share: FactorShare) -> dict[str, Any]:
    return {"name": share.name, "level": share.level, "weight": share.weight}
