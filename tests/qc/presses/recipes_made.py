"""Pieces and recipes of an invented shop, as frames in stored units, and what is found of them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from qc.domain.instants import DAY_US
from qc.domain.recipes import SettingRow, SettingsAgainstRecipe
from qc.domain.records import RECIPES
from qc.presses.actual_heat import offsets_at
from qc.presses.settings_parts import work_of
from qc.presses.settings_summary import settings_against_recipe
from tests.qc.presses.made import DEFAULT_C, T0, instruments, readings

SETTINGS = ("temperature_c", "dwell_s", "second_press_s", "pressure_kpa", "pressure_dial",
            "pressure_class", "peel_wait_s", "cover")
AS_OF = T0 + 30 * DAY_US


def at(day: float) -> int:
    return T0 + round(day * DAY_US)


def piece(day: float = 10.0, **given: Any) -> dict[str, Any]:
    """One piece pressed on a day; nothing set unless given."""
    return {"press": "P1", "fabric": "rib", "transfer": "film", "operator": "Ana",
            "pressed_at": at(day), "n": 1} | dict.fromkeys(SETTINGS) | given


def recipe(**given: Any) -> dict[str, Any]:
    """One version of the recipe of rib with film; it asks nothing unless given."""
    empty = dict.fromkeys(field.name for field in RECIPES.fields)
    return empty | {"fabric": "rib", "transfer": "film", "version": "1"} | given


def pieces_frame(pieces: list[dict[str, Any]]) -> pd.DataFrame:
    frame = pd.DataFrame(pieces, columns=list(piece()))
    names = ("press", "fabric", "transfer", "operator", "pressure_class", "cover")
    return frame.astype({name: float for name in SETTINGS if name not in names}).astype(
        dict.fromkeys(names, "category"))


def recipes_frame(recipes: list[dict[str, Any]]) -> pd.DataFrame:
    frame = pd.DataFrame(recipes, columns=[field.name for field in RECIPES.fields])
    kinds = {field.name: float for field in RECIPES.fields if not field.is_text}
    kinds["valid_from"] = "Int64"
    return frame.astype(kinds)


def found(
    pieces: list[dict[str, Any]], recipes: list[dict[str, Any]], *,
    surveys: pd.DataFrame | None = None, probes: pd.DataFrame | None = None,
    valid_days: float = 14, **around: float,
) -> SettingsAgainstRecipe:
    """The settings of pieces pressed before `AS_OF` against recipes."""
    frame = pieces_frame(pieces)
    work = work_of(frame, until_us=AS_OF)
    offsets = offsets_at(
        work.press, work.pressed_us, readings() if surveys is None else surveys,
        instruments() if probes is None else probes, valid_days=valid_days,
        default_uncertainty_c=DEFAULT_C, as_of_us=AS_OF)
    return settings_against_recipe(
        frame, work, recipes_frame(recipes), offsets, around=around,
        survey_valid_days=valid_days, since_us=T0, until_us=AS_OF)


def one(result: SettingsAgainstRecipe, quantity: str, press: str = "P1") -> SettingRow:
    """The row of a quantity of a press."""
    row, = [row for row in (*result.rows, *result.untold)
            if (row.press, row.quantity) == (press, quantity)]
    return row


def random_shop(
    rng: np.random.Generator, n: int = 400
) -> tuple[list[dict[str, Any]], list[dict[str, Any]]]:
    """Pieces and recipes with every kind of gap, clash and version."""
    def some(value: Any, chance: float = 0.8) -> Any:
        return value if rng.random() < chance else None

    def near(target: float, step: float) -> float:
        return float(target + step * rng.integers(-3, 4))

    covers, classes = ["matt sheet", "Matt  Sheet", "parchment"], ["light", "medium", "firm"]
    pieces = [
        piece(float(rng.integers(0, 120)) / 4, press=f"P{rng.integers(3)}",
              n=int(rng.integers(1, 5)), operator=some("Ana"),
              fabric=str(rng.choice(["rib", "jersey", "fleece"])),
              transfer=str(rng.choice(["film", "foam"])), temperature_c=some(near(150, 2.5)),
              dwell_s=some(near(15, 1)), second_press_s=some(near(4, 1)),
              peel_wait_s=some(near(20, 5)), pressure_kpa=some(near(280, 20), 0.5),
              pressure_dial=some(near(5, 1), 0.3),
              pressure_class=some(str(rng.choice(classes)), 0.3),
              cover=some(str(rng.choice(covers))))
        for _ in range(n)
    ]
    recipes = []
    for fabric in ("rib", "jersey", "velvet"):
        for transfer in ("film", "foam"):
            for version in range(int(rng.integers(0, 4))):
                recipes.append(recipe(
                    fabric=fabric, transfer=transfer, version=str(version),
                    valid_from=some(at(float(rng.integers(0, 25)))),
                    temperature_c=some(150.0), temperature_low_c=some(near(147, 1), 0.5),
                    temperature_high_c=some(near(152, 1), 0.5), dwell_s=some(15.0),
                    dwell_low_s=some(near(14, 1), 0.5), dwell_high_s=some(near(16, 1), 0.5),
                    pressure_kpa=some(280.0), pressure_low_kpa=some(260.0, 0.5),
                    pressure_dial=some(5.0, 0.4), pressure_high_dial=some(6.0, 0.4),
                    pressure_class=some(str(rng.choice(classes)), 0.4),
                    peel=some(str(rng.choice(["hot", "warm", "cool", "cold"]))),
                    peel_wait_s=some(20.0), second_press_s=some(4.0), cover=some("matt sheet")))
    rng.shuffle(recipes)
    return pieces, recipes
