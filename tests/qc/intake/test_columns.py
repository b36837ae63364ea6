from __future__ import annotations

import pytest

from qc.domain.kinds import defect_kinds
from qc.domain.records import RECORD_KINDS
from qc.errors import InputError
from qc.intake import plan_columns, recognise

KINDS = frozenset(defect_kinds())
BASIC = ("piece_id", "inspected_at", "press", "fabric", "transfer")


@pytest.mark.parametrize("kind", RECORD_KINDS)
def test_every_kind_is_told_from_its_columns(kind: str) -> None:
    record = RECORD_KINDS[kind]
    assert recognise([field.name for field in record.fields]) == kind
    required = [field.name for field in record.fields if field.required]
    assert recognise([*required, "defects"] if kind == "inspections" else required) == kind


@pytest.mark.parametrize("columns, kind", [
    (("press", "name", "kind"), "presses"), (("transfer", "name", "kind"), "transfers"),
    (("fabric", "transfer", "temperature_f", "dwell_s"), "recipes"),
    (("job", "fabric", "transfer", "location", "ordered"), "jobs"),
    (("location", "dx_tolerance_in"), "placements"),
    (("Inspected_At", "PRESS", "fabric", "transfer", "scorch", "bubble"), "inspections"),
])
def test_kinds_that_share_columns(columns: tuple[str, ...], kind: str) -> None:
    assert recognise(columns) == kind


@pytest.mark.parametrize("columns", [("a", "b"), ("name", "kind"), ("note",), ("",)])
def test_nothing_recognised(columns: tuple[str, ...]) -> None:
    with pytest.raises(InputError, match="--as"):
        recognise(columns)


def refusal(*columns: str, kind: str = "inspections", ignore: tuple[str, ...] = ()) -> str:
    with pytest.raises(InputError) as refused:
        plan_columns(columns, kind, kinds=KINDS, ignore=ignore)
    return str(refused.value)


def test_every_missing_column_is_named() -> None:
    assert "piece_id, fabric and transfer" in refusal("inspected_at", "press", "defects")
    said = refusal("survey_id", "measured_at", "press", "row", "col", kind="platen_readings")
    assert "platen, setpoint_c or setpoint_f and reading_c or reading_f" in said


@pytest.mark.parametrize("column", [
    "temperature_k", "temperature", "dwell_min", "dwell", "pressure_mpa", "dx_cm", "dx_s",
    "temperature_degc", "pressure"])
def test_unknown_units(column: str) -> None:
    said = refusal(*BASIC, "defects", column)
    assert repr(column) in said
    assert "unit" in said
    plan_columns([*BASIC, "defects", column], "inspections", kinds=KINDS, ignore=(column,))


@pytest.mark.parametrize("pair", [
    ("temperature_c", "temperature_f"), ("pressure_psi", "pressure_bar"), ("dx_mm", "dx_in")])
def test_one_quantity_in_two_units(pair: tuple[str, str]) -> None:
    assert "given twice" in refusal(*BASIC, "defects", *pair)


def test_gauge_dial_and_class_are_three_quantities() -> None:
    plan = plan_columns([*BASIC, "defects", "pressure_psi", "pressure_dial", "pressure_class"],
                        "inspections", kinds=KINDS)
    assert [s.field.name for s in plan.sources][-3:] == ["pressure_kpa", "pressure_dial",
                                                         "pressure_class"]
    assert plan.unknown == ()


def test_defects_or_columns_of_kinds_but_not_both_nor_neither() -> None:
    assert "needs the column defects" in refusal(*BASIC)
    assert "both" in refusal(*BASIC, "defects", "scorch")
    plan = plan_columns([*BASIC, "defects", "scorch"], "inspections", kinds=KINDS,
                        ignore=("defects",))
    assert plan.kind_columns == ((6, "scorch"),)


def test_unknown_columns_are_named_and_kept_out() -> None:
    plan = plan_columns([*BASIC, "defects", "weather", "", "cover_colour"], "inspections",
                        kinds=KINDS)
    assert plan.warnings == (
        "unknown column kept out: 'weather', number 8 (no name), 'cover_colour'",)
    plan = plan_columns([*BASIC, "defects", "weather"], "inspections", kinds=KINDS,
                        ignore=("weather",))
    assert plan.warnings == ()


def test_line_and_reason_are_dropped_in_silence_when_both_are_there() -> None:
    columns = ["line", "reason", *BASIC, "defects"]
    assert plan_columns(columns, "inspections", kinds=KINDS).unknown == ()
    one = plan_columns(columns[1:], "inspections", kinds=KINDS)
    assert one.unknown == ((0, "reason"),)


def test_all_reasons_are_said_at_once() -> None:
    said = refusal("inspected_at", "press", "temperature_k", "dx_mm", "dx_in")
    for words in ("piece_id", "temperature_k", "dx_mm and dx_in", "defects"):
        assert words in said


def test_a_kind_of_record_that_is_none() -> None:
    assert "known: inspections" in refusal("press", kind="machines")
