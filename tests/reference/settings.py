"""Settings against recipe, piece by piece with plain loops; shares nothing with the program."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

CLASSES = ("light", "medium", "medium_firm", "firm", "heavy")
LIMITS = {
    "temperature_c": ("temperature_low_c", "temperature_high_c"),
    "dwell_s": ("dwell_low_s", "dwell_high_s"),
    "pressure_kpa": ("pressure_low_kpa", "pressure_high_kpa"),
    "pressure_dial": ("pressure_low_dial", "pressure_high_dial"),
    "second_press_s": (None, None), "peel_wait_s": (None, None),
}
PRESSURES = ("pressure_kpa", "pressure_dial", "pressure_class")
SLACK = {"temperature_c": 0.05, "pressure_kpa": 0.5}


def known(value: Any) -> bool:
    return value is not None and not (isinstance(value, float) and math.isnan(value))


def recipe_for(piece: dict[str, Any], recipes: list[dict[str, Any]]) -> dict[str, Any] | None:
    """The newest version valid at the pressing; of two from one moment the later in the list."""
    best = None
    for recipe in recipes:
        if (recipe["fabric"], recipe["transfer"]) != (piece["fabric"], piece["transfer"]):
            continue
        since = recipe["valid_from"] if known(recipe["valid_from"]) else -math.inf
        if since <= piece["pressed_at"] and (best is None or since >= best[0]):
            best = (since, recipe)
    return None if best is None else best[1]


def window(recipe: dict[str, Any], quantity: str, around: float) -> tuple[float, float] | None:
    """(low, high) of a number; None without a window."""
    low_name, high_name = LIMITS[quantity]
    target = recipe.get(quantity)
    low = recipe.get(low_name) if low_name else None
    high = recipe.get(high_name) if high_name else None
    peel = recipe.get("peel") if quantity == "peel_wait_s" else None
    if around > 0 and known(target):
        if not known(low) and peel != "hot":
            low = target - around
        if not known(high) and peel not in ("cool", "cold"):
            high = target + around
    if not known(low) and not known(high):
        return None
    low, high = (low if known(low) else -math.inf), (high if known(high) else math.inf)
    return (low, high) if low <= high else None


def asks(recipe: dict[str, Any], quantity: str) -> bool:
    if quantity not in LIMITS:
        return known(recipe.get(quantity))
    return any(name and known(recipe.get(name)) for name in (quantity, *LIMITS[quantity]))


def state_of(
    piece: dict[str, Any], recipe: dict[str, Any] | None, quantity: str, around: float
) -> str:
    """The state of one quantity at one piece."""
    if recipe is None:
        return "no_recipe"
    if not asks(recipe, quantity):
        return "not_asked"
    value = piece.get(quantity)
    if not known(value):
        return _gap(piece, recipe, quantity)
    if quantity == "cover":
        same = value.lower().split() == recipe["cover"].lower().split()
        return "inside" if same else "other"
    if quantity == "pressure_class":
        steps = CLASSES.index(value) - CLASSES.index(recipe["pressure_class"])
        return "inside" if steps == 0 else "above" if steps > 0 else "below"
    limits = window(recipe, quantity, around)
    if limits is None:
        return "no_window"
    slack = SLACK.get(quantity, 1e-9)
    if value < limits[0] - slack:
        return "below"
    return "above" if value > limits[1] + slack else "inside"


def _gap(piece: dict[str, Any], recipe: dict[str, Any], quantity: str) -> str:
    if quantity not in PRESSURES:
        return "not_recorded"
    recorded = [kind for kind in PRESSURES if known(piece.get(kind))]
    if any(asks(recipe, kind) for kind in recorded):
        return "not_asked"
    return "other_kind" if recorded else "not_recorded"


def counts(
    pieces: list[dict[str, Any]], recipes: list[dict[str, Any]], quantity: str, around: float
) -> dict[str, Counter[str]]:
    """Pieces by state, for each press."""
    out: dict[str, Counter[str]] = {}
    for piece in pieces:
        state = state_of(piece, recipe_for(piece, recipes), quantity, around)
        out.setdefault(piece["press"], Counter())[state] += piece["n"]
    return out
