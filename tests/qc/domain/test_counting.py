"""The counting rule, on looks small enough to count by hand."""

import numpy as np
import pandas as pd

from qc.domain.counting import count_once


def looks(*rows):
    """Rows of (piece, location, attempt, stage, inspected_at, pieces, defective, press)."""
    names = [
        "piece_id",
        "location",
        "attempt",
        "stage",
        "inspected_at",
        "pieces",
        "defective",
        "press",
    ]
    return pd.DataFrame(rows, columns=names).astype({"location": object, "press": object})


def findings(*rows):
    return pd.DataFrame(rows, columns=["look", "kind", "zone", "n"]).astype({"zone": object})


def test_a_piece_counts_once_over_its_looks():
    counted = count_once(
        looks(
            ("a", None, 1, "after_peel", 1, 1, None, "P1"),
            ("a", None, 1, "final", 2, 1, None, "P1"),
        ),
        findings((0, "scorch", None, 1), (1, "scorch", None, 1), (1, "bubble", "top", 1)),
    )
    assert len(counted.pieces) == 1
    assert sorted(counted.kinds["kind"]) == ["bubble", "scorch"]
    assert counted.kinds["n"].tolist() == [1, 1]
    assert counted.pieces["n_defective"].tolist() == [1]


def test_two_places_of_one_garment_are_two_pieces():
    counted = count_once(
        looks(
            ("a", "chest", 1, "final", 1, 1, None, "P1"),
            ("a", "back", 1, "final", 2, 1, None, "P1"),
        ),
        findings((1, "scorch", None, 1)),
    )
    assert counted.pieces["n_defective"].tolist() == [0, 1]


def test_later_attempts_and_customer_looks_stay_out():
    counted = count_once(
        looks(
            ("a", None, 2, "final", 1, 1, None, "P1"),
            ("b", None, 1, "customer", 2, 1, None, "P1"),
            ("c", None, 1, "final", 3, 1, None, "P1"),
        ),
        findings((0, "scorch", None, 1), (1, "scorch", None, 1)),
    )
    assert counted.pieces["piece_id"].tolist() == ["c"]
    assert len(counted.kinds) == 0


def test_a_late_fault_counts_at_its_look():
    counted = count_once(
        looks(
            ("a", None, 1, "final", 1, 1, None, "P1"),
            ("a", None, 1, "after_24h", 9, 1, None, "P1"),
            ("b", None, 1, "final", 2, 1, None, "P1"),
        ),
        findings((1, "dye_migration", None, 1)),
    )
    assert counted.kinds[["look", "seen"]].to_numpy().tolist() == [["after_24h", 9]]
    assert counted.pieces["had_after_24h"].tolist() == [True, False]
    assert counted.pieces["seen_prompt"].tolist() == [1, 2]


def test_places_on_one_piece_are_one_defective_piece_and_a_block_counts_its_pieces():
    counted = count_once(
        looks(("a", None, 1, "final", 1, 1, None, "P1"), ("k", None, 1, "final", 2, 50, 4, "P1")),
        findings(
            (0, "lifted_edge", "top", 3),
            (1, "lifted_edge", "top", 2),
            (1, "lifted_edge", "left", 1),
            (1, "scorch", None, 1),
        ),
    )
    by_kind = counted.kinds.set_index(["at", "kind"])["n"]
    assert by_kind[(0, "lifted_edge")] == 1
    assert by_kind[(1, "lifted_edge")] == 3
    assert counted.pieces["n_defective"].tolist() == [1, 4]
    assert counted.pieces["n"].tolist() == [1, 50]


def test_a_blank_is_filled_from_a_later_look():
    counted = count_once(
        looks(("a", None, 1, "final", 1, 1, None, None), ("a", None, 1, "wash", 5, 1, None, "P7")),
        findings(),
    )
    assert counted.pieces["press"].tolist() == ["P7"]


def test_the_order_of_rows_does_not_matter():
    rng = np.random.default_rng(4)
    n = 200
    table = pd.DataFrame(
        {
            "piece_id": [f"p{i}" for i in rng.integers(0, 80, n)],
            "location": None,
            "attempt": rng.integers(1, 3, n),
            "stage": rng.choice(["final", "after_24h", "wash"], n),
            "inspected_at": rng.permutation(n),
            "pieces": 1,
            "defective": np.nan,
            "press": "P1",
        }
    )
    faults = pd.DataFrame(
        {
            "look": rng.integers(0, n, 60),
            "kind": rng.choice(["scorch", "bubble"], 60),
            "zone": None,
            "n": 1,
        }
    )
    shuffled = count_once(
        table.sample(frac=1, random_state=1), faults.sample(frac=1, random_state=2)
    )
    straight = count_once(table, faults)

    def summary(counted):
        pieces = counted.pieces["piece_id"]
        return sorted(
            zip(
                pieces.iloc[counted.kinds["at"]],
                counted.kinds["kind"],
                counted.kinds["look"],
                strict=True,
            )
        ), sorted(pieces)

    assert summary(straight) == summary(shuffled)


def test_nothing_in_nothing_out():
    counted = count_once(looks(), findings())
    assert len(counted.pieces) == len(counted.kinds) == len(counted.faults) == 0
