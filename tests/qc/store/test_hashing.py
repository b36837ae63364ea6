"""Fingerprints: the same for ever, whatever the order of columns, and different when rows are."""

from __future__ import annotations

from hashlib import blake2b

import numpy as np
import pandas as pd
import pytest

from qc.domain.records import FABRICS, INSPECTIONS, Field
from qc.store.hashing import (
    look_fingerprints,
    mixed,
    piece_base,
    record_fingerprints,
    row_sums,
    text_hashes,
)
from tests.qc.store.made import NO_FINDINGS, findings_of, look

STORED_IDENTITY = [7149057206912550921, -4869178253763961847]
STORED_CONTENT = [-7544639312219645443, -539772149582956447]
STORED_FABRIC = [-48728366788513108]


def test_the_mixer_is_splitmix64() -> None:
    # First outputs of SplitMix64 seeded with 0, from memory of the published reference code
    # (Steele, Lea, Flood 2014; Vigna's splitmix64.c): the state grows by the golden gamma.
    gamma = 0x9E3779B97F4A7C15
    states = np.array([gamma, (2 * gamma) % 2**64, (3 * gamma) % 2**64], dtype=np.uint64)
    assert [hex(value) for value in mixed(states)] == [
        "0xe220a8397b1dcdaf", "0x6e789e6aa1b965f4", "0x6c45d188009454f"]


def test_text_goes_through_blake2b() -> None:
    wanted = [int.from_bytes(blake2b(text.encode(), digest_size=8).digest(), "little")
              for text in ("", "P1", "é")]
    assert text_hashes(["", "P1", "é"]).tolist() == wanted


def test_stored_fingerprints_stay_good() -> None:
    """These are kept in shops' stores: if this fails, older stores would no longer match."""
    looks = pd.DataFrame([look("a"), look("b", location=None, pieces=30, defective=2)])
    prints = look_fingerprints(looks, findings_of((1, "scorch", "top", 2.5, 2)))
    assert prints.identity.tolist() == STORED_IDENTITY
    assert prints.content.tolist() == STORED_CONTENT
    fabrics = pd.DataFrame([{"fabric": "rib", "cotton_pct": 95.0}])
    assert record_fingerprints(FABRICS, fabrics).content.tolist() == STORED_FABRIC


def test_the_order_of_columns_rows_and_findings_does_not_matter() -> None:
    looks = pd.DataFrame([look("a"), look("b"), look("c", note="x")])
    found = findings_of((0, "scorch", "top", None, 1), (0, "bubble", None, 1.0, 2))
    first = look_fingerprints(looks, found)
    second = look_fingerprints(looks[looks.columns[::-1]], found.iloc[::-1])
    assert first.content.tolist() == second.content.tolist()
    turned = look_fingerprints(looks.iloc[::-1].reset_index(drop=True), NO_FINDINGS)
    assert turned.content[:2].tolist() == first.content[[2, 1]].tolist()


def test_a_column_added_later_leaves_older_rows_as_they_were() -> None:
    frame = pd.DataFrame([{"fabric": "rib"}])
    grown = frame.assign(colour=[None])
    fields = [*FABRICS.fields, Field(name="colour")]
    assert row_sums(fields, grown)[0].tolist() == row_sums(FABRICS.fields, frame)[0].tolist()
    told = row_sums(fields, frame.assign(colour=["red"]))[0]
    assert told.tolist() != row_sums(FABRICS.fields, frame)[0].tolist()


@pytest.mark.parametrize(("one", "other"), [
    ({"operator": "ann", "inspector": "bo"}, {"operator": "bo", "inspector": "ann"}),
    ({"dx_mm": 1.0, "dy_mm": 2.0}, {"dx_mm": 2.0, "dy_mm": 1.0}),
    ({"dx_mm": None}, {"dx_mm": 0.0}),
    ({"defective": None}, {"defective": 0}),
    ({"note": None}, {"note": ""}),
    ({"note": "None"}, {"note": None}),
    ({"temperature_c": 160.0}, {"temperature_c": 160.00001}),
])
def test_rows_that_differ_have_other_fingerprints(
    one: dict[str, object], other: dict[str, object]
) -> None:
    looks = pd.DataFrame([look("a", **one), look("a", **other)])
    first, second = look_fingerprints(looks, NO_FINDINGS).content
    assert first != second


def test_a_negative_zero_and_kinds_of_columns_make_no_difference() -> None:
    plain = pd.DataFrame([look("a", dx_mm=0.0), look("b", dx_mm=-0.0, defective=1)])
    other = plain.assign(
        dx_mm=[0.0, 0.0], press=plain["press"].astype("category"),
        defective=pd.array([None, 1], dtype="Int64"), attempt=plain["attempt"].astype("int32"),
    )
    first, second = (look_fingerprints(frame, NO_FINDINGS) for frame in (plain, other))
    assert first.content.tolist() == second.content.tolist()
    assert first.identity.tolist() == second.identity.tolist()


def test_looks_at_a_piece_lie_together_and_apart_from_others() -> None:
    stages = INSPECTIONS.by_name["stage"].choices
    looks = pd.DataFrame([look("a", attempt=attempt, stage=stage)
                          for attempt in (1, 2, 99) for stage in stages] + [look("b")])
    identity = look_fingerprints(looks, NO_FINDINGS).identity
    assert len(set(identity.tolist())) == len(looks)
    bases = piece_base(identity)
    assert len(set(bases[:-1].tolist())) == 1
    assert bases[-1] != bases[0]
    assert ((identity - bases >= 0) & (identity - bases < 1024)).all()


def test_half_a_million_pieces_do_not_collide() -> None:
    # by chance: n^2 / 2 / 2^54 = 7e-6
    looks = pd.DataFrame({"piece_id": [f"J{at // 40:05d}-{at % 40:02d}" for at in range(500_000)],
                          "attempt": 1, "stage": "final"})
    identity = look_fingerprints(looks, NO_FINDINGS).identity
    assert len(np.unique(identity)) == len(looks)
