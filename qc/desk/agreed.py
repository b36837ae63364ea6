"""Changes of the process that the shop wanted: told, found by a case, or a new recipe."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from qc.desk.shop import Shop
from qc.domain.baselines import AgreedChange
from qc.domain.instants import DAY_US
from qc.domain.records import RECORD_KINDS
from qc.store.baselines import read_agreed_changes, recipe_authors
from qc.store.cases import agreed_changes as changes_of_cases
from qc.store.records import read_records

RECIPE_SHARE = 0.1
"""A recipe of a pairing with a smaller share of the work does not move the whole shop."""

RECIPE_LOOK_BACK_US = 30 * DAY_US

_SAME_RECIPE = frozenset({"fabric", "transfer", "version", "valid_from"})


def agreed_changes(
    shop: Shop, pieces: pd.DataFrame | None, *, as_of_us: int
) -> tuple[AgreedChange, ...]:
    """Every agreed change known at a moment and begun by then, oldest first.

    ``pieces`` : pieces counted once, by which a new recipe's part of the work is judged; None
    leaves recipes out.
    """
    found = [*read_agreed_changes(shop.store, as_of_us=as_of_us),
             *changes_of_cases(shop.store, as_of_us=as_of_us)]
    if pieces is not None:
        found += _new_recipes(shop, pieces, as_of_us)
    begun = [change for change in found if change.at_us <= as_of_us]
    return tuple(sorted(begun, key=lambda change: change.at_us))


def _new_recipes(shop: Shop, pieces: pd.DataFrame, as_of_us: int) -> Iterator[AgreedChange]:
    pairing = ["fabric", "transfer"]
    recipes = read_records(shop.store, "recipes", as_of_us=as_of_us)
    recipes = recipes[recipes.duplicated(pairing, keep=False)]
    authors = recipe_authors(shop.store) if len(recipes) else {}
    for key, mine in recipes.groupby(pairing, sort=True):
        fabric, transfer = map(str, key)
        for version, at_us in _later_versions(mine):
            if at_us <= as_of_us and _share(pieces, (fabric, transfer), at_us) >= RECIPE_SHARE:
                yield AgreedChange(
                    at_us=at_us, by=authors.get((fabric, transfer, version), ""),
                    why=f"recipe version {version} of {fabric} with {transfer}",
                )


def _later_versions(recipes: pd.DataFrame) -> Iterator[tuple[str, int]]:
    """Versions that took another's place and ask for something else, with when they did."""
    asked = [field.name for field in RECORD_KINDS["recipes"].fields
             if field.name not in _SAME_RECIPE and field.name in recipes]
    since = recipes["valid_from"].astype("Int64").fillna(np.iinfo(np.int64).min).astype("int64")
    inorder = recipes.assign(since=since).sort_values(["since", "version"], kind="stable")
    rows = inorder.to_dict("records")
    for before, after in zip(rows, rows[1:], strict=False):
        if any(not _same(before[name], after[name]) for name in asked):
            yield str(after["version"]), int(after["since"])


def _same(one: object, other: object) -> bool:
    missing = [bool(pd.isna(value)) for value in (one, other)]  # type: ignore[call-overload]
    return all(missing) or (not any(missing) and one == other)


def _share(pieces: pd.DataFrame, pairing: tuple[str, str], at_us: int) -> float:
    """Share of a pairing in the work from a month before a moment on."""
    late = pieces[pieces["pressed_at"] >= at_us - RECIPE_LOOK_BACK_US]
    mine = late[(late["fabric"] == pairing[0]) & (late["transfer"] == pairing[1])]
    return float(mine["n"].sum()) / max(float(late["n"].sum()), 1.0)
