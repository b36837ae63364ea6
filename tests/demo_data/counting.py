"""Counts of defects in a simulated shop, read from its files' own columns."""

from __future__ import annotations

import numpy as np
import pandas as pd

from demo_data import Planted, SimulatedShop
from demo_data.starts import start_levels


def first_looks(shop: SimulatedShop) -> pd.DataFrame:
    """First looks by piece id, with the instant of pressing as ``us``."""
    looks = shop.frames["inspections"].query("attempt == 1 and stage == 'final'")
    looks = looks.set_index("piece_id")
    moments = pd.to_datetime(looks["pressed_at"], utc=True).dt.tz_localize(None)
    looks["us"] = moments.to_numpy().astype("datetime64[us]").astype(np.int64)
    return looks


def has_kind(looks: pd.DataFrame, kind: str) -> pd.Series:
    """Whether each look has an entry of the kind."""
    return looks["defects"].fillna("").str.contains(rf"(?:^|;){kind}(?:[@:*;]|$)")


def kind_counts(looks: pd.DataFrame, kind: str) -> pd.Series:
    """Pieces with the kind in each row: a place counts once in a piece, each piece in a stack."""
    entries = looks["defects"].dropna().str.split(";").explode()
    parts = entries.str.extract(r"^(\w+)[^*]*(?:\*(\d+))?$")
    mine = parts[parts[0] == kind][1].fillna("1").astype(int).groupby(level=0).sum()
    pieces = looks["pieces"] if "pieces" in looks else pd.Series(1, index=looks.index)
    return mine.reindex(looks.index, fill_value=0).clip(upper=pieces)


def n_pieces(looks: pd.DataFrame) -> pd.Series:
    """Pieces in each row."""
    return looks["pieces"] if "pieces" in looks else pd.Series(1, index=looks.index)


def level_of(shop: SimulatedShop, looks: pd.DataFrame, factor: str) -> pd.Series:
    """The level of each look, filled from its job where one row was left blank."""
    if factor == "shop":
        return pd.Series("", index=looks.index)
    if factor == "station":
        return looks["press"] + "/" + looks["station"]
    if factor == "time_since_start":
        press = pd.factorize(looks["press"])[0].astype(np.int64)
        fresh, names = start_levels(press, looks["us"].to_numpy())
        return pd.Series(np.array(names, dtype=object)[fresh], index=looks.index)
    if factor in ("operator", "press", "fabric", "transfer", "location"):
        return looks.groupby("job")[factor].transform("first")
    return looks[factor]


def touched_by(shop: SimulatedShop, looks: pd.DataFrame, planted: Planted) -> pd.Series:
    """Which looks are at pieces that the fault touches."""
    end = planted.end_us if planted.end_us is not None else shop.end_us
    inside = (looks["us"] >= planted.start_us) & (looks["us"] <= end)
    own = ((planted.factor, planted.level),)
    for factor, level in planted.within or own:  # of one press's first pieces: of both
        inside &= level_of(shop, looks, factor) == (level or "")
    return inside


def observed_and_usual(
    shop: SimulatedShop, looks: pd.DataFrame, mask: pd.Series, kind: str
) -> tuple[int, float]:
    """Defects of a kind among some looks, and what the usual rates give there."""
    usual = shop.usual.loc[looks.index[mask], kind]
    return int(kind_counts(looks[mask], kind).sum()), float(usual.sum())
