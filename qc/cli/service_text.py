"""A service order as people read it in the terminal, and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from qc.cli.lines import paragraph
from qc.domain.instants import from_us
from qc.domain.platens import HOT_PLATEN_CAUTION
from qc.domain.service import OrderStanding, PressedSince, SurveyFound
from qc.domain.service_words import (
    decision_with_caution,
    found_several,
    order_name,
    pressed_words,
    reason_words,
    step_words,
    survey_words,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

    from qc.desk.shop import Shop


def show_orders(found: Iterable[OrderStanding], shop: Shop, console: Console) -> None:
    """Every order: what comes next, and how it stands; open ones first."""
    found = tuple(found)
    if not found:
        console.print("No service order yet; open one with qc service --open PRESS:PLATEN, "
                      "qc presses says where.", highlight=False)
        return
    for head, mine in (("Open", [one for one in found if one.order.is_open]),
                       ("Over", [one for one in found if not one.order.is_open])):
        if mine:
            console.print(f"\n[bold]{head}[/bold] ({len(mine)})")
        for one in mine:
            paragraph(console, f"{one.order.order_id}  {order_name(one.order)}: {one.next_step}",
                      first="  ")
            paragraph(console, _facts(one, shop), first="    ", style="dim")


def _facts(one: OrderStanding, shop: Shop) -> str:
    order = one.order
    facts = [f"opened {_moment(order.opened_at_us, shop)} by {order.opened_by}",
             f"owner {order.owner}" if order.owner else "no owner"]
    if order.due_us is not None:
        facts.append(f"due {_moment(order.due_us, shop)}")
    return "; ".join(facts)


def show_order(one: OrderStanding, shop: Shop, console: Console) -> None:
    """One order: why, what was known, what was done, what comes next, the cautions."""
    order = one.order
    console.print()
    paragraph(console, f"Service order {order.order_id}, {order_name(order)}", style="bold")
    paragraph(console, _facts(one, shop), style="dim")
    console.print()
    paragraph(console, f"Why ({reason_words(order)}): {order.words}")
    for name, value in order.evidence:
        if not value.endswith(order.words):
            paragraph(console, value, first=f"  {name}: ")
    for head, survey in (("As found", one.found), ("As left", one.left), ("Check", one.check)):
        if survey is not None:
            said = survey_words(survey, shop.zone, shop.settings["temperature_unit"])
            paragraph(console, said, first=f"{head}: ")
    if several := found_several(one):
        paragraph(console, several, first="As found: ")
    if one.pressed is not None:
        paragraph(console, pressed_words(one.pressed, shop.zone), style="yellow")
    for step in order.steps[1:]:
        said = f"{step_words(step, shop.zone)} ({step.by})"
        paragraph(console, f"{_moment(step.at_us, shop)}  {said}", first="  ", style="dim")
    console.print()
    paragraph(console, one.next_step, first="Next: ", style="bold")
    if order.is_open:
        console.print()
        paragraph(console, HOT_PLATEN_CAUTION, style="bold")


def _moment(instant_us: int, shop: Shop) -> str:
    return f"{from_us(instant_us, shop.zone):%Y-%m-%d %H:%M}"


def order_json(one: OrderStanding, shop: Shop) -> dict[str, Any]:
    """An order as JSON values; times with an offset."""
    order = one.order
    return {
        "id": order.order_id, "press": order.press, "platen": order.platen,
        "reason": order.reason, "why": order.words, "flag": order.flag_id,
        "opened_at": shop.iso(order.opened_at_us), "opened_by": order.opened_by,
        "owner": order.owner,
        "due_at": None if order.due_us is None else shop.iso(order.due_us),
        "state": one.state, "next_step": one.next_step,
        "evidence": [list(pair) for pair in order.evidence],
        "as_found": _survey(one.found, shop), "as_left": _survey(one.left, shop),
        "check": _survey(one.check, shop), "pressed_meanwhile": _pressed(one.pressed, shop),
        "steps": [{"step": step.step, "at": shop.iso(step.at_us), "by": step.by,
                   "said": dict(step.said)} for step in order.steps[1:]],
    }


def _survey(found: SurveyFound | None, shop: Shop) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "survey": found.survey_id, "at": shop.iso(found.at_us), "state": found.state,
        "instrument": found.instrument, "setpoint_c": found.setpoint_c,
        "offset_c": found.offset_c, "spread_c": found.spread_c,
        "uncertainty_c": found.uncertainty_c, "points": found.n_points,
        "in_tolerance": found.good, "decision": decision_with_caution(found), "risk": found.risk,
    }


def _pressed(found: PressedSince | None, shop: Shop) -> dict[str, Any] | None:
    if found is None:
        return None
    return {"since": shop.iso(found.since_us), "until": shop.iso(found.until_us),
            "pieces": found.n_pieces, "by_status": dict(found.by_status),
            "last_good": _survey(found.last_good, shop)}
