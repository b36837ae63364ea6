"""The counting rule: a piece counts once, and late faults count against pieces that had that look.

A piece is (piece_id, location). Its first-attempt looks are united; later attempts and the
customer's own looks never enter a denominator. Every rate in the program starts here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pandas as pd

LOOKS = ("prompt", "after_24h", "wash")
"""Groups of stages with a denominator of their own; 'prompt' is after_peel and final."""

LATE = "late"
"""Tallied like a group of looks: pieces that never had a prompt look, so that prompt and late
together are every piece once."""

LOOK_OF_STAGE = {"after_peel": "prompt", "final": "prompt", "after_24h": "after_24h",
                 "wash": "wash"}


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedPieces:
    """Pieces counted once.

    ``pieces``: one row for each (piece_id, location): the columns of the first look (blanks filled
    from later ones), ``n`` (pieces in the row, 1 unless a counted block), ``n_defective`` and, for
    each of `LOOKS`, a boolean column ``had_<look>`` and ``seen_<look>``, when that look was first
    made (microseconds UTC, -1 where it was not).
    ``faults``: one row for each (piece row, kind, zone): ``at`` (position in ``pieces``), ``kind``,
    ``zone`` (None if not said), ``look`` at which it was first seen, ``n`` pieces with that kind
    in that zone, ``seen`` when first. ``kinds``: the same without zone, one row for each
    (piece row, kind). ``filled``: by column, the piece rows whose value came from a later look.
    """

    pieces: pd.DataFrame
    faults: pd.DataFrame
    kinds: pd.DataFrame
    filled: Mapping[str, npt.NDArray[np.int64]] = field(default_factory=dict)


def count_once(looks: pd.DataFrame, findings: pd.DataFrame) -> CountedPieces:
    """Unite the looks at each piece.

    Parameters
    ----------
    looks : one row for each look, with at least piece_id, location, attempt, stage, inspected_at,
        pieces, defective; further columns (press, fabric, ...) are carried along. The index is
        the look's number.
    findings : look (index value in ``looks``), kind, zone, n.

    Notes
    -----
    Faults seen at several looks of a block are not added: the largest count stands.
    """
    counted = looks[(looks["attempt"] == 1) & looks["stage"].isin(list(LOOK_OF_STAGE))]
    group = _look_groups(counted["stage"])
    key = _piece_numbers(counted)
    order = np.lexsort((counted["inspected_at"].to_numpy(), key))
    counted, group, key = counted.iloc[order], group.iloc[order], key[order]
    first = np.r_[True, key[1:] != key[:-1]] if len(key) else np.zeros(0, dtype=bool)
    position = np.cumsum(first) - 1
    pieces, filled = _united(counted, first, position)
    for look in LOOKS:
        seen = _first_seen(counted, position, (group == look).to_numpy(), len(pieces))
        pieces[f"had_{look}"] = seen >= 0
        pieces[f"seen_{look}"] = seen
    faults = _faults(counted, group, position, findings)
    kinds = _merged(faults, ["at", "kind"], pieces)
    pieces["n_defective"] = _n_defective(counted, position, kinds, pieces)
    return CountedPieces(pieces=pieces, faults=faults, kinds=kinds, filled=filled)


def _look_groups(stage: pd.Series) -> pd.Series:
    """The look group of each stage, stages that belong to one (see `LOOK_OF_STAGE`)."""
    named = stage.astype("category")
    number = [LOOKS.index(LOOK_OF_STAGE[name]) if name in LOOK_OF_STAGE else -1
              for name in named.cat.categories]
    codes = np.array([*number, -1], dtype=np.int8)[named.cat.codes]
    group = pd.Categorical.from_codes(codes, dtype=pd.CategoricalDtype(list(LOOKS)))
    return pd.Series(group, index=stage.index)


def _first_seen(
    counted: pd.DataFrame,
    position: npt.NDArray[np.int64],
    chosen: npt.NDArray[np.bool_],
    n_pieces: int,
) -> npt.NDArray[np.int64]:
    seen = np.full(n_pieces, -1, dtype=np.int64)
    when = counted["inspected_at"].to_numpy(dtype=np.int64)
    backwards = np.flatnonzero(chosen)[::-1]  # rows are in time order: the earliest is written last
    seen[position[backwards]] = when[backwards]
    return seen


def _piece_numbers(looks: pd.DataFrame) -> npt.NDArray[np.int64]:
    piece = pd.factorize(looks["piece_id"])[0].astype(np.int64)
    place = pd.factorize(looks["location"])[0].astype(np.int64) + 1  # no location is one more place
    n_places = int(place.max()) + 1 if len(place) else 1
    return piece * n_places + place


def _united(
    counted: pd.DataFrame, first: npt.NDArray[np.bool_], position: npt.NDArray[np.int64]
) -> tuple[pd.DataFrame, dict[str, npt.NDArray[np.int64]]]:
    pieces = counted[first].reset_index(drop=True)
    filled: dict[str, npt.NDArray[np.int64]] = {}
    repeated = counted[~first]
    if len(repeated):
        at = position[~first]
        for column in pieces.columns:
            blank = pieces[column].isna().to_numpy()
            if blank[at].any():
                later = pd.Series(repeated[column].to_numpy(), index=at).dropna()
                later = later[~later.index.duplicated()]
                fill = later[blank[later.index]]
                pieces[column] = pieces[column].astype(object)
                pieces.loc[fill.index, column] = fill
                pieces[column] = pieces[column].infer_objects()
                filled[str(column)] = fill.index.to_numpy(dtype=np.int64)
        largest = pd.Series(repeated["pieces"].to_numpy(), index=at).groupby(level=0).max()
        pieces.loc[largest.index, "pieces"] = np.maximum(
            pieces.loc[largest.index, "pieces"], largest
        )
    return pieces.rename(columns={"pieces": "n"}), filled


def _faults(
    counted: pd.DataFrame,
    group: pd.Series,
    position: npt.NDArray[np.int64],
    findings: pd.DataFrame,
) -> pd.DataFrame:
    if findings.empty:  # most looks of a bench: grouping nothing would cost more than all the rest
        return _no_faults()
    where = pd.Series(np.arange(len(counted)), index=counted.index)
    row = findings["look"].map(where)
    known = row.notna().to_numpy()
    row_at = row[known].to_numpy(dtype=np.int64)
    faults = pd.DataFrame(
        {
            "at": position[row_at],
            "kind": findings["kind"].astype(object).to_numpy()[known],
            "zone": findings["zone"].astype(object).to_numpy()[known],
            "look": group.iloc[row_at].astype(object).to_numpy(),
            "n": np.minimum(
                findings["n"].to_numpy(dtype=np.int64)[known],
                counted["pieces"].to_numpy(dtype=np.int64)[row_at],
            ),
            "row": row_at,
            "seen": counted["inspected_at"].to_numpy(dtype=np.int64)[row_at],
        }
    ).sort_values("row", kind="stable")
    # within one look the zones of a kind are different pieces of a block; across looks they repeat
    keys = ["at", "kind", "zone"]
    in_look = faults.groupby([*keys, "row", "look", "seen"], dropna=False, sort=False)["n"].sum()
    in_order = in_look.reset_index().sort_values("row", kind="stable")
    return (
        in_order.groupby(keys, dropna=False, sort=False)
        .agg(look=("look", "first"), n=("n", "max"), seen=("seen", "first"))
        .reset_index()
    )


def _no_faults() -> pd.DataFrame:
    whole, text = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=object)
    return pd.DataFrame({"at": whole, "kind": text, "zone": text, "look": text, "n": whole,
                         "seen": whole})


def _merged(faults: pd.DataFrame, keys: list[str], pieces: pd.DataFrame) -> pd.DataFrame:
    if faults.empty:
        return faults[[*keys, "look", "n", "seen"]]
    total = faults.groupby(keys, sort=False).agg(
        look=("look", "first"), n=("n", "sum"), seen=("seen", "min")
    )
    total = total.reset_index()
    total["n"] = np.minimum(total["n"].to_numpy(), pieces["n"].to_numpy()[total["at"].to_numpy()])
    return total


def _n_defective(
    counted: pd.DataFrame,
    position: npt.NDArray[np.int64],
    kinds: pd.DataFrame,
    pieces: pd.DataFrame,
) -> npt.NDArray[np.int64]:
    said = np.zeros(len(pieces), dtype=np.int64)
    declared = counted["defective"].fillna(0).to_numpy(dtype=np.int64)
    np.maximum.at(said, position, declared)
    np.maximum.at(said, kinds["at"].to_numpy(dtype=np.int64), kinds["n"].to_numpy(dtype=np.int64))
    return np.minimum(said, pieces["n"].to_numpy(dtype=np.int64))
