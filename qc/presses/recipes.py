"""Which version of a recipe a piece was pressed by, and what that version asks of each setting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.recipes import RecipeFault
from qc.domain.records import PRESSURE_CLASSES

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

ALWAYS = np.iinfo(np.int64).min
"""From when a version without a date counts."""

LIMITS: Mapping[str, tuple[str, str]] = {
    "temperature_c": ("temperature_low_c", "temperature_high_c"),
    "dwell_s": ("dwell_low_s", "dwell_high_s"),
    "pressure_kpa": ("pressure_low_kpa", "pressure_high_kpa"),
    "pressure_dial": ("pressure_low_dial", "pressure_high_dial"),
    "second_press_s": ("", ""),
    "peel_wait_s": ("", ""),
}
"""Fields of a recipe with the limits of each number; empty where a recipe has none."""

OPEN_SIDE = {"hot": "low", "cool": "high", "cold": "high"}
"""Common practice, no source: a hot peel cannot come too soon, a cool or cold one not too late, so
a default window round a wait is open there. A warm peel has both sides."""

HALF_A_DIGIT = {"temperature_c": 0.05, "pressure_kpa": 0.5}
"""Limits are often copied from sheets in the other unit, to tenths of a degree or whole kPa: a
value this near to a limit is on it. Elsewhere only the noise of arithmetic is allowed for."""
NOISE = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Coded:
    """Texts by number: ``codes`` point into ``levels``, -1 where there is none."""

    codes: Ints
    levels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Applied:
    """Rows of the recipes that count for each piece, -1 for none: the version valid when it was
    pressed, and the one that counted before that version. ``listed`` : its fabric and transfer have
    a recipe at all, be it from later on."""

    now: Ints
    before: Ints
    listed: Bools


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Windows:
    """What each recipe asks of one quantity, (recipes,), stored unit.

    ``low``, ``high`` : inclusive, infinite where that side is open. ``asked`` : the recipe speaks
    of it; ``known`` : there is a window; ``by_default`` : at least one side is from the shop's
    settings; ``inverted`` : nothing lies inside, so it does not count as a window.
    """

    target: Floats
    low: Floats
    high: Floats
    asked: Bools
    known: Bools
    by_default: Bools
    inverted: Bools
    slack: float


def coded(values: pd.Series) -> Coded:
    """A text column as numbers."""
    if isinstance(values.dtype, pd.CategoricalDtype):
        found = values.cat.codes.to_numpy(dtype=np.int64), values.cat.categories
    else:
        found = pd.factorize(values.astype(object))
    return Coded(np.asarray(found[0], dtype=np.int64), tuple(str(level) for level in found[1]))


def numbers_of(frame: pd.DataFrame, name: str) -> Floats:
    """A column of numbers, nan where missing or where the frame has no such column."""
    if name not in frame:
        return np.full(len(frame), np.nan)
    return frame[name].to_numpy(dtype=np.float64, na_value=np.nan)


def valid_since(recipes: pd.DataFrame) -> Ints:
    """From when each version counts, microseconds UTC."""
    since = recipes["valid_from"].astype("Int64").fillna(ALWAYS)
    return np.asarray(since, dtype=np.int64)


def recipes_applied(
    fabric: Coded, transfer: Coded, pressed_us: Ints, recipes: pd.DataFrame
) -> Applied:
    """The version of its recipe that counted when each piece was pressed.

    Of the versions of a piece's fabric and transfer that are valid from its pressing or earlier
    the newest counts; of two valid from the same moment the one that stands later in ``recipes``
    (columns of that record kind, in the order of entry).
    """
    n_transfers = len(transfer.levels) + 1
    pair = np.where((fabric.codes < 0) | (transfer.codes < 0), -1,
                    fabric.codes * n_transfers + transfer.codes)
    recipe_pair = _pairs(recipes, fabric, transfer, n_transfers)
    rows = np.flatnonzero(recipe_pair >= 0)
    since = valid_since(recipes)[rows]
    rows = rows[np.lexsort((since, recipe_pair[rows]))]
    since, recipe_pair = valid_since(recipes)[rows], recipe_pair[rows]
    moments = np.unique(since)
    # one number for pair and moment, so that all pieces are looked up in one go
    step = len(moments) + 1
    keys = recipe_pair * step + np.searchsorted(moments, since, side="right")
    wanted = pair * step + np.searchsorted(moments, pressed_us, side="right")
    at = np.searchsorted(keys, wanted, side="right") - 1
    return Applied(
        now=_same_pair(rows, recipe_pair, at, pair),
        before=_same_pair(rows, recipe_pair, at - 1, pair),
        listed=(pair >= 0) & np.isin(pair, recipe_pair),
    )


def _pairs(recipes: pd.DataFrame, fabric: Coded, transfer: Coded, n_transfers: int) -> Ints:
    """The pair of each recipe in the numbers of the pieces; -1: no piece is of it."""
    numbers = []
    for name, known in (("fabric", fabric), ("transfer", transfer)):
        code_of = {level: code for code, level in enumerate(known.levels)}
        numbers.append(np.array([code_of.get(str(value), -1) for value in recipes[name]],
                                dtype=np.int64))
    return np.where((numbers[0] < 0) | (numbers[1] < 0), -1, numbers[0] * n_transfers + numbers[1])


def _same_pair(rows: Ints, recipe_pair: Ints, at: Ints, pair: Ints) -> Ints:
    """The recipe rows at sorted positions where they are of the piece's pair, else -1."""
    if len(rows) == 0:
        return np.full(len(pair), -1)
    inside = np.maximum(at, 0)
    return np.where((at >= 0) & (recipe_pair[inside] == pair), rows[inside], -1)


