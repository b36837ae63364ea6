"""What is read once and added to is what would be read from the beginning."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.domain.instants import HOUR_US
from qc.store import Store, kept, open_store
from qc.store.corrections import correct_inspection
from qc.store.inspections import add_inspections, read_findings, read_looks
from qc.store.kept import KeptLooks
from tests.qc.store.made import CODES, LOADED, T0, add, findings_of, look, random_looks

COLUMNS = ("piece_id", "attempt", "inspected_at", "stage", "press", "garment_lot", "note",
           "temperature_c", "defective", "pieces")
IDENTITY = ("piece_id", "attempt", "location", "stage")
NOW = LOADED + 1000


def is_as_fresh(mine: KeptLooks, store: Store, as_of_us: int) -> None:
    looks, findings = mine.read(store, as_of_us=as_of_us)
    for got, wanted in (
        (looks, read_looks(store, as_of_us=as_of_us, columns=COLUMNS)),
        (findings, read_findings(store, as_of_us=as_of_us)),
    ):
        pd.testing.assert_frame_equal(got, wanted)


@pytest.fixture
def after(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """From which look on was read, each time."""
    read: list[int] = []

    def reading(*args: Any, **more: Any) -> pd.DataFrame:
        read.append(more["after"])
        return read_looks(*args, **more)

    monkeypatch.setattr(kept, "read_looks", reading)
    return read


def test_only_what_is_new_is_read(store: Store, after: list[int]) -> None:
    mine = KeptLooks(COLUMNS)
    add(store, [look("a"), look("b", note="x")], findings_of((1, "scorch", "top", 2.0, 1)))
    for _ in range(3):
        is_as_fresh(mine, store, NOW)
    add(store, [look("c", press="P2", defective=1, pieces=3), look("d")],
        findings_of((0, "bubble", None, None, 1)))
    is_as_fresh(mine, store, NOW)
    is_as_fresh(mine, store, NOW + 5)
    assert after == [0, 0, 2, 2, 4]


def test_a_correction_or_a_moment_gone_by_is_read_from_the_beginning(
    store: Store, after: list[int]
) -> None:
    mine = KeptLooks(COLUMNS)
    add(store, [look("a"), look("b")])
    is_as_fresh(mine, store, NOW)
    is_as_fresh(mine, store, NOW)
    who = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}
    correct_inspection(store, identity=who, changes={"temperature_c": 155.0}, findings=None,
                       why="misread", by="bo", at_us=NOW + 1, seen_version=1)
    is_as_fresh(mine, store, NOW + 2)
    is_as_fresh(mine, store, NOW + 2)
    is_as_fresh(mine, store, NOW)  # before the correction
    is_as_fresh(mine, store, NOW + 3)
    assert after == [0, 0, 0, 3, 0, 0]


def test_looks_of_a_later_moment_are_not_lost(store: Store) -> None:
    mine = KeptLooks(COLUMNS)
    add(store, [look("a"), look("b", inspected_at=T0 + 9 * HOUR_US, pressed_at=T0), look("c")])
    for hour in (1, 1, 8, 9, 10):
        is_as_fresh(mine, store, T0 + hour * HOUR_US)


def test_another_store_in_its_place_is_seen(tmp_path) -> None:
    place, mine = str(tmp_path / "shop.db"), KeptLooks(COLUMNS)
    for piece in ("a", "z"):
        with closing(open_store(place, create=True)) as store:
            add(store, [look(piece), look("b")])
            is_as_fresh(mine, store, NOW)
            is_as_fresh(mine, store, NOW)
        (tmp_path / "shop.db").unlink()


@settings(max_examples=8)
@given(seed=st.integers(0, 2**32 - 1))
def test_whatever_comes_in_it_is_as_if_read_anew(seed: int, tmp_path_factory) -> None:
    rng = np.random.default_rng(seed)
    mine, at_us = KeptLooks(COLUMNS), LOADED
    place = tmp_path_factory.mktemp("kept") / "shop.db"
    with closing(open_store(str(place), create=True)) as store:
        for _ in range(6):
            at_us += 10
            looks, findings = random_looks(int(rng.integers(1, 30)), rng, n_pieces=40)
            add_inspections(store, looks, findings, by="ann", at_us=at_us, source=None,
                            new_codes=CODES)
            if rng.random() < 0.2:
                stored = read_looks(store, as_of_us=at_us, columns=IDENTITY).sample(
                    random_state=int(rng.integers(1000)))
                identity = stored.astype(object).where(stored.notna(), None).iloc[0].to_dict()
                correct_inspection(store, identity=identity, changes={"note": f"at {at_us}"},
                                   findings=None, why="x", by="bo", at_us=at_us + 1,
                                   seen_version=None)
            is_as_fresh(mine, store, int(rng.choice([at_us + 5, at_us, T0 + 30 * HOUR_US])))
