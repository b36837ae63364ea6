"""Tallies kept by differences, against a plain count of all records, one at a time."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sqlalchemy import text

from qc.errors import InputError
from qc.store import Store
from qc.store.corrections import correct_inspection
from qc.store.inspections import add_inspections, read_findings, read_looks
from qc.store.tallies import (
    FACTORS,
    check_tallies,
    read_defect_tally,
    read_factor_tally,
    read_piece_tally,
    rebuild_tallies,
)
from tests.qc.store.made import CODES, KINDS, LOADED, T0, add, findings_of, look, random_looks
from tests.reference import tallies as plain

NOW = LOADED + 10**12


def _records(store: Store) -> list[dict[str, Any]]:
    looks = read_looks(store, as_of_us=NOW)
    rows = looks.astype(object).where(looks.notna(), None).to_dict("records")
    by_look = {number: row | {"findings": []}
               for number, row in zip(looks.index, rows, strict=True)}
    found = read_findings(store, as_of_us=NOW)
    for look_number, kind, zone, n in zip(found["look"], found["kind"], found["zone"], found["n"],
                                          strict=True):
        by_look[look_number]["findings"].append((kind, zone if zone == zone else None, n))
    return list(by_look.values())


def _counts(frame: pd.DataFrame, keys: Iterable[str], value: str) -> dict[tuple[Any, ...], int]:
    names = list(keys)
    plain_rows = frame.astype(object).where(frame.notna(), None)
    rows = plain_rows[[*names, value]].itertuples(index=False)
    return {tuple(row[:-1]): row[-1] for row in rows if row[-1]}


def _agree(store: Store) -> None:
    pieces = plain.pieces_of(_records(store))
    place = ("hour_us", "press", "fabric", "transfer", "location", "look")
    counted = read_piece_tally(store)
    assert (_counts(counted, place, "n"), _counts(counted, place, "n_defective")) == (
        plain.piece_tally(pieces))
    assert _counts(read_defect_tally(store), (*place, "kind"), "n") == plain.defect_tally(pieces)
    for factor in (*FACTORS, "zone"):
        keys = ("hour_us", "level", "fabric", "transfer", "location", "look", "kind")
        kept = _counts(read_factor_tally(store, factor), keys, "n")
        assert kept == plain.factor_tally(pieces, factor), factor


def test_tallies_hold_what_a_plain_count_gives(store: Store) -> None:
    rng = np.random.default_rng(7)
    for batch in range(4):  # the same few pieces come back in every batch
        looks, findings = random_looks(300, rng, n_pieces=400)
        add_inspections(store, looks, findings, by="ann", at_us=LOADED + batch, source=None)
    _agree(store)
    assert check_tallies(store) == []


def test_corrections_move_counts(store: Store) -> None:
    rng = np.random.default_rng(8)
    looks, findings = random_looks(200, rng, n_pieces=120)
    add_inspections(store, looks, findings, by="ann", at_us=LOADED, source=None)
    standing = read_looks(store, as_of_us=NOW)
    add(store, [look("codes")], new_codes=CODES)
    for step, at in enumerate(rng.permutation(len(standing))[:25]):
        row = standing.iloc[at]
        location = row["location"] if isinstance(row["location"], str) else None
        identity = {"piece_id": row["piece_id"], "attempt": int(row["attempt"]),
                    "location": location, "stage": row["stage"]}
        kinds = [{"kind": str(rng.choice(KINDS)), "zone": "top", "n": 1}] * int(rng.integers(0, 2))
        correct_inspection(
            store, identity=identity, findings=kinds, why="second look", by="bo",
            changes={"press": "P2" if row["press"] == "P1" else "P1", "operator": "cy",
                     "defective": 1 if kinds and row["pieces"] > 1 else None},
            at_us=LOADED + 100 + step, seen_version=None,
        )
    _agree(store)
    assert check_tallies(store) == []


def test_a_piece_counts_once_under_each_look_it_had(store: Store) -> None:
    add(store, [look("a", stage="after_peel"), look("a", stage="final"), look("a", stage="wash"),
                look("a", stage="customer"), look("a", attempt=2)],
        findings_of((1, "scorch", None, None, 1), (2, "scorch", None, None, 1),
                    (2, "bubble", "top", None, 1), (3, "scorch", None, None, 1),
                    (4, "wrinkle", None, None, 1)))
    counted = read_piece_tally(store)
    assert dict(zip(counted["look"], zip(counted["n"], counted["n_defective"], strict=True),
                    strict=True)) == {"prompt": (1, 1), "wash": (1, 0)}
    kinds = read_defect_tally(store)
    assert set(zip(kinds["look"], kinds["kind"], strict=True)) == {("prompt", "scorch"),
                                                                   ("wash", "bubble")}


def test_hours_in_reach(store: Store) -> None:
    add(store, [look("a", pressed_at=T0), look("b", pressed_at=T0 + plain.HOUR)])
    assert len(read_piece_tally(store, since_us=T0 + 1)) == 1
    assert len(read_piece_tally(store, until_us=T0 + plain.HOUR)) == 1
    assert len(read_piece_tally(store, since_us=T0, until_us=T0 + plain.HOUR + 1)) == 2
    assert read_factor_tally(store, "job", until_us=T0).empty


def test_an_unknown_factor_is_named_with_those_there_are(store: Store) -> None:
    with pytest.raises(InputError, match="no tally by 'moon'; there are: operator, transfer_lot"):
        read_factor_tally(store, "moon")


def test_a_new_store_has_empty_tallies(store: Store) -> None:
    assert read_piece_tally(store).empty
    assert read_factor_tally(store, "zone").empty
    assert check_tallies(store) == []


def test_a_check_finds_wrong_counts_and_a_rebuild_puts_them_right(store: Store) -> None:
    looks, findings = random_looks(300, np.random.default_rng(9))
    add_inspections(store, looks, findings, by="ann", at_us=LOADED, source=None)
    with store.engine.begin() as connection:
        connection.execute(text("UPDATE piece_tally SET n = n + 1 WHERE look > 0"))
        connection.execute(text("DELETE FROM defect_tally"))
    wrong = check_tallies(store)
    assert [line.split(":")[0] for line in wrong] == ["piece_tally", "defect_tally"]
    rebuild_tallies(store, by="ann", at_us=NOW)
    assert check_tallies(store) == []
    _agree(store)
