"""What the presses were set to, against the recipes: who, on what, since when, and does it move."""

from __future__ import annotations

import pandas as pd

from qc.desk.shop import Shop
from qc.domain.counting import count_once
from qc.domain.instants import DAY_US
from qc.domain.recipes import SettingsAgainstRecipe
from qc.errors import InputError
from qc.presses.actual_heat import offsets_at
from qc.presses.settings_parts import work_of
from qc.presses.settings_summary import settings_against_recipe as summary_of
from qc.store.inspections import read_looks
from qc.store.records import read_records

USUAL_DAYS = 30
AROUND = {
    "temperature_c": "recipe_temperature_window_c", "dwell_s": "recipe_dwell_window_s",
    "second_press_s": "recipe_dwell_window_s", "pressure_kpa": "recipe_pressure_window_kpa",
    "pressure_dial": "recipe_dial_window", "peel_wait_s": "recipe_peel_wait_window_s",
}
"""The setting with the window of each quantity where a recipe has no limit of its own."""

COLUMNS = (
    "piece_id", "location", "attempt", "stage", "inspected_at", "pressed_at", "pieces", "press",
    "fabric", "transfer", "operator", "temperature_c", "dwell_s", "second_press_s", "pressure_kpa",
    "pressure_dial", "pressure_class", "peel_wait_s", "cover",
)


def settings_against_recipe(
    shop: Shop, *, as_of_us: int, since_us: int | None = None
) -> SettingsAgainstRecipe:
    """What was set at the pieces pressed from ``since_us`` (by default 30 days before) up to a
    moment, against their recipes.

    Raises
    ------
    InputError
        ``since_us`` is not before ``as_of_us``.
    """
    since = as_of_us - USUAL_DAYS * DAY_US if since_us is None else since_us
    if since >= as_of_us:
        raise InputError("the period begins after it ends; give an earlier start")
    recipes = read_records(shop.store, "recipes", as_of_us=as_of_us)
    valid_days = float(shop.settings["survey_valid_days"])
    if recipes.empty:
        return SettingsAgainstRecipe(
            since_us=since, until_us=as_of_us, n_recipes=0, n_pieces=0, n_with_recipe=0, rows=(),
            untold=(), without=(), faults=(), survey_valid_days=valid_days)
    pieces = _pieces(shop, since, as_of_us)
    work = work_of(pieces, until_us=as_of_us)
    offsets = offsets_at(
        work.press, work.pressed_us, read_records(shop.store, "platen_readings", as_of_us=as_of_us),
        read_records(shop.store, "instruments", as_of_us=as_of_us), valid_days=valid_days,
        default_uncertainty_c=float(shop.settings["probe_uncertainty_c"]), as_of_us=as_of_us,
    )
    around = {quantity: float(shop.settings[name]) for quantity, name in AROUND.items()}
    return summary_of(pieces, work, recipes, offsets, around=around, survey_valid_days=valid_days,
                      since_us=since, until_us=as_of_us)


def _pieces(shop: Shop, since_us: int, as_of_us: int) -> pd.DataFrame:
    """Pieces counted once that were pressed in the period, with what was set."""
    # looks at one piece may give slightly different times of pressing; the first one counts
    looks = read_looks(shop.store, as_of_us=as_of_us, columns=COLUMNS, since_us=since_us - DAY_US)
    no_findings = pd.DataFrame({"look": pd.Series(dtype="int64"), "kind": pd.Series(dtype=object),
                                "zone": pd.Series(dtype=object), "n": pd.Series(dtype="int64")})
    pieces = count_once(looks.assign(defective=0), no_findings).pieces
    pressed = pieces["pressed_at"].to_numpy(dtype="int64")
    return pieces[(pressed >= since_us) & (pressed <= as_of_us)].reset_index(drop=True)
