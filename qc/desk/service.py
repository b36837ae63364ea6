"""Service orders: opened from a flag, a due date or what pieces say, carried to a check that it
worked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from qc.desk.cases import CasePiece, by_status, case_pieces
from qc.desk.delay_cost import delay_costs, delay_words
from qc.desk.flags import current_flags
from qc.desk.piece_lists import PIECE_COLUMNS, listed_pieces
from qc.desk.piece_maps import PressPieces, piece_maps
from qc.desk.presses import judged_surveys, press_health
from qc.desk.shop import Shop
from qc.desk.whereabouts import whereabouts
from qc.domain.counting import count_once
from qc.domain.flags import Flag
from qc.domain.instants import parse_due
from qc.domain.platens import SPREAD_POINTS, PlatenHealth
from qc.domain.service import (
    OrderStanding,
    PressedSince,
    ServiceOrder,
    SurveyFound,
)
from qc.errors import Conflict, InputError, NotFound
from qc.monitor.phrases import moment
from qc.presses.service import order_state, order_surveys
from qc.store.inspections import read_findings, read_looks
from qc.store.service import open_order as open_in_store
from qc.store.service import read_orders, take_service_step

COUNTED = tuple(dict.fromkeys((
    *PIECE_COLUMNS[:-1], "attempt", "stage", "inspected_at", "pieces", "defective")))

NEXT_STEPS = {
    "find": "Survey the platen as found, before anybody touches a setting.",
    "leave": "It is out as found: adjust or repair it, then survey it as left.",
    "found_few": "Too few points were probed to say that it is in tolerance: survey it as found "
                 "again at {points}.",
    "order_wrong": "It was surveyed as left, but not as found: how it was while pieces were "
                   "pressed is lost. Say so in a note, cancel this order, and open a new one.",
    "check": "The survey as left is not in tolerance: adjust again, then survey it as left again.",
    "check_few": "Too few points were probed to say that it is in tolerance: survey it as left "
                 "again at {points}.",
    "ready": "It is in tolerance by its check: close the order.",
    "closed": "Closed.", "cancelled": "Cancelled.",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderWanted:
    """An order as a person asks for it. ``flag_id``: the flag it comes from; ``why``: words."""

    press: str
    platen: str
    flag_id: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatensKnown:
    """What has been worked out already, so that nobody waits for it: flags, what the finished
    pieces say, what waiting costs by platen, in words."""

    flags: tuple[Flag, ...]
    pieces: tuple[PressPieces, ...]
    delays: Mapping[tuple[str, str], str]


def open_order(
    shop: Shop, wanted: OrderWanted, *, by: str, at_us: int, known_us: int | None = None,
    known: PlatensKnown | None = None,
) -> ServiceOrder:
    """Open a service order with what is known of the platen now.

    ``known_us``: up to when flags and pieces are looked up; default ``at_us``. ``known``: what
    has been looked up; nothing of it is looked up anew but a flag that is named.

    Raises
    ------
    NotFound
        There is no such platen, or no such flag.
    Conflict
        The platen has an open order already.
    """
    then_us = known_us or at_us
    health = _health(shop, wanted, then_us)
    flag = _flag(shop, wanted, then_us, None if known is None else known.flags)
    pieces = piece_maps(shop, as_of_us=then_us) if known is None else known.pieces
    spots = [words for one in pieces if one.map.press == wanted.press for words in one.words]
    reason = "flag" if flag else "person" if wanted.why.strip() else (
        "due" if health.needs_service or not spots else "pieces")
    words = wanted.why.strip() or (flag.message if flag else health.reason)
    said: dict[str, Any] = {
        "press": wanted.press, "platen": wanted.platen, "reason": reason, "words": words,
        "evidence": _evidence(health, flag, spots, shop) + _delay(shop, health, then_us, known),
    }
    if flag:
        said["flag_id"] = flag.id
    return open_in_store(shop.store, said, by=by, at_us=at_us)


def _delay(
    shop: Shop, health: PlatenHealth, then_us: int, known: PlatensKnown | None
) -> list[tuple[str, str]]:
    """What waiting costs, where that is known."""
    if known is not None:
        said = known.delays.get((health.press, health.platen), "")
        return [("If it waits", said)] if said else []
    return [("If it waits", delay_words(one, shop))
            for one in delay_costs(shop, (health,), as_of_us=then_us)]


def _health(shop: Shop, wanted: OrderWanted, known_us: int) -> PlatenHealth:
    found = press_health(shop, as_of_us=known_us)
    for one in found:
        if (one.press, one.platen) == (wanted.press, wanted.platen):
            return one
    known = ", ".join(f"{one.press} {one.platen}" for one in found) or "none yet"
    raise NotFound(f"there is no {wanted.platen} platen of press {wanted.press!r}; platens: "
                   f"{known}")


def _flag(
    shop: Shop, wanted: OrderWanted, known_us: int, known: tuple[Flag, ...] | None
) -> Flag | None:
    """The flag named, else an open one about the heat of this very platen."""
    flags = known
    if flags is None or wanted.flag_id and all(flag.id != wanted.flag_id for flag in flags):
        flags = current_flags(shop, as_of_us=known_us).flags
    for flag in flags:
        if flag.id == wanted.flag_id:
            return flag
    if wanted.flag_id:
        raise NotFound(f"there is no flag {wanted.flag_id!r} as of {shop.minute(known_us)}")
    mine = [flag for flag in flags if flag.kind == "calibration" and flag.ended_at_us is None
            and (flag.press, flag.platen) == (wanted.press, wanted.platen)]
    return mine[0] if mine else None


def _evidence(
    health: PlatenHealth, flag: Flag | None, spots: list[str], shop: Shop
) -> list[tuple[str, str]]:
    rows = [("State of the platen", health.reason)]
    if health.last_survey_at_us is not None:
        rows.append(("Latest survey", moment(health.last_survey_at_us, shop.zone)))
    if flag:
        rows += [("Flag", f"{flag.id}: {flag.message}"), ("To do first", flag.next_step)]
    rows += [("Finished pieces", words) for words in spots]
    return rows


def take_step(
    shop: Shop, order_id: str, step: str, text: str = "", *, by: str, at_us: int
) -> OrderStanding:
    """Take a step of an order; how it stands afterwards. ``text``: the words, name or date.

    Raises
    ------
    NotFound
        There is no such order.
    InputError, Conflict
        As `qc.domain.service.check_service_step` says; Conflict also where an order is to be
        closed that is not in tolerance by its check.
    """
    said: dict[str, Any] = {}
    if step == "due":
        said = {"due_us": parse_due(text, shop.zone)}
    elif step == "owner":
        said = {"name": text.strip()}
    elif text.strip():
        said = {"words": text.strip()}

    def ready(order: ServiceOrder) -> None:
        judged = judged_surveys(shop, order.press, order.platen, as_of_us=at_us)
        standing = _standing(order, judged, at_us)
        if standing.state != "ready":
            raise Conflict(f"order {order.order_id} cannot be closed yet. {standing.next_step}")

    check = ready if step == "close" else (lambda order: None)
    order = take_service_step(shop.store, order_id, step, said, by=by, at_us=at_us, check=check)
    return _now(shop, order, at_us)


def service_orders(
    shop: Shop, *, as_of_us: int, count_pieces: bool = False
) -> tuple[OrderStanding, ...]:
    """Every order with how it stands, open ones first, the newest of each first.

    ``count_pieces``: with what was pressed since the last good check, which reads the looks.
    """
    orders = read_orders(shop.store, as_of_us=as_of_us).values()
    surveys = lru_cache(maxsize=None)(
        lambda press, platen: judged_surveys(shop, press, platen, as_of_us=as_of_us))
    found = []
    for order in orders:
        one = _standing(order, surveys(order.press, order.platen), as_of_us)
        found.append(_with_pieces(shop, one, as_of_us) if count_pieces else one)
    return tuple(sorted(found, key=lambda one: (not one.order.is_open, -one.order.opened_at_us)))


def service_order(shop: Shop, order_id: str, *, as_of_us: int) -> OrderStanding:
    """One order with how it stands; NotFound if there is none."""
    order = read_orders(shop.store, as_of_us=as_of_us).get(order_id)
    if order is None:
        raise NotFound(f"there is no service order {order_id!r}")
    return _now(shop, order, as_of_us)


def pressed_meanwhile(
    shop: Shop, standing: OrderStanding, *, as_of_us: int
) -> tuple[CasePiece, ...]:
    """The pieces pressed between the last good check and what was found out of tolerance, newest
    first; InputError where nothing was found out."""
    if standing.pressed is None:
        raise InputError(f"order {standing.order.order_id} has no as-found survey out of tolerance,"
                         " so no pieces to list")
    frame = _pieces(shop, standing.order.press, standing.pressed.since_us,
                    standing.pressed.until_us, as_of_us)
    return case_pieces(frame)


def _now(shop: Shop, order: ServiceOrder, as_of_us: int) -> OrderStanding:
    """An order with all that can be said of it."""
    judged = judged_surveys(shop, order.press, order.platen, as_of_us=as_of_us)
    return _with_pieces(shop, _standing(order, judged, as_of_us), as_of_us)


def _standing(
    order: ServiceOrder, judged: tuple[SurveyFound, ...], as_of_us: int
) -> OrderStanding:
    """What the surveys of its platen say of an order."""
    ended = order.ended
    until_us = as_of_us if ended is None else min(ended.at_us, as_of_us)
    surveys = order_surveys(judged, opened_us=order.opened_at_us, until_us=until_us)
    state = order_state(surveys)
    if ended is not None:
        state = "closed" if ended.step == "close" else "cancelled"
    return OrderStanding(
        order=order, state=state, found=surveys.found, left=surveys.left, check=surveys.check,
        next_step=NEXT_STEPS[state].format(points=_points_wanted(surveys.to_cover)),
        last_good=surveys.last_good, n_found=surveys.n_found,
    )


def _points_wanted(to_cover: SurveyFound | None) -> str:
    """The points a survey must have to close an order."""
    if to_cover is None or to_cover.n_points < SPREAD_POINTS:
        return (f"{SPREAD_POINTS} points or more, the centre and the corners among them (common "
                "practice, no source)")
    return f"the {to_cover.n_points} points of survey {to_cover.survey_id}"


def _with_pieces(shop: Shop, one: OrderStanding, as_of_us: int) -> OrderStanding:
    """With what was pressed since the last good check, where it was found out of tolerance."""
    found, good = one.found, one.last_good
    if found is None or found.good is not False:
        return one
    frame = _pieces(shop, one.order.press, 0 if good is None else good.at_us, found.at_us,
                    as_of_us)
    pieces = case_pieces(frame)
    since_us = good.at_us if good else min((p.pressed_at_us for p in pieces), default=found.at_us)
    return replace(one, pressed=PressedSince(
        since_us=since_us, until_us=found.at_us, n_pieces=sum(piece.n for piece in pieces),
        by_status=tuple((name, n) for name, n in by_status(pieces).items() if n), last_good=good))


def _pieces(
    shop: Shop, press: str, since_us: int, until_us: int, as_of_us: int
) -> pd.DataFrame:
    """Pieces of a press pressed in a time, with where they are now."""
    looks = read_looks(shop.store, columns=list(COUNTED), as_of_us=as_of_us, since_us=since_us,
                       until_us=until_us)
    findings = read_findings(shop.store, as_of_us=as_of_us, since_us=since_us, until_us=until_us)
    counted = count_once(looks, findings)
    at = np.flatnonzero((counted.pieces["press"].astype(object) == press).to_numpy())
    pieces = listed_pieces(counted, at)
    return pieces.assign(**whereabouts(shop, pieces, as_of_us=as_of_us))
