"""Pages of looks, against a plain filter over all of them in memory."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from qc.domain.instants import HOUR_US
from qc.store import Store
from qc.store.corrections import correct_inspection, looks_at
from qc.store.inspections import read_findings, read_looks
from qc.store.look_pages import (
    LocalHours,
    LookFilter,
    Order,
    bounds_of_pressing,
    count_looks,
    each_look,
    levels_of_newest,
    page_of_looks,
)
from qc.store.patience import TooSlow, at_most
from tests.qc.store.made import CODES, LOADED, T0, add, look, random_looks

FAR = LOADED + 10**12
Keep = Callable[[pd.DataFrame, pd.DataFrame], pd.Series]


@pytest.fixture
def filled(store: Store) -> Store:
    looks, findings = random_looks(3_000, np.random.default_rng(3))
    add(store, looks.to_dict("records"), findings, new_codes=CODES)
    return store


def plainly(store: Store, keep: Keep, as_of_us: int = FAR) -> list[int]:
    """Numbers of the looks kept, newest first."""
    looks = read_looks(store, as_of_us=as_of_us).astype(object)
    findings = read_findings(store, as_of_us=as_of_us).astype(object)
    chosen = looks[keep(looks, findings).to_numpy(dtype=bool)]
    rows = sorted(zip(chosen["pressed_at"], chosen.index, strict=True), reverse=True)
    return [int(number) for _, number in rows]


def found(store: Store, wanted: LookFilter, order: Order | None = None) -> list[int]:
    """Numbers of all looks found, page by page, each after the one before."""
    order, numbers, after = order or Order(), [], None
    while True:
        rows = page_of_looks(store, wanted, order=order, start=len(numbers), n=97, after=after)
        numbers += [row["number"] for row in rows]
        if len(rows) < 97:
            return numbers
        if order.by == "pressed_at":
            after = rows[-1]["pressed_at"], rows[-1]["number"]


def with_kind(looks: pd.DataFrame, findings: pd.DataFrame, *asked: Callable) -> pd.Series:
    told = findings[np.logical_and.reduce([one(findings) for one in asked])] if asked else findings
    return looks.index.to_series().isin(told["look"])


CASES: dict[str, tuple[dict, Keep]] = {
    "all": ({}, lambda a, f: a["press"].notna()),
    "period": ({"since_us": T0 + 5 * HOUR_US, "until_us": T0 + 9 * HOUR_US},
               lambda a, f: (a["pressed_at"] >= T0 + 5 * HOUR_US)
               & (a["pressed_at"] < T0 + 9 * HOUR_US)),
    "levels": ({"levels": {"press": "P1", "transfer_lot": "L2"}},
               lambda a, f: (a["press"] == "P1") & (a["transfer_lot"] == "L2")),
    "not said": ({"levels": {"operator": None}}, lambda a, f: a["operator"].isna()),
    "any defect": ({"with_finding": True}, with_kind),
    "kind": ({"with_finding": True, "kind": "scorch"},
             lambda a, f: with_kind(a, f, lambda g: g["kind"] == "scorch")),
    "kind in zone": ({"with_finding": True, "kind": "scorch", "in_zone": True, "zone": "top"},
                     lambda a, f: with_kind(a, f, lambda g: g["kind"] == "scorch",
                                            lambda g: g["zone"] == "top")),
    "no zone": ({"with_finding": True, "in_zone": True, "zone": None},
                lambda a, f: with_kind(a, f, lambda g: g["zone"].isna())),
    "hours": ({"hours": LocalHours(stretches=((1320, 1440), (0, 360)),
                                   offsets=((T0 + 20 * HOUR_US, 2 * HOUR_US), (T0, HOUR_US)))},
              lambda a, f: _night(a["pressed_at"].to_numpy(dtype=np.int64))),
    "no such hours": ({"hours": LocalHours(stretches=(), offsets=((T0, 0),))},
                      lambda a, f: a["press"] == "nothing"),
}


def _night(pressed: np.ndarray) -> pd.Series:
    offset = np.where(pressed >= T0 + 20 * HOUR_US, 2, 1)
    hour = (pressed // HOUR_US + offset) % 24
    return pd.Series((hour >= 22) | (hour < 6))


def test_every_filter_finds_what_a_plain_one_finds(filled: Store) -> None:
    for name, (given, keep) in CASES.items():
        wanted = LookFilter(as_of_us=FAR, **given)
        right = plainly(filled, keep)
        assert found(filled, wanted) == right, name
        count = count_looks(filled, wanted, most=10_000, seconds=30)
        assert (count.n_looks, count.is_all) == (len(right), True), name
        parts = [row["number"] for part in each_look(filled, wanted) for row in part]
        assert parts == right[::-1], name
        assert found(filled, wanted, Order(newest_first=False)) == right[::-1], name


def test_findings_come_with_their_looks(filled: Store) -> None:
    findings = read_findings(filled, as_of_us=FAR)
    rows = page_of_looks(filled, LookFilter(as_of_us=FAR, with_finding=True), order=Order(),
                         start=0, n=50)
    for row in rows:
        mine = findings[findings["look"] == row["number"]]
        assert [one["kind"] for one in row["findings"]] == list(mine["kind"])


def test_looks_that_say_nothing_are_sorted_last(filled: Store) -> None:
    for newest_first in (True, False):
        rows = page_of_looks(filled, LookFilter(as_of_us=FAR), start=0, n=5_000,
                             order=Order(by="operator", newest_first=newest_first))
        said = [row["operator"] for row in rows]
        named = [one for one in said if one is not None]
        assert None in said and said[: len(named)] == named
        assert named == sorted(named, reverse=newest_first)


def test_counting_stops_and_says_so(filled: Store) -> None:
    count = count_looks(filled, LookFilter(as_of_us=FAR), most=100, seconds=30)
    assert (count.n_looks, count.is_all) == (100, False)


def test_pieces_are_counted_once(store: Store) -> None:
    add(store, [look("a"), look("a", stage="wash"), look("a", attempt=2), look("b")])
    count = count_looks(store, LookFilter(as_of_us=FAR), most=100, seconds=30)
    assert (count.n_looks, count.n_pieces) == (4, 2)


def test_only_the_version_that_counts_is_found(store: Store) -> None:
    add(store, [look("a"), look("b")])
    identity = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}
    correct_inspection(store, identity=identity, changes={"press": "P2"}, findings=None,
                       why="misread", by="bo", at_us=LOADED + 50, seen_version=1)
    for as_of_us, press in ((LOADED + 49, "P1"), (LOADED + 50, "P2")):
        wanted = LookFilter(as_of_us=as_of_us, levels={"piece_id": "a"})
        (row,) = page_of_looks(store, wanted, order=Order(), start=0, n=10)
        assert row["press"] == press
    assert [one["press"] for one in looks_at(store, "a")] == ["P2"]
    assert count_looks(store, LookFilter(as_of_us=T0), most=9, seconds=30).n_looks == 0


def test_what_is_in_use_and_since_when(filled: Store) -> None:
    first, last = bounds_of_pressing(filled) or (0, 0)
    pressed = read_looks(filled, as_of_us=FAR)["pressed_at"]
    assert (first, last) == (pressed.min(), pressed.max())
    said = levels_of_newest(filled, ("transfer_lot", "operator"), n_looks=3_000)
    assert said == {"transfer_lot": ["L1", "L2", "L3"], "operator": ["ann", "bo"]}
    newest = read_looks(filled, as_of_us=FAR).sort_values("pressed_at").iloc[-1]
    assert levels_of_newest(filled, ("piece_id",), n_looks=1) == {"piece_id": [newest["piece_id"]]}


def test_an_empty_store_has_nothing(store: Store) -> None:
    assert bounds_of_pressing(store) is None
    assert levels_of_newest(store, ("job", "size"), n_looks=9) == {"job": [], "size": []}
    assert page_of_looks(store, LookFilter(as_of_us=FAR), order=Order(), start=0, n=9) == []
    assert list(each_look(store, LookFilter(as_of_us=FAR))) == []


LONG = {"sqlite": "WITH RECURSIVE k(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM k WHERE"
                  " i < 2000000000) SELECT max(i) FROM k",
        "postgresql": "SELECT pg_sleep(60)"}


def test_a_question_that_takes_too_long_is_given_up(store: Store) -> None:
    with pytest.raises(TooSlow, match="narrow it"), store.reading() as connection, \
            at_most(connection, 0.2):
        connection.exec_driver_sql(LONG[connection.dialect.name])
    with store.reading() as connection:  # and the store answers on
        assert connection.exec_driver_sql("SELECT 1").scalar() == 1


def test_what_goes_wrong_inside_stays_what_it_is(store: Store) -> None:
    with pytest.raises(Exception, match="no_such_table"), store.reading() as connection, \
            at_most(connection, 5):
        connection.exec_driver_sql("SELECT * FROM no_such_table")
