"""Looks: appended once, judged against what is stored, read back as they were."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from qc.domain.records import INSPECTIONS
from qc.errors import InputError
from qc.store import Store
from qc.store.codes import known_codes
from qc.store.inspections import add_inspections, read_findings, read_looks
from tests.qc.store.made import LOADED, T0, add, findings_of, look, random_looks

NOW = LOADED + 1


def test_looks_come_back_as_they_were(store: Store) -> None:
    looks, findings = random_looks(500, np.random.default_rng(1), n_pieces=100_000)
    added = add_inspections(store, looks, findings, by="ann", at_us=LOADED, source="a.csv")
    assert added.n_loaded == 500
    back = read_looks(store, as_of_us=NOW)
    assert list(back.columns) == [field.name for field in INSPECTIONS.fields]
    assert back.index.tolist() == list(range(1, 501))
    for name in looks.columns:
        given = looks[name].astype(object).where(looks[name].notna(), None).tolist()
        kept = back[name].astype(object).where(back[name].notna(), None).tolist()
        assert kept == given, name
    assert back["size"].isna().all()
    found = read_findings(store, as_of_us=NOW)
    assert found["look"].tolist() == (findings["row"] + 1).tolist()
    for name in ("kind", "zone", "extent_mm", "n"):
        given = findings[name].astype(object).where(findings[name].notna(), None).tolist()
        assert found[name].astype(object).where(found[name].notna(), None).tolist() == given


def test_text_is_a_category_and_whole_numbers_stay_whole(store: Store) -> None:
    add(store, [look("a", defective=1), look("b")], findings_of((0, "scorch", None, None, 1)))
    back = read_looks(store, as_of_us=NOW)
    assert isinstance(back["press"].dtype, pd.CategoricalDtype)
    assert isinstance(back["note"].dtype, pd.CategoricalDtype)
    assert back["pressed_at"].dtype == np.int64
    assert back["defective"].dtype == "Int64"
    assert back["temperature_c"].dtype == np.float64


def test_the_same_file_again_changes_nothing(store: Store) -> None:
    looks = [look("a"), look("b", stage="wash"), look("c", location=None)]
    findings = findings_of((1, "bubble", "top", 3.0, 1), (1, "scorch", None, None, 1))
    add(store, looks, findings)
    before = store.change_number()
    again = add(store, looks, findings_of(*findings.iloc[::-1].itertuples(index=False)))
    assert (again.n_loaded, again.already_there.tolist()) == (0, [True, True, True])
    assert not again.conflict.any()
    assert store.change_number() == before


@pytest.mark.parametrize("change", [
    {"temperature_c": 161.0}, {"press": "P2"}, {"note": "blue thread"}, {"temperature_c": None},
    {"pressed_at": T0 + 1}, {"pieces": 2}, {"dx_mm": 0.0},
])
def test_a_different_row_under_the_same_identity_is_a_conflict(
    store: Store, change: dict[str, object]
) -> None:
    add(store, [look("a")])
    added = add(store, [look("a") | change, look("b")])
    assert added.conflict.tolist() == [True, False]
    assert added.n_loaded == 1
    assert read_looks(store, as_of_us=NOW)["piece_id"].tolist() == ["a", "b"]


def test_findings_are_part_of_sameness(store: Store) -> None:
    add(store, [look("a")], findings_of((0, "scorch", "top", None, 1)))
    for other in (findings_of(), findings_of((0, "scorch", "left", None, 1)),
                  findings_of((0, "scorch", "top", 2.0, 1)),
                  findings_of((0, "scorch", "top", None, 2))):
        assert add(store, [look("a")], other).conflict.tolist() == [True]


@pytest.mark.parametrize("other", [
    {"attempt": 2}, {"stage": "wash"}, {"location": "full_back"}, {"location": None},
    {"piece_id": "A"},
])
def test_each_part_of_the_identity_makes_another_row(
    store: Store, other: dict[str, object]
) -> None:
    assert add(store, [look("a"), look("a") | other]).n_loaded == 2


def test_rows_repeated_in_one_batch_are_judged_like_stored_ones(store: Store) -> None:
    added = add(store, [look("a"), look("a"), look("a", press="P2"), look("b")])
    assert added.n_loaded == 2
    assert added.already_there.tolist() == [False, True, False, False]
    assert added.conflict.tolist() == [False, False, True, False]


def test_sameness_is_judged_after_conversion(store: Store) -> None:
    # 320 degF is 160 degC exactly; in binary fractions the two may differ in the last bit
    add(store, [look("a", temperature_c=160.0)])
    again = add(store, [look("a", temperature_c=160.00000000000003)])
    assert again.already_there.tolist() == [True]


def test_a_dry_run_judges_and_keeps_nothing(store: Store) -> None:
    add(store, [look("a")])
    before = store.change_number()
    added = add(store, [look("a"), look("b"), look("a", press="P2")], dry_run=True,
                new_codes={"presses": ["P9"]})
    assert added.n_loaded == 1
    assert added.already_there.tolist() == [True, False, False]
    assert added.conflict.tolist() == [False, False, True]
    assert store.change_number() == before
    assert "P9" not in known_codes(store)["presses"]


def test_looking_back_leaves_out_later_looks(store: Store) -> None:
    add(store, [look("a", inspected_at=T0 + 10), look("b", inspected_at=T0 + 20)],
        findings_of((0, "scorch", None, None, 1), (1, "scorch", None, None, 1)))
    assert read_looks(store, as_of_us=T0 + 9).empty
    assert read_looks(store, as_of_us=T0 + 10)["piece_id"].tolist() == ["a"]
    assert read_findings(store, as_of_us=T0 + 10)["look"].tolist() == [1]
    assert len(read_looks(store, as_of_us=T0 + 20)) == 2


def test_since_is_inclusive_and_until_exclusive_on_pressed_at(store: Store) -> None:
    add(store, [look(name, pressed_at=T0 + at) for name, at in (("a", 1), ("b", 2), ("c", 3))],
        findings_of((2, "scorch", None, None, 1)))
    between = read_looks(store, as_of_us=NOW, since_us=T0 + 1, until_us=T0 + 3)
    assert between["piece_id"].tolist() == ["a", "b"]
    assert read_findings(store, as_of_us=NOW, until_us=T0 + 3).empty
    assert len(read_findings(store, as_of_us=NOW, since_us=T0 + 3)) == 1


def test_only_the_columns_asked_for(store: Store) -> None:
    add(store, [look("a")])
    frame = read_looks(store, as_of_us=NOW, columns=["press", "pressed_at"])
    assert list(frame.columns) == ["press", "pressed_at"]
    assert frame.index.name == "look"


def test_a_new_store_gives_empty_frames_of_the_right_kinds(store: Store) -> None:
    looks, findings = read_looks(store, as_of_us=NOW), read_findings(store, as_of_us=NOW)
    assert looks.empty
    assert looks["pressed_at"].dtype == np.int64
    assert isinstance(looks["press"].dtype, pd.CategoricalDtype)
    assert list(findings.columns) == ["look", "kind", "zone", "extent_mm", "n"]


def test_new_codes_go_on_the_lists_with_the_rows(store: Store) -> None:
    add(store, [look("a", press="P7")], new_codes={"presses": ["P7", "P7"], "kinds": ["zap"]})
    known = known_codes(store)
    assert known["presses"] == {"P7"}
    assert {"zap", "scorch"} <= known["kinds"]


def test_a_row_without_a_needed_field_is_refused_and_nothing_kept(store: Store) -> None:
    with pytest.raises(InputError, match="every row needs press"):
        add(store, [look("a", press=None), look("b")])
    assert store.change_number() == 0
    assert known_codes(store)["fabrics"] == frozenset()


def test_text_that_looks_like_code_is_only_text(store: Store) -> None:
    odd = ["=1+1", "<script>", "'; DROP TABLE audit; --", "a\tb\nc\\d", "é ≥ ✓", "\\N"]
    add(store, [look(f"p{at}", note=text) for at, text in enumerate(odd)])
    assert read_looks(store, as_of_us=NOW)["note"].tolist() == odd
