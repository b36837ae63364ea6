"""Measured streams of pieces: where the print sits, and what was set less what the recipe asks."""

from __future__ import annotations

import numpy as np
import pandas as pd

from qc.desk.flag_words import units_of_shop
from qc.desk.shop import Shop
from qc.desk.stream_charts.levels import of_level, press_only, work_columns
from qc.desk.stream_charts.points import Floats, Ints, ValuePoints
from qc.desk.stream_charts.steps import ends_of, starts_of
from qc.domain.counting import LOOK_OF_STAGE
from qc.domain.streams import Stream
from qc.presses.recipes import coded, numbers_of, recipes_applied
from qc.store.inspections import read_looks
from qc.store.records import read_records
from qc.units import from_stored, unit

MOST_READINGS = 2000
"""Single readings drawn one by one; of more the newest are."""
QUANTITIES = {
    "dx_mm": "length", "dy_mm": "length", "rotation_deg": "angle", "dwell_s": "duration",
    "temperature_c": "temperature_difference", "pressure_kpa": "gauge_pressure",
}
_LOOK = ("piece_id", "location", "attempt", "stage", "inspected_at", "pressed_at")


def measured_points(
    shop: Shop, stream: Stream, *, as_of_us: int, since_us: int | None
) -> ValuePoints:
    """The points of placements or settings, oldest first.

    Of several looks at a piece the first with all measures counts. A setting counts as its
    distance from the recipe that was valid when the piece was pressed; a piece without one is
    left out.
    """
    rows, left_out = _readings(shop, stream, as_of_us, since_us)
    values = rows[list(stream.measures)].to_numpy(dtype=np.float64)
    labels: tuple[str, ...] = ()
    pressed = rows["pressed_at"].to_numpy(dtype=np.int64)
    if stream.step == "piece":
        keys, start = np.arange(len(rows)), pressed
        end, labels = pressed + 1, tuple(rows["piece_id"].astype(str))
    elif stream.step == "job":
        keys, names = pd.factorize(rows["job"].astype(object))
        labels = tuple(str(name) for name in names)
        start = np.array([pressed[keys == k].min() for k in range(len(names))], dtype=np.int64)
        end = np.array([pressed[keys == k].max() + 1 for k in range(len(names))], dtype=np.int64)
    else:
        start, keys = np.unique(starts_of(shop, pressed, stream.step), return_inverse=True)
        end = ends_of(shop, start, stream.step)
    return _points(stream, values, keys.astype(np.int64), start, end, labels, shop, left_out)


def _readings(
    shop: Shop, stream: Stream, as_of_us: int, since_us: int | None
) -> tuple[pd.DataFrame, int]:
    """Readings in the order of pressing, and how many pieces lack a target or a measure."""
    work = ("fabric", "transfer") if stream.subject == "setting" else ()
    job = ("job",) if stream.step == "job" else ()
    columns = dict.fromkeys([*_LOOK, *work, *job, *work_columns(stream), *stream.measures])
    looks = read_looks(
        shop.store, as_of_us=as_of_us, columns=list(columns), since_us=since_us,
        only=press_only(stream) if stream.by in ("shop", "station") else {stream.by: stream.level},
        having=stream.measures)
    looks = looks[of_level(looks, stream)]
    measured = looks[(looks["attempt"] == 1) & looks["stage"].isin(list(LOOK_OF_STAGE))]
    first = measured.sort_values("inspected_at", kind="stable").drop_duplicates(
        ["piece_id", "location"])
    rows = first.sort_values(["pressed_at", "piece_id"], kind="stable")
    n_measured = len(rows)
    if stream.subject == "setting":
        rows = _against_recipe(shop, rows, stream.of, as_of_us)
    if stream.step == "job":
        rows = rows[rows["job"].notna()]
    left_out = n_measured - len(rows)
    return (rows.tail(MOST_READINGS) if stream.step == "piece" else rows), left_out


def _against_recipe(
    shop: Shop, rows: pd.DataFrame, quantity: str, as_of_us: int
) -> pd.DataFrame:
    recipes = read_records(shop.store, "recipes", as_of_us=as_of_us)
    if recipes.empty or not len(rows):
        return rows[:0]
    applied = recipes_applied(coded(rows["fabric"]), coded(rows["transfer"]),
                              rows["pressed_at"].to_numpy(dtype=np.int64), recipes).now
    target = np.append(numbers_of(recipes, quantity), np.nan)[applied]  # -1 is the last: none
    gap = rows[quantity].to_numpy(dtype=np.float64) - target
    return rows.assign(**{quantity: gap})[~np.isnan(gap)]


def unit_of(shop: Shop, measure: str) -> str:
    """The sign of the unit a measure is shown in."""
    quantity = QUANTITIES.get(measure)
    return "" if quantity is None else unit(quantity, _suffix(shop, quantity)).symbol


def scale_of(shop: Shop, measure: str) -> float:
    """The factor from the stored unit of a difference to the unit the shop reads."""
    quantity = QUANTITIES.get(measure)
    return 1.0 if quantity is None else float(from_stored(1.0, quantity, _suffix(shop, quantity)))


def _suffix(shop: Shop, quantity: str) -> str:
    return units_of_shop(shop).suffix(quantity)


def _points(
    stream: Stream, values: Floats, keys: Ints, start: Ints, end: Ints, labels: tuple[str, ...],
    shop: Shop, left_out: int,
) -> ValuePoints:
    order = np.argsort(start, kind="stable")  # jobs by their first piece
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    point_of = place[keys] if len(keys) else keys
    rows = np.argsort(point_of, kind="stable")
    n = np.bincount(point_of, minlength=len(start)).astype(np.int64)
    sums = np.zeros((len(start), values.shape[1]))
    np.add.at(sums, point_of, values)
    return ValuePoints(
        stream=stream, start_us=start[order], end_us=end[order], n=n, left_out=left_out,
        labels=tuple(labels[k] for k in order) if labels else (), rows=values[rows],
        point_of=point_of[rows], value=sums / np.maximum(n, 1)[:, None],
        units=tuple(unit_of(shop, name) for name in stream.measures),
        scales=tuple(scale_of(shop, name) for name in stream.measures),
    )
