"""Every piece's settings held against what its recipe asked: below, inside, above, or not told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from qc.domain.recipes import PRESSURE_KINDS, SETTING_STATES
from qc.presses.actual_heat import Offsets
from qc.presses.recipes import (
    LIMITS,
    Applied,
    Bools,
    Coded,
    Floats,
    Windows,
    class_places,
    class_windows,
    coded,
    numbers_of,
    windows_of,
)

States = npt.NDArray[np.int8]
CODE = {name: number for number, name in enumerate(SETTING_STATES)}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Judged:
    """One quantity at each piece, (pieces,).

    ``state`` : number in `SETTING_STATES`. ``recorded`` : whether it says what was set. ``off`` :
    set less target, nan where either is unknown or the quantity is a name. ``as_before`` :
    outside, but inside what the version before asked.
    ``hidden`` : see `SettingRow`. ``by_default`` : told by a window of the shop's settings.
    ``said``, ``asked`` : of a name, what was set and what the recipe asks.
    """

    state: States
    recorded: Bools
    off: Floats
    as_before: Bools
    hidden: Bools
    by_default: Bools
    said: Coded | None = None
    asked: Coded | None = None


def all_windows(recipes: pd.DataFrame, around: Mapping[str, float]) -> dict[str, Windows]:
    """The windows of all quantities with an order; ``around`` : see `windows_of`, by quantity."""
    numbers = {name: windows_of(recipes, name, around.get(name, 0.0)) for name in LIMITS}
    return numbers | {"pressure_class": class_windows(recipes)}


def judged_settings(
    pieces: pd.DataFrame, recipes: pd.DataFrame, windows: Mapping[str, Windows], applied: Applied,
    offsets: Offsets,
) -> dict[str, Judged]:
    """Every quantity of `SETTING_QUANTITIES` at each piece.

    Parameters
    ----------
    pieces, recipes : columns of their record kinds in stored units
    windows, applied, offsets : of these recipes and pieces
    """
    found = {
        name: _judged(numbers_of(pieces, name), windows[name], applied) for name in LIMITS
    }
    found["pressure_class"] = _judged_class(pieces, recipes, windows["pressure_class"], applied)
    found |= _pressures(found)
    found["cover"] = _judged_cover(pieces, recipes, applied)
    found["actual_temperature_c"] = _judged_actual(
        numbers_of(pieces, "temperature_c"), found["temperature_c"], windows["temperature_c"],
        applied, offsets)
    return found


def _judged(value: Floats, asked: Windows, applied: Applied) -> Judged:
    at = applied.now
    low, high = asked.low[at] - asked.slack, asked.high[at] + asked.slack
    state = _states(
        (at < 0, "no_recipe"), (~asked.asked[at], "not_asked"), (np.isnan(value), "not_recorded"),
        (~asked.known[at], "no_window"), (value < low, "below"), (value > high, "above"),
        otherwise="inside",
    )
    outside = (state == CODE["below"]) | (state == CODE["above"])
    told = outside | (state == CODE["inside"])
    return Judged(
        state=state, recorded=~np.isnan(value),
        off=np.where(at >= 0, value - asked.target[at], np.nan),
        as_before=outside & _inside(value, asked, applied.before),
        hidden=np.zeros(len(value), dtype=bool), by_default=told & asked.by_default[at],
    )


def _states(*cases: tuple[Bools, str], otherwise: str) -> States:
    """The state of the first case that applies."""
    state = np.select([applies for applies, _ in cases], [CODE[name] for _, name in cases],
                      CODE[otherwise])
    return state.astype(np.int8)


def _inside(value: Floats, asked: Windows, at: npt.NDArray[np.int64]) -> Bools:
    low, high = asked.low[at] - asked.slack, asked.high[at] + asked.slack
    return (at >= 0) & asked.known[at] & (value >= low) & (value <= high)


def _judged_class(
    pieces: pd.DataFrame, recipes: pd.DataFrame, asked: Windows, applied: Applied
) -> Judged:
    said = coded(pieces["pressure_class"])
    judged = _judged(class_places(said), asked, applied)
    return _named(judged, said, coded(recipes["pressure_class"]), applied)


def _named(judged: Judged, said: Coded, asked: Coded, applied: Applied) -> Judged:
    codes = np.where(applied.now >= 0, asked.codes[applied.now], -1)
    return replace(judged, said=said, asked=Coded(codes, asked.levels),
                   off=np.full(len(codes), np.nan))


def _judged_cover(pieces: pd.DataFrame, recipes: pd.DataFrame, applied: Applied) -> Judged:
    """A cover is the recipe's or another one; capitals and spaces make no difference."""
    said, asked = coded(pieces["cover"]), coded(recipes["cover"])
    number = {word: i for i, word in enumerate({_plain(w) for w in (*said.levels, *asked.levels)})}
    value, wanted = (
        np.array([*(number[_plain(word)] for word in one.levels), -1])[one.codes]
        for one in (said, asked)
    )
    at = applied.now
    state = _states(
        (at < 0, "no_recipe"), (wanted[at] < 0, "not_asked"), (value < 0, "not_recorded"),
        (value != wanted[at], "other"), otherwise="inside",
    )
    nothing = np.zeros(len(value), dtype=bool)
    other = (state == CODE["other"]) & (applied.before >= 0) & (value == wanted[applied.before])
    return _named(
        Judged(state=state, recorded=value >= 0, off=np.zeros(len(value)), as_before=other,
               hidden=nothing, by_default=nothing),
        said, asked, applied)


