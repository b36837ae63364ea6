"""What is kept of surveys, checks and pulls: made once, and anew when there is another."""

from __future__ import annotations

import pandas as pd

from qc.desk.kept_results import made_of
from qc.desk.shop import Shop
from qc.store import Store
from qc.store.records import add_records
from qc.store.settings import read_settings
from tests.qc.store.made import LOADED, T0

ROW = {"measured_at": T0, "press": "P1", "quantity": "dwell_s", "set_value": 15.0,
       "measured_value": 15.2, "state": "routine"}


def check(store: Store, at_us: int) -> None:
    add_records(store, "machine_checks", pd.DataFrame([ROW | {"measured_at": at_us}]), by="ann",
                at_us=LOADED, source=None)


def test_made_once_until_another_is_recorded(store: Store) -> None:
    shop, calls = Shop(store, read_settings(store)), []

    def count(frame: pd.DataFrame) -> int:
        calls.append(len(frame))
        return len(frame)

    def asked(as_of_us: int = LOADED, given: int = 0) -> int:
        return made_of(shop, "machine_checks", count, as_of_us=as_of_us, given=given)

    assert [asked(), asked()] == [0, 0]
    check(store, T0)
    assert [asked(), asked(), asked(given=1), asked(given=1)] == [1] * 4
    assert calls == [0, 1, 1]
    check(store, T0 + 100)
    assert asked(given=1) == 2
    assert asked(T0 + 99, given=1) == 1  # looking back, the later one does not count
    assert asked(given=1) == 2
    assert calls == [0, 1, 1, 2, 1]


def test_two_stores_are_never_mixed_up(store: Store, tmp_path) -> None:
    from qc.store import open_store

    other = open_store(str(tmp_path / "other.db"), create=True)
    check(store, T0)
    lengths = [made_of(Shop(one, read_settings(one)), "machine_checks", len, as_of_us=LOADED)
               for one in (store, other, store)]
    assert lengths == [1, 0, 1]
    other.close()
