"""`qc service`: service orders of presses, from the reason to the check that it worked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from qc.cli import shared
from qc.cli.shop import By
from qc.errors import InputError

if TYPE_CHECKING:
    from qc.desk.shop import Shop
    from qc.domain.service import OrderStanding


def _text(name: str, help_: str, metavar: str = "TEXT") -> Any:
    return typer.Option(name, metavar=metavar, show_default=False, help=help_)


OrderId = Annotated[str | None, typer.Argument(
    metavar="ORDER", show_default=False, help="The order, as S1; without one all are listed.")]
Open = Annotated[str | None, _text(
    "--open", "Open an order for a platen, as P4:upper, with what is known of it.",
    "PRESS:PLATEN")]
FlagId = Annotated[str | None, _text("--flag", "The flag an opened order comes from.", "FLAG_ID")]
Why = Annotated[str | None, _text("--why", "Why an order is opened, in your own words.")]
Owner = Annotated[str | None, _text("--owner", "Who sees to it.", "NAME")]
Due = Annotated[str | None, _text("--due", "Until when: a day (to its end) or a time.", "DATE")]
Done = Annotated[str | None, _text("--done", "What was adjusted or repaired.")]
Note = Annotated[str | None, _text("--note", "Anything worth keeping.")]
Cancel = Annotated[str | None, _text("--cancel", "Give the order up: why.", "WHY")]
Close = Annotated[bool, typer.Option(
    "--close", help="Close it; needs an as-found survey and a check in tolerance.")]
Out = Annotated[str | None, _text(
    "--out", "Write the order to a file, with the pieces pressed since the last good check: "
    ".html or .pdf to print, .xlsx, or .csv.", "FILE")]


def register(app: typer.Typer) -> None:
    """Add the command to the application."""
    app.command("service")(service)


def service(
    order_id: OrderId = None, open_: Open = None, flag: FlagId = None, why: Why = None,
    owner: Owner = None, due: Due = None, done: Done = None, note: Note = None,
    close: Close = False, cancel: Cancel = None, out: Out = None, store: shared.Store = None,
    by: By = None, as_of: shared.AsOf = None, json: shared.Json = False,
) -> None:
    """List service orders, open one, carry it on, or print it."""
    given = {"owner": owner, "due": due, "done": done, "note": note,
             "close": "" if close else None, "cancel": cancel}
    steps = {step: text for step, text in given.items() if text is not None}
    _check(order_id, open_, flag, why, steps, out, as_of)
    shop = shared.open_store(store)
    if open_ is not None:
        order_id = _open(shop, open_, flag or "", why or "", by)
    if order_id is not None and steps:
        _take(shop, order_id, steps, by)
    moment = shared.as_of_us(as_of, shop)
    if order_id is None:
        _show_list(shop, moment, json)
        return
    if out is not None:
        _write(shop, order_id, out, moment)
    _show_one(shop, order_id, moment, json)


def _check(
    order_id: str | None, opened: str | None, flag: str | None, why: str | None,
    steps: dict[str, str], out: str | None, as_of: str | None,
) -> None:
    if opened is not None and order_id is not None:
        raise InputError("an order that is opened gets its own number; leave ORDER out")
    if opened is None and (flag is not None or why is not None):
        raise InputError("--flag and --why belong to --open")
    if (steps or out is not None) and order_id is None and opened is None:
        raise InputError("say which order: qc service ORDER ...; qc service lists them")
    if (steps or opened is not None) and as_of is not None:
        raise InputError("orders are opened and carried on now; leave --as-of out")


def _open(shop: Shop, named: str, flag: str, why: str, by: str | None) -> str:
    from qc.config import user_name
    from qc.desk.service import OrderWanted, open_order

    press, colon, platen = named.rpartition(":")
    if not colon or not press:
        raise InputError(f"--open is {named!r}; write press and platen, as P4:upper")
    wanted = OrderWanted(press=press, platen=platen, flag_id=flag, why=why)
    return open_order(shop, wanted, by=user_name(by), at_us=shared.now_us()).order_id


def _take(shop: Shop, order_id: str, steps: dict[str, str], by: str | None) -> None:
    from qc.config import user_name
    from qc.desk.service import take_step

    for step, text in steps.items():
        take_step(shop, order_id, step, text, by=user_name(by), at_us=shared.now_us())


def _write(shop: Shop, order_id: str, out: str, as_of_us: int) -> None:
    from qc.desk.service import pressed_meanwhile, service_order
    from reports.service_order import service_document
    from reports.writing import check_place, write_document

    check_place(out)
    standing = service_order(shop, order_id, as_of_us=as_of_us)
    pieces = pressed_meanwhile(shop, standing, as_of_us=as_of_us) if standing.pressed else ()
    document = service_document(standing, pieces, shop_name=shop.name, zone=shop.zone,
                                as_of_us=as_of_us,
                                heat_unit=shop.settings["temperature_unit"])
    shared.say(f"qc: service order {order_id} is in {write_document(document, out)}")


def _show_list(shop: Shop, as_of_us: int, as_json: bool) -> None:
    from qc.cli.service_text import order_json, show_orders
    from qc.desk.service import service_orders

    shared.answer(
        service_orders(shop, as_of_us=as_of_us), as_json=as_json,
        to_json=lambda found: [order_json(one, shop) for one in found],
        to_text=lambda found, console: show_orders(found, shop, console),
    )


def _show_one(shop: Shop, order_id: str, as_of_us: int, as_json: bool) -> None:
    from qc.cli.service_text import order_json, show_order
    from qc.desk.service import service_order

    found: OrderStanding = service_order(shop, order_id, as_of_us=as_of_us)
    shared.answer(
        found, as_json=as_json, to_json=lambda one: order_json(one, shop),
        to_text=lambda one, console: show_order(one, shop, console),
    )
