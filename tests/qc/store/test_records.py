"""Surveys, checks, recipes and lists."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from qc.domain.records import RECORD_KINDS, Field
from qc.errors import InputError
from qc.store import Store
from qc.store.checking import check_store
from qc.store.codes import known_codes
from qc.store.records import add_records, read_records, read_versions
from tests.qc.store.made import LOADED

KINDS = [name for name in RECORD_KINDS if name != "inspections"]


def add(store: Store, kind: str, rows: list[dict[str, Any]], at_us: int = LOADED, **more: Any
        ) -> Any:
    return add_records(store, kind, pd.DataFrame(rows), by="ann", at_us=at_us, source="f", **more)


def _value(field: Field, row: int) -> Any:
    if field.choices:
        return field.choices[row % len(field.choices)]
    if field.kind == "yes_no":
        return ("yes", "no")[row % 2]
    if field.is_text:
        return f"{field.name}{row}"
    low = int(field.low or 1)
    return low + row if field.kind in {"instant", "whole"} else low + row + 0.25


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_comes_back_as_it_was_and_loads_once(store: Store, kind: str) -> None:
    fields = RECORD_KINDS[kind].fields
    rows = [{field.name: _value(field, row) for field in fields} for row in range(3)]
    assert add(store, kind, rows).n_loaded == 3
    back = read_records(store, kind)
    assert back.astype(object).to_dict("records") == rows
    assert add(store, kind, rows).already_there.tolist() == [True] * 3
    assert store.change_number() == 1
    assert check_store(store) == []


@pytest.mark.parametrize("kind", KINDS)
def test_gaps_come_back_as_gaps(store: Store, kind: str) -> None:
    needed = [field for field in RECORD_KINDS[kind].fields
              if field.required or field.default is not None]
    add(store, kind, [{field.name: _value(field, 0) for field in needed}])
    back = read_records(store, kind)
    assert list(back.columns) == [field.name for field in RECORD_KINDS[kind].fields]
    empty = [field.name for field in RECORD_KINDS[kind].fields if field not in needed]
    assert back[empty].isna().all().all()


def test_a_changed_list_row_is_a_new_version(store: Store) -> None:
    add(store, "presses", [{"press": "P1", "temperature_tolerance_c": 5.0}])
    added = add(store, "presses", [{"press": "P1", "temperature_tolerance_c": 3.0}], LOADED + 10)
    assert (added.n_loaded, added.conflict.any()) == (1, False)

    def tolerance(as_of: int | None) -> list[float]:
        return read_records(store, "presses", as_of_us=as_of)["temperature_tolerance_c"].tolist()

    assert (tolerance(None), tolerance(LOADED + 10)) == ([3.0], [3.0])
    assert (tolerance(LOADED + 9), tolerance(0)) == ([5.0], [5.0])


def test_every_version_of_a_list_can_be_read_with_its_time(store: Store) -> None:
    add(store, "platen_readings", [], new_codes={"presses": ["P1", "P2"]})
    for at, tolerance in ((0, 5.0), (10, 3.0), (20, 4.0)):
        add(store, "presses", [{"press": "P1", "temperature_tolerance_c": tolerance}], LOADED + at)

    def versions(as_of: int) -> list[tuple]:
        frame = read_versions(store, "presses", as_of_us=as_of)
        return list(frame[["press", "from_us", "temperature_tolerance_c"]].fillna(-1.0)
                    .itertuples(index=False, name=None))

    blank = ("P2", 0, -1.0)  # a code without its row; that of P1 gave way to its row
    first = [("P1", 0, 5.0), ("P1", LOADED + 10, 3.0), ("P1", LOADED + 20, 4.0)]
    assert versions(LOADED + 99) == [*first, blank]
    assert versions(LOADED + 15) == [*first[:2], blank]
    assert versions(0) == [first[0], blank]


def test_two_different_rows_of_one_press_in_one_file_are_a_conflict(store: Store) -> None:
    rows = [{"press": "P1", "name": "door"}, {"press": "P1", "name": "window"},
            {"press": "P1", "name": "door"}]
    added = add(store, "presses", rows)
    assert added.conflict.tolist() == [False, True, False]
    assert added.already_there.tolist() == [False, False, True]
    again = add(store, "presses", rows)
    assert again.n_loaded == 0
    assert again.already_there.tolist() == [True, False, True]


def test_a_changed_reading_is_a_conflict(store: Store) -> None:
    reading = {"survey_id": "s1", "measured_at": 5, "press": "P1", "platen": "upper",
               "setpoint_c": 160.0, "row": 1, "col": 1, "reading_c": 159.0, "state": "routine"}
    add(store, "platen_readings", [reading])
    added = add(store, "platen_readings", [reading | {"reading_c": 150.0}, reading | {"col": 2}])
    assert added.conflict.tolist() == [True, False]
    assert added.n_loaded == 1


def test_readings_measured_later_are_left_out(store: Store) -> None:
    check = {"measured_at": 5, "press": "P1", "quantity": "dwell_s", "set_value": 15.0,
             "measured_value": 14.0, "state": "routine"}
    add(store, "machine_checks", [check, check | {"measured_at": 9}])
    assert read_records(store, "machine_checks", as_of_us=8)["measured_at"].tolist() == [5]
    assert len(read_records(store, "machine_checks")) == 2


def test_a_code_put_on_a_list_by_a_file_gives_way_to_its_row(store: Store) -> None:
    recipe = {"fabric": "rib", "transfer": "film", "version": "1"}
    add(store, "recipes", [recipe], new_codes={"fabrics": ["rib"], "transfers": ["film"]})
    assert read_records(store, "fabrics", as_of_us=0)["fabric"].tolist() == ["rib"]
    add(store, "fabrics", [{"fabric": "rib", "surface": "ribbed"}], LOADED + 50)
    for moment in (None, 0, LOADED + 60):  # a blank line is no earlier version of the row
        frame = read_records(store, "fabrics", as_of_us=moment)
        assert frame["surface"].tolist() == ["ribbed"], moment
    assert known_codes(store)["fabrics"] == {"rib"}
    add(store, "fabrics", [{"fabric": "rib", "surface": "smooth"}], LOADED + 70)
    assert read_records(store, "fabrics", as_of_us=0)["surface"].tolist() == ["ribbed"]
    assert check_store(store) == []


def test_a_row_that_says_no_more_than_its_code_is_already_there(store: Store) -> None:
    add(store, "fabrics", [{"fabric": "rib"}], new_codes=None)
    assert add(store, "fabrics", [{"fabric": "rib"}]).already_there.tolist() == [True]


def test_a_dry_run_keeps_nothing(store: Store) -> None:
    assert add(store, "fabrics", [{"fabric": "rib"}], dry_run=True).n_loaded == 1
    assert read_records(store, "fabrics").empty


@pytest.mark.parametrize("kind", ["inspections", "people"])
def test_other_kinds_are_refused(store: Store, kind: str) -> None:
    with pytest.raises(InputError, match=f"{kind!r} is not a kind kept here"):
        read_records(store, kind)


def test_an_empty_frame_loads_nothing(store: Store) -> None:
    empty = pd.DataFrame({"fabric": np.array([], dtype=object)})
    added = add_records(store, "fabrics", empty, by="ann", at_us=1, source=None)
    assert (added.n_loaded, len(added.conflict)) == (0, 0)
    assert store.change_number() == 0
