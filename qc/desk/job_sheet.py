"""What a job's sheet says: the job, what it is pressed on, with what, where, and how."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qc.desk.flag_words import units_of_shop
from qc.desk.heat_limits import heat_caution
from qc.desk.lists import ListedRecord, one_listed, symbol_of, text_of
from qc.desk.shop import Shop
from qc.domain.records import JOBS, RECIPES, Field
from qc.errors import NotFound
from qc.units import ShopUnits

WITH_LIMITS = {
    "temperature_c": ("temperature_low_c", "temperature_high_c"),
    "dwell_s": ("dwell_low_s", "dwell_high_s"),
    "pressure_kpa": ("pressure_low_kpa", "pressure_high_kpa"),
    "pressure_dial": ("pressure_low_dial", "pressure_high_dial"),
}
"""Settings of a recipe with the fields of their limits."""
SETTINGS = ("temperature_c", "dwell_s", "pressure_kpa", "pressure_dial", "pressure_class", "peel",
            "peel_wait_s", "cover", "second_press_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSetting:
    """One setting of the recipe in the shop's unit: what to set, and from where to where it may be;
    empty where the recipe does not say."""

    name: str
    target: str
    low: str
    high: str
    symbol: str


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSheet:
    """All that a job's sheet says, as of a moment.

    ``fabric``, ``transfer``, ``place``: their rows on the shop's lists, None where there are none.
    ``recipe``: the row that counts then, None: there is none. ``settings`` are of it, in the order
    in which a press is set; ``too_hot``: what is to be said of its heat, or ''.
    """

    job: str
    values: Mapping[str, Any]
    fabric: Mapping[str, Any] | None
    transfer: Mapping[str, Any] | None
    place: Mapping[str, Any] | None
    recipe: ListedRecord | None
    settings: tuple[SheetSetting, ...]
    units: ShopUnits
    as_of_us: int
    too_hot: str = ""


def job_sheet(shop: Shop, job: str, *, as_of_us: int) -> JobSheet:
    """The sheet of a job on the list.

    Raises
    ------
    NotFound
        The job is not on the list of jobs.
    """
    values = one_listed(shop, JOBS.name, (job,), as_of_us=as_of_us).values
    fabric, transfer = values["fabric"], values["transfer"]
    recipe = _found(shop, RECIPES.name, (fabric, transfer), as_of_us)
    if recipe is not None and not recipe.counts:
        recipe = None
    on = _values(shop, "fabrics", fabric, as_of_us)
    limit = None if on is None else on["heat_limit_c"]
    return JobSheet(
        job=job, values=values, fabric=on,
        too_hot="" if recipe is None else heat_caution(
            shop, recipe.values, math.inf if limit is None else limit),
        transfer=_values(shop, "transfers", transfer, as_of_us),
        place=_values(shop, "placements", values["location"], as_of_us), recipe=recipe,
        settings=() if recipe is None else _settings(shop, recipe.values),
        units=units_of_shop(shop), as_of_us=as_of_us)


def _values(shop: Shop, kind: str, code: str | None, as_of_us: int) -> Mapping[str, Any] | None:
    found = _found(shop, kind, (code,), as_of_us)
    return None if found is None else found.values


def _found(
    shop: Shop, kind: str, key: tuple[str | None, ...], as_of_us: int
) -> ListedRecord | None:
    known = tuple(part for part in key if part is not None)
    if len(known) < len(key):
        return None
    try:
        return one_listed(shop, kind, known, as_of_us=as_of_us)
    except NotFound:
        return None


def _settings(shop: Shop, values: Mapping[str, Any]) -> tuple[SheetSetting, ...]:
    found = []
    for name in SETTINGS:
        field = RECIPES.by_name[name]
        low, high = (_text(shop, RECIPES.by_name[limit], values)
                     for limit in WITH_LIMITS[name]) if name in WITH_LIMITS else ("", "")
        target = _text(shop, field, values)
        if target or low or high:
            found.append(SheetSetting(name=name, target=target, low=low, high=high,
                                      symbol=symbol_of(field, shop)))
    return tuple(found)


def _text(shop: Shop, field: Field, values: Mapping[str, Any]) -> str:
    return text_of(field, values[field.name], shop)
