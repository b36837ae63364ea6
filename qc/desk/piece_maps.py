"""What the finished pieces say about each press: the map of its defects, and that in words."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.desk.presses import latest_surveys
from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US, from_us
from qc.domain.piece_maps import HEAT_KINDS, SIDE, PieceMap, PieceSpot
from qc.domain.platens import PlatenMap, place_on_platen
from qc.errors import NotFound
from qc.monitor.piece_maps import piece_maps as maps_from
from qc.monitor.zone_counts import zone_counts
from qc.presses.folding import PrintPlace, folded_zones
from qc.presses.surveys import number_or_none
from qc.store.inspections import read_findings, read_looks
from qc.store.records import read_records

LOOKED_BACK_DAYS = 180
"""Older work says nothing about a platen of today, and costs time."""
COUNTED = ("piece_id", "attempt", "inspected_at", "pressed_at", "stage", "press", "station",
           "fabric", "transfer", "location", "job", "pieces", "defective")
SURVEY_DAYS_BEFORE = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PressPieces:
    """The map of a press, and its spots in sentences, surest first."""

    map: PieceMap
    words: tuple[str, ...]


def piece_maps(shop: Shop, *, as_of_us: int) -> tuple[PressPieces, ...]:
    """The map of every press with work, by name, as known at a moment."""
    since_us = as_of_us - LOOKED_BACK_DAYS * DAY_US
    looks = read_looks(shop.store, as_of_us=as_of_us, since_us=since_us, columns=list(COUNTED))
    findings = read_findings(shop.store, as_of_us=as_of_us, since_us=since_us)
    found = maps_from(
        zone_counts(count_once(looks, findings), HEAT_KINDS), as_of_us=as_of_us,
        since_us=_adjusted(shop, as_of_us), fold=_Fold(shop, as_of_us).of,
    )
    surveys = latest_surveys(shop, as_of_us=as_of_us)
    return tuple(PressPieces(map=one, words=tuple(
        spot_words(one, spot, surveys, shop) for spot in one.spots)) for one in found)


def of_press(maps: tuple[PressPieces, ...], press: str) -> PressPieces:
    """The map of one press; NotFound where it had no work."""
    for one in maps:
        if one.map.press == press:
            return one
    raise NotFound(f"press {press} has pressed nothing lately")


def _adjusted(shop: Shop, as_of_us: int) -> dict[str, int]:
    """When each press was last adjusted."""
    readings = read_records(shop.store, "platen_readings", as_of_us=as_of_us)
    left = readings[readings["state"].astype(object) == "as_left"]
    when = left.groupby(left["press"].astype(str), observed=True)["measured_at"].max()
    return {str(press): int(at) for press, at in when.items()}


class _Fold:
    """Where the zones of prints lie on the presses, from the lists of presses and placements."""

    def __init__(self, shop: Shop, as_of_us: int) -> None:
        self._prints = {
            str(row["location"]): _print(row)
            for row in read_records(shop.store, "placements", as_of_us=as_of_us).to_dict("records")}
        self._platens = {
            str(row["press"]): _platen(row)
            for row in read_records(shop.store, "presses", as_of_us=as_of_us).to_dict("records")}
        self.of = lru_cache(maxsize=None)(self._of)

    def _of(self, press: str, location: str | None) -> npt.NDArray[np.float64]:
        return folded_zones(self._prints.get(location or ""), self._platens.get(press))


def _print(row: Mapping[Hashable, Any]) -> PrintPlace | None:
    width, height = (number_or_none(row.get(name)) for name in ("print_width_mm",
                                                                 "print_height_mm"))
    if width is None or height is None:
        return None
    return PrintPlace(width=width, height=height,
                      right=number_or_none(row.get("platen_right_mm")) or 0.0,
                      near=number_or_none(row.get("platen_near_mm")) or 0.0)


def _platen(row: Mapping[Hashable, Any]) -> tuple[float, float] | None:
    width, height = (number_or_none(row.get(name)) for name in ("platen_width_mm",
                                                                 "platen_height_mm"))
    return None if width is None or height is None else (width, height)


def spot_words(
    found: PieceMap, spot: PieceSpot, surveys: Mapping[tuple[str, str], PlatenMap], shop: Shop
) -> str:
    """A spot in one or two sentences: where, how many, how sure, what it is likely in, and what the
    latest survey says to it."""
    where = place_on_platen(*spot.place, SIDE, SIDE)
    since = from_us(found.since_us, shop.zone)
    chance = "under 1 in 1\u202f000" if spot.chance < 0.001 else f"1 in {1 / spot.chance:.0f}"
    first = (
        f"{where} of the platen: {spot.seen:.0f} lifted edges or weak bonds since "
        f"{since.day} {since:%b}, in {spot.n_jobs} jobs; the same work elsewhere gives "
        f"{spot.expected:.0f} ({spot.ratio:.1f} times, 95 % {spot.low:.1f} to {spot.high:.1f}; "
        f"by luck {chance}), about {_a_day(found, spot)} more a day"
    )
    return ". ".join(part for part in (first, _stations(spot), _survey(found, spot, surveys, shop))
                     if part) + "."


def _a_day(found: PieceMap, spot: PieceSpot) -> str:
    """What a spot costs: defects more than usual for each day of the period."""
    days = max((found.until_us - found.since_us) / DAY_US, 1.0)
    return f"{(spot.seen - spot.expected) / days:.1f}"


def _stations(spot: PieceSpot) -> str:
    if spot.n_stations < 2:
        return ""
    if len(spot.stations) == 1:
        return (f"It shows at station {spot.stations[0]} alone: look at the lower platen and the "
                "pad there first")
    if spot.stations:
        return "It shows at every station: look at what they share, the upper platen, first"
    return "At which stations it shows cannot be told yet"


def _survey(
    found: PieceMap, spot: PieceSpot, surveys: Mapping[tuple[str, str], PlatenMap], shop: Shop
) -> str:
    """What the latest survey of the press says to a spot."""
    mine = [one for (press, _), one in surveys.items() if press == found.press]
    late = [one for one in mine
            if one.surveyed_at_us >= found.since_us + SURVEY_DAYS_BEFORE * DAY_US]
    if not late:
        return "No survey was made since: survey that place before the next job"
    where = place_on_platen(*spot.place, SIDE, SIDE)
    for one in late:
        if place_on_platen(*one.coldest, *one.error_c.shape) == where:
            day = from_us(one.surveyed_at_us, shop.zone)
            return (f"The survey of {day.day} {day:%b} has the coldest point of the {one.platen} "
                    "platen there too")
    return ("The latest survey is not coldest there: pressure or the pad may be uneven; pull "
            "paper at the four corners")