def _plain(word: str) -> str:
    return " ".join(word.casefold().split())


def _pressures(found: Mapping[str, Judged]) -> dict[str, Judged]:
    """A pressure that is not recorded is no gap where another kind the recipe asks for is; and
    where only kinds are recorded that the recipe does not speak of, that is said."""
    codes = [CODE[name] for name in ("not_recorded", "not_asked", "no_recipe")]
    states = {name: found[name].state for name in PRESSURE_KINDS}
    met = np.logical_or.reduce([~np.isin(state, codes) for state in states.values()])
    unmet = np.logical_or.reduce([
        (state == CODE["not_asked"]) & found[name].recorded for name, state in states.items()])
    out = {}
    for name, state in states.items():
        missing = state == CODE["not_recorded"]
        state = np.where(missing & met, CODE["not_asked"], state)
        state = np.where(missing & ~met & unmet, CODE["other_kind"], state)
        out[name] = replace(found[name], state=state.astype(np.int8))
    return out


def _judged_actual(
    displayed: Floats, by_display: Judged, asked: Windows, applied: Applied, offsets: Offsets
) -> Judged:
    """The display corrected by the surveyed offset; outside only beyond its uncertainty."""
    at = applied.now
    actual, reach = displayed + offsets.offset_c, offsets.uncertainty_c
    low, high = asked.low[at] - asked.slack, asked.high[at] + asked.slack
    untold = np.isin(by_display.state, [CODE["not_recorded"], CODE["no_window"]])
    state = _states(
        (at < 0, "no_recipe"), (~asked.asked[at] | untold, "not_asked"),
        (np.isnan(actual), "no_survey"), (actual + reach < low, "below"),
        (actual - reach > high, "above"),
        ((actual - reach >= low) & (actual + reach <= high), "inside"), otherwise="not_shown",
    )
    outside = (state == CODE["below"]) | (state == CODE["above"])
    told = ~np.isin(state, [CODE[name] for name in ("no_recipe", "not_asked", "no_survey")])
    return Judged(
        state=state, recorded=~np.isnan(displayed),
        off=np.where(told, actual - asked.target[at], np.nan),
        as_before=np.zeros(len(state), dtype=bool),
        hidden=outside & (by_display.state == CODE["inside"]),
        by_default=told & asked.by_default[at],
    )