def windows_of(recipes: pd.DataFrame, quantity: str, around: float = 0.0) -> Windows:
    """The window of a number in each recipe.

    Its own limits count; a side without a limit is ``around`` away from the target where that is
    above 0 (a setting of the shop), else open. No limit and no setting: no window.
    """
    low_name, high_name = LIMITS[quantity]
    target = numbers_of(recipes, quantity)
    low, high = numbers_of(recipes, low_name), numbers_of(recipes, high_name)
    asked = ~(np.isnan(target) & np.isnan(low) & np.isnan(high))
    default = np.zeros(len(recipes), dtype=bool)
    if around > 0:
        low_open, high_open = _open_sides(recipes, quantity)
        from_low = np.isnan(low) & ~np.isnan(target) & ~low_open
        from_high = np.isnan(high) & ~np.isnan(target) & ~high_open
        low = np.where(from_low, target - around, low)
        high = np.where(from_high, target + around, high)
        default = from_low | from_high
    return _windows(target, low, high, asked, default, HALF_A_DIGIT.get(quantity, NOISE))


def _open_sides(recipes: pd.DataFrame, quantity: str) -> tuple[Bools, Bools]:
    peel = [str(value) for value in recipes["peel"]] if "peel" in recipes else [""] * len(recipes)
    side = np.array([OPEN_SIDE.get(one, "") if quantity == "peel_wait_s" else "" for one in peel])
    return side == "low", side == "high"


def _windows(
    target: Floats, low: Floats, high: Floats, asked: Bools, default: Bools, slack: float
) -> Windows:
    given = ~(np.isnan(low) & np.isnan(high))
    low, high = np.where(np.isnan(low), -np.inf, low), np.where(np.isnan(high), np.inf, high)
    inverted = low > high
    known = given & ~inverted
    return Windows(target=target, low=low, high=high, asked=asked, known=known,
                   by_default=default & known, inverted=inverted, slack=slack)


def class_windows(recipes: pd.DataFrame) -> Windows:
    """The pressure class of each recipe as its place in the order of classes: only the class
    itself is inside."""
    asked = coded(recipes["pressure_class"])
    target = class_places(asked)
    return _windows(target, target, target, ~np.isnan(target), np.zeros(len(target), dtype=bool),
                    NOISE)


def class_places(classes: Coded) -> Floats:
    """Pressure classes by their place in `PRESSURE_CLASSES`, nan for none."""
    place = {name: float(i) for i, name in enumerate(PRESSURE_CLASSES)}
    places = np.array([*(place.get(level, np.nan) for level in classes.levels), np.nan])
    return places[classes.codes]


def recipe_faults(
    recipes: pd.DataFrame, windows: Mapping[str, Windows], *, until_us: int
) -> tuple[RecipeFault, ...]:
    """What is wrong with the recipes that count from ``until_us`` or earlier."""
    since = valid_since(recipes)
    found = []
    for row in np.flatnonzero(since <= until_us).tolist():
        for quantity, asked in windows.items():
            if asked.inverted[row]:
                found.append(_fault(recipes, row, quantity, "inverted"))
            elif _misses(asked, row):
                found.append(_fault(recipes, row, quantity, "target_outside"))
    moments = pd.DataFrame({name: recipes[name].astype(str) for name in ("fabric", "transfer")})
    again = moments.assign(since=since).duplicated(keep="first").to_numpy() & (since <= until_us)
    found += [_fault(recipes, row, None, "same_moment") for row in np.flatnonzero(again).tolist()]
    return tuple(found)


def _misses(asked: Windows, row: int) -> bool:
    """Does a target lie outside its own window?"""
    target, slack = asked.target[row], asked.slack
    return bool(asked.known[row] and (
        target < asked.low[row] - slack or target > asked.high[row] + slack))


def _fault(recipes: pd.DataFrame, row: int, quantity: str | None, what: str) -> RecipeFault:
    one = recipes.iloc[row]
    version = None if pd.isna(one["version"]) else str(one["version"])
    return RecipeFault(fabric=str(one["fabric"]), transfer=str(one["transfer"]), version=version,
                       quantity=quantity, what=what)
