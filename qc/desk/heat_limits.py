"""Recipes hotter than their fabric takes, or far from what anything is pressed at: said wherever
the recipe is kept, read or printed.

A caution and no refusal: what a shop presses at is to be on record as it is, and a limit that is
put down later must be held against the recipes there are.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from qc.desk.flag_words import units_of_shop
from qc.desk.lists import listed, plain_number
from qc.desk.shop import Shop
from qc.domain.records import FABRICS, RECIPES
from qc.store.records import read_listed
from qc.units import from_stored, unit

ASKED = ("temperature_c", "temperature_high_c", "temperature_low_c")
COLDEST_C, HOTTEST_C = 120.0, 210.0
"""Low-temperature film and sublimation: common practice, no source."""
FAR_C = 15.0
"""So far beyond, a number is likelier in another unit. A proposed starting value, no source."""
MOST_SAID = 5
"""Recipes of one file that are named one by one; more are counted."""


def heat_caution(shop: Shop, recipe: Mapping[Any, Any], limit_c: float | None = None) -> str:
    """What is to be said of a recipe (values in stored units) above the most heat its fabric takes,
    or far from any usual heat; '' where there is nothing to be said. ``limit_c``: that limit, by
    default as it stands on the list of fabrics now."""
    limit = _limit(shop, recipe["fabric"]) if limit_c is None else limit_c
    return _caution(shop, recipe, limit)


def recipes_too_hot(shop: Shop, fabric: str, *, as_of_us: int) -> tuple[str, ...]:
    """The same of every recipe of a fabric that counts, each with its transfer."""
    limit = _limit(shop, fabric)
    said = ((one.values["transfer"], _caution(shop, one.values, limit))
            for one in listed(shop, RECIPES.name, as_of_us=as_of_us)
            if one.values["fabric"] == fabric)
    return tuple(f"Recipe of {fabric} with {transfer}: {words}" for transfer, words in said
                 if words)


def heat_warnings(
    shop: Shop, recipes: pd.DataFrame, fabrics: pd.DataFrame
) -> tuple[str, ...]:
    """The same of recipes that come in a file, with the fabrics there are and that come with it."""
    known = fabrics.reindex(columns=["fabric", "heat_limit_c"])
    limits = dict(zip(known["fabric"].astype(str), known["heat_limit_c"], strict=True))
    said = []
    for row in recipes.reindex(columns=["fabric", "transfer", *ASKED]).to_dict("records"):
        limit = limits.get(str(row["fabric"]))
        words = _caution(shop, row, None if pd.isna(limit) else float(limit))
        if words:
            said.append(f"recipe of {row['fabric']} with {row['transfer']}: {words}")
    more = len(said) - MOST_SAID
    return (*said[:MOST_SAID], *([f"and {more} more such recipes"] if more > 0 else []))


def _limit(shop: Shop, fabric: str) -> float | None:
    rows = read_listed(shop.store, FABRICS.name, having={"fabric": fabric})
    return rows[-1].values["heat_limit_c"] if rows else None


def _caution(shop: Shop, recipe: Mapping[Any, Any], limit_c: float | None) -> str:
    asked = [float(recipe[name]) for name in ASKED if not pd.isna(recipe.get(name))]
    if not asked:
        return ""
    suffix = units_of_shop(shop).suffix("temperature")

    def said(value_c: float) -> str:
        number = plain_number(float(from_stored(value_c, "temperature", suffix)))
        return f"{number} {unit('temperature', suffix).symbol}"

    found = []
    if limit_c is not None and max(asked) > limit_c:
        found.append(f"{said(max(asked))} is above the most heat {recipe['fabric']} takes,"
                     f" {said(limit_c)}: it may glaze, melt or bleed")
    for strange, way in ((max(asked), "hotter"), (min(asked), "colder")):
        if strange > HOTTEST_C + FAR_C if way == "hotter" else strange < COLDEST_C - FAR_C:
            found.append(f"{said(strange)} is {way} than any transfer is usually pressed at,"
                         f" {said(COLDEST_C)} to {said(HOTTEST_C)}: look whether its unit is meant")
    return "; ".join(found)
