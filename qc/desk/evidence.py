"""What the monitor works on, taken from the store: pieces counted once, settings against recipe."""

from __future__ import annotations

import numpy as np
import pandas as pd

from qc.desk.presses import calibration_signals
from qc.desk.shop import Shop
from qc.domain.counting import CountedPieces, count_once
from qc.domain.platens import CalibrationSignal
from qc.monitor.evidence import Evidence, Floats, gather
from qc.monitor.readings import CHARACTERISTICS, Characteristic, Measurements, typical_targets
from qc.store.kept import KeptLooks
from qc.store.records import read_records

LOOK_COLUMNS = (
    "piece_id", "attempt", "inspected_at", "pressed_at", "stage", "press", "station", "fabric",
    "transfer", "location", "size", "job", "garment_lot", "transfer_lot", "operator",
    "disposition", "pieces", "defective",
    *(characteristic.name for characteristic in CHARACTERISTICS),
)


def counted_pieces(shop: Shop, kept: KeptLooks, *, as_of_us: int) -> CountedPieces:
    """Every piece of the shop counted once, as known at a moment."""
    return count_once(*kept.read(shop.store, as_of_us=as_of_us))


def evidence_of(counted: CountedPieces) -> Evidence:
    """The counted pieces as arrays for the monitor."""
    return gather(counted)


def measurements_of(
    shop: Shop, counted: CountedPieces, evidence: Evidence, *, as_of_us: int
) -> tuple[Measurements, ...]:
    """Recorded settings against the recipe, and measured placements."""
    recipes = read_records(shop.store, "recipes", as_of_us=as_of_us)
    return measurements_from(recipes, counted, evidence)


def measurements_from(
    recipes: pd.DataFrame, counted: CountedPieces, evidence: Evidence
) -> tuple[Measurements, ...]:
    """The same with the recipes at hand, as the store gives them."""
    unit = _first_units(evidence, len(counted.pieces))
    found = (_measured(c, counted.pieces, evidence, unit, recipes) for c in CHARACTERISTICS)
    return tuple(m for m in found if m is not None)


def platen_signals(shop: Shop, *, as_of_us: int) -> tuple[CalibrationSignal, ...]:
    """What the platen surveys say needs service."""
    return calibration_signals(shop, as_of_us=as_of_us)


def _measured(
    characteristic: Characteristic, pieces: pd.DataFrame, evidence: Evidence, unit: np.ndarray,
    recipes: pd.DataFrame,
) -> Measurements | None:
    recorded = pieces[characteristic.name].to_numpy(dtype=np.float64, na_value=np.nan)
    unit = unit[~np.isnan(recorded[evidence.unit_piece[unit]])]
    if len(unit) == 0:
        return None
    value = recorded[evidence.unit_piece[unit]]
    if characteristic.kind == "placement":
        target = np.zeros(len(unit))
    else:
        target = _targets(characteristic.name, evidence, unit, value, recipes)
        keep = target > 0
        unit, value, target = unit[keep], value[keep], target[keep]
        if len(unit) == 0:
            return None
    return Measurements(characteristic=characteristic, unit=unit, value=value, target=target)


def _first_units(evidence: Evidence, n_pieces: int) -> np.ndarray:
    """One unit for each piece that has any: its first look group."""
    n_units = len(evidence.unit_piece)
    first = np.full(n_pieces, n_units)
    first[evidence.unit_piece[::-1]] = np.arange(n_units - 1, -1, -1)
    return first[first < n_units]


def _targets(
    name: str, evidence: Evidence, unit: np.ndarray, value: Floats, recipes: pd.DataFrame
) -> Floats:
    """The recipe's value valid when a piece was pressed; without one, what is usual."""
    fabric, transfer = evidence.factors["fabric"], evidence.factors["transfer"]
    pairing = fabric.codes[unit] * len(transfer.levels) + transfer.codes[unit]
    pressed = evidence.pressed_us[unit]
    target = np.full(len(unit), np.nan)
    if name in recipes:
        for recipe in _in_order_of_validity(recipes, name).itertuples(index=False):
            if recipe.fabric not in fabric.levels or recipe.transfer not in transfer.levels:
                continue
            number = fabric.levels.index(recipe.fabric) * len(transfer.levels)
            number += transfer.levels.index(recipe.transfer)
            valid = (pairing == number) & (pressed >= recipe.since)
            target[valid] = recipe.target
    return typical_targets(value, pairing, target, evidence.seen_us[unit])


def _in_order_of_validity(recipes: pd.DataFrame, name: str) -> pd.DataFrame:
    known = recipes[recipes[name].notna()]
    since = known["valid_from"].astype("Int64").fillna(np.iinfo(np.int64).min).astype("int64")
    return pd.DataFrame(
        {
            "fabric": known["fabric"].astype(str), "transfer": known["transfer"].astype(str),
            "since": since, "target": known[name].astype(float),
        }
    ).sort_values("since", kind="stable")
