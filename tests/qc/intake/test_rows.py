from __future__ import annotations

from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from qc.domain.instants import parse_instant
from qc.errors import InputError
from qc.intake.times import NO_TIME, times_of
from tests.qc.intake.files import HEADER, LISBON, NOW_US, ROW, parsed, reason, reasons, write


def test_defaults_are_filled(tmp_path: Path) -> None:
    found = parsed(write(tmp_path, f"{HEADER}\n{ROW}\n{ROW.replace('a1', 'a2')}scorch\n"))
    first, second = found.frame.to_dict("records")
    assert (first["attempt"], first["stage"], first["pieces"]) == (1, "final", 1)
    assert first["pressed_at"] == first["inspected_at"] == parse_instant("2026-03-01T10:00", LISBON)
    assert (first["disposition"], second["disposition"]) == ("pass", "hold")
    assert found.findings.to_dict("records") == [
        {"row": 1, "kind": "scorch", "zone": None, "extent_mm": pytest.approx(np.nan, nan_ok=True),
         "n": 1}]


def test_units_are_converted_to_the_stored_ones(tmp_path: Path) -> None:
    text = (f"{HEADER},temperature_f,pressure_psi,dx_in,pressure_dial\n"
            f"{ROW},320,40,-0.5,5\n{ROW.replace('a1', 'a2')},32,,,\n")
    frame = parsed(write(tmp_path, text)).frame
    # 320 degF = 160 degC and 1 in = 25.4 mm are exact; 1 psi = 6.894757 kPa: NIST SP 811, B.8
    assert frame["temperature_c"].tolist() == pytest.approx([160.0, 0.0])
    assert frame["pressure_kpa"].tolist() == pytest.approx([275.79028, np.nan], nan_ok=True)
    assert frame["dx_mm"][0] == pytest.approx(-12.7)
    assert frame["pressure_dial"][0] == 5
    text = f"{HEADER},pressure_bar\n{ROW},2.5\n"
    assert parsed(write(tmp_path, text)).frame["pressure_kpa"][0] == pytest.approx(250)


def test_a_tolerance_is_a_difference(tmp_path: Path) -> None:
    text = "press,temperature_tolerance_f,uniformity_tolerance_f\nP9,9,18\n"
    frame = parsed(write(tmp_path, text)).frame
    assert frame["temperature_tolerance_c"][0] == pytest.approx(5)
    assert frame["uniformity_tolerance_c"][0] == pytest.approx(10)


@pytest.mark.parametrize("columns, cells, said", [
    ("defects,dwell_s", ",-3", "dwell_s is -3, allowed: 0 to 600 s"),
    ("defects,rotation_deg", ",400", "rotation_deg is 400, allowed: -180 to 180"),
    ("defects,temperature_f", ",900", "temperature_f is 900, allowed: 32 to 752 °F"),
    ("defects,pressure_psi", ",300", "pressure_psi is 300, allowed: 0 to 290.075 psi"),
    ("defects,dwell_s", ",soon", "dwell_s is 'soon', not a number"),
    ("defects,dwell_s", ",inf", "not a number"), ("defects,dwell_s", ",nan", "not a number"),
    ("defects,dwell_s", ',"12,5"', "write a decimal point"),
    ("defects,pieces,defective", ",2.5,", "pieces is 2.5, it must be a whole number"),
    ("defects,attempt", ",0", "attempt is 0, allowed: 1 to 99"),
    ("defects,stage", ",later", "stage is 'later', allowed: after_peel"),
    ("defects,disposition", ",fine", "disposition is 'fine', allowed: pass"),
    ("defects,pressure_class", ",hard", "pressure_class is 'hard'"),
    ("defects,pressure_dial", ",10", "pressure_dial is 10, allowed: 1 to 9"),
    ("defects,pressed_at", ",2026-03-01T11:00", "pressed_at is after inspected_at"),
    ("defects,pressed_at", ",yesterday", "pressed_at is 'yesterday', not a time"),
    ("defects", "nokind", "defect kind 'nokind' is not on the list"),
    ("defects", "scorch@middle", "zone 'middle'"), ("defects", "scorch@top:wide", "extent 'wide'"),
    ("defects", "scorch*0", "count '0'"), ("defects", "scorch*1.5", "count '1.5'"),
    ("defects", "scorch*-2", "count '-2'"), ("defects", "scorch:5", "defects has 'scorch:5'"),
    ("defects", "@top", "defects has '@top'"), ("defects", "scorch@", "zone ''"),
    ("defects,pieces", "scorch,5", "defective is blank"),
    ("defects,pieces,defective", "scorch,5,6", "defective is 6, more than the 5 pieces"),
    ("defects,pieces,defective", "scorch*3,5,2",
     "defective is 2, less than the largest count of a kind, 3"),
    ("defects,pieces,defective", "scorch*6,5,5",
     "counted on 6 pieces, more than the block's 5"),
    ("defects,pieces,defective", ",5,2", "defective is 2, but no defect is named"),
    ("defects,pieces,defective", "scorch*2,5,3",
     "defective is 3, more than all defects counted together, 2"),
    ("defects,defective", "scorch,0", "defective is 0"),
    ("scorch,bubble", "1.5,", "scorch is 1.5, it must be a whole number"),
    ("scorch,bubble", "-1,", "scorch is -1, allowed: 0 to"),
    ("scorch,bubble", "x,", "scorch is 'x', not a number"),
    ("defects,operator", ",#N/A", "operator is '#N/A': a spreadsheet could not work it out"),
    ("defects", "#REF!", "'#REF!' is not on the list"), ("scorch,bubble", "#NUM!,", "not a number"),
])
def test_what_cannot_be_right_is_rejected(
    tmp_path: Path, columns: str, cells: str, said: str
) -> None:
    assert said in reason(tmp_path, columns, cells)


@pytest.mark.parametrize("columns, cells", [
    ("defects,dwell_s", ",600"), ("defects,rotation_deg", ",-180"),
    ("defects,temperature_f", ",32"),
    ("defects,pieces,defective", "scorch*3;bubble,5,4"), ("defects,pieces,defective", ",5,0"),
    ("defects,pieces", ",5"), ("defects", "scorch*4"), ("defects,defective", "scorch,1"),
    ("defects", " scorch @ top_left : 6.5 * 2 ; bubble "), ("scorch,bubble", "0,2"),
    ("defects,stage", ",Wash"), ("defects,note", ",#N/A"), ("defects,note", ",=cmd|' /C calc'!A0"),
    ("defects,temperature_lower_f,prepress_s,cover,second_press_s,pressure_class",
     ",300,5,sheet,5,heavy"),
])
def test_what_can_be_right_is_not(tmp_path: Path, columns: str, cells: str) -> None:
    assert reason(tmp_path, columns, cells) == ""


@pytest.mark.parametrize("field, cell", [("press", "P9"), ("fabric", "wool"), ("transfer", "foil")])
def test_codes_on_no_list(tmp_path: Path, field: str, cell: str) -> None:
    row = {"piece_id": "a", "inspected_at": "2026-03-01T10:00", "press": "P1", "fabric": "tee",
           "transfer": "film", "defects": "own_kind"} | {field: cell}
    path = write(tmp_path, f"{','.join(row)}\n{','.join(row.values())}\n")
    said = reasons(path)[2]
    assert f"{field} '{cell}' is not on the list" in said
    assert "own_kind" in said
    found = parsed(path, new_codes=True)
    assert found.rejects == {}
    lists = {"press": "presses", "fabric": "fabrics", "transfer": "transfers"}
    assert found.new_codes == {lists[field]: (cell,), "kinds": ("own_kind",)}


def test_codes_of_rejected_rows_are_not_new_codes(tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER},dwell_s\n{ROW.replace('P1', 'P9')}own,-1\n")
    assert parsed(path, new_codes=True).new_codes == {}


def test_a_row_tells_all_that_is_wrong_with_it(tmp_path: Path) -> None:
    said = reason(tmp_path, "defects,dwell_s,rotation_deg,stage", "nokind@zz;scorch*x,-1,400,never")
    assert len(said.split("; ")) == 6
    for words in ("nokind", "'zz'", "'x'", "dwell_s", "rotation_deg", "stage"):
        assert words in said


def test_required_cells_and_ragged_rows(tmp_path: Path) -> None:
    text = f"{HEADER}\n,2026-03-01T10:00,P1,tee,film,\na2,,P1,tee,film,\na3,2026-03-01\n{ROW},x,y\n"
    said = reasons(write(tmp_path, text))
    assert said[2] == "piece_id is blank, every row needs it"
    assert said[3] == "inspected_at is blank, every row needs it"
    assert "the row has 2 cells, the header 6" in said[4]
    assert "the row has 8 cells, the header 6" in said[5]


@pytest.mark.parametrize("separator", [";", "\t"])
def test_a_decimal_comma_where_cells_are_parted_otherwise(tmp_path: Path, separator: str) -> None:
    header = f"{HEADER},temperature_c,dx_mm".replace(",", separator)
    row = ROW.replace(",", separator) + separator.join(["lifted_edge@top:6,5", "160,5", "-1.25"])
    found = parsed(write(tmp_path, f"{header}\n{row}\n"))
    assert found.rejects == {}
    assert found.frame["temperature_c"][0] == 160.5
    assert found.frame["dx_mm"][0] == -1.25
    assert found.findings["extent_mm"][0] == 6.5
    twice = row.replace("160,5", "1.160,5")
    assert "'1.160,5', not a number" in reasons(write(tmp_path, f"{header}\n{twice}\n"))[2]


def test_counts_by_kind_equal_the_defects_column(tmp_path: Path) -> None:
    wide = f"{HEADER[:-8]},scorch,bubble,pieces,defective\n{ROW[:-1]},2,1.0,5,3\n"
    long = f"{HEADER},pieces,defective\n{ROW}scorch*2;bubble,5,3\n"
    a, b = parsed(write(tmp_path, wide)), parsed(write(tmp_path, long, "b.csv"))
    same = ["row", "kind", "n"]
    pd.testing.assert_frame_equal(a.findings[same], b.findings[same], check_dtype=False)


def test_an_unknown_column_of_counts_refuses_the_file(tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER},scortch\n{ROW},\n{ROW},2\n")
    with pytest.raises(InputError, match="'scortch' is unknown.*--ignore scortch"):
        parsed(path)
    assert parsed(path, ignore=("scortch",)).warnings == ()
    for cells in (("0", ""), ("", ""), ("1", "a"), ("1", "2.5"), ("-1", "0")):
        path = write(tmp_path, f"{HEADER},scortch\n{ROW},{cells[0]}\n{ROW},{cells[1]}\n")
        assert parsed(path).warnings == ("unknown column kept out: 'scortch'",)


def test_machine_checks_in_every_pressure_unit(tmp_path: Path) -> None:
    text = ("measured_at,press,quantity,set_value,measured_value,instrument\n"
            "2026-03-01T10:00,P1,pressure_psi,40,41,G1\n2026-03-01T10:00,P1,pressure_bar,3,2.9,G1\n"
            "2026-03-01T10:00,P1,dwell_s,12,12.5,T1\n2026-03-01T10:00,P1,pressure_dial,5,5,\n"
            "2026-03-01T10:00,P1,dwell_s,-1,12,\n2026-03-01T10:00,P1,pressure_psi,40,400,\n"
            "2026-03-01T10:00,P1,heat,1,1,\n")
    found = parsed(write(tmp_path, text))
    assert found.kind == "machine_checks"
    assert found.frame["quantity"].tolist() == ["pressure_kpa"] * 2 + ["dwell_s", "pressure_dial"]
    assert found.frame["set_value"].tolist() == pytest.approx([275.79029, 300, 12, 5])
    assert found.frame["state"].tolist() == ["routine"] * 4
    said = dict(found.rejects.values())
    assert "set_value is -1, out of range for dwell_s, allowed: 0 to 600 s" in said[6]
    assert ("measured_value is 400, out of range for pressure_psi, allowed: 0 to 290.075 psi"
            in said[7])
    assert said[8].endswith("quantity is 'heat', allowed: dwell_s, pressure_kpa, pressure_dial,"
                            " pressure_psi, pressure_bar")


@pytest.mark.parametrize(("columns", "cells", "said"), [
    ("setpoint_c,reading_c", "160,318", "reading_c is 318 (318.0 °C), far from the setpoint"
     " 160.0 °C, but near it as °F (158.9 °C): if it was read so, name the column reading_f, else"
     " load it with --as-read"),
    ("setpoint_c,reading_f", "160,161", "near it as °C (161.0 °C): if it was read so, name the"
     " column reading_c"),
    ("setpoint_f,reading_f", "320,158", "near it as °C (158.0 °C)"),
    ("setpoint_c,reading_c", "160,999", "reading_c is 999"),
    ("setpoint_c,reading_c", "160,100", ""),  # far off, and in no other unit near
    ("setpoint_c,reading_c", "160,250", ""),
    ("setpoint_f,reading_c", "320,157", ""),
])
def test_a_reading_in_the_other_unit_is_asked_about(
    tmp_path: Path, columns: str, cells: str, said: str
) -> None:
    path = write(tmp_path, f"survey_id,measured_at,press,platen,row,col,{columns}\n"
                           f"S1,2026-03-01T10:00,P1,upper,1,1,{cells}\n")
    found = reasons(path).get(2, "")
    assert said in found and bool(said) == bool(found)
    if "near it as" in said:
        assert reasons(path, as_read=True) == {}
        assert parsed(path, as_read=True).frame["reading_c"].notna().all()


def test_recipes_and_fabrics_that_contradict_themselves(tmp_path: Path) -> None:
    text = ("fabric,transfer,temperature_c,temperature_low_c,temperature_high_c,peel\n"
            "tee,film,160,155,165,warm\ntee,foam,150,155,165,warm\ntee,film,,,,lukewarm\n")
    said = reasons(write(tmp_path, text))
    assert set(said) == {3, 4}
    assert "temperature_c is below temperature_low_c" in said[3]
    assert "peel is 'lukewarm'" in said[4]
    text = "fabric,cotton_pct,polyester_pct\nmix,80,20\nodd,80,40\n"
    assert "more than 100 %" in reasons(write(tmp_path, text))[3]


def test_a_window_upside_down_is_refused_without_a_target_too(tmp_path: Path) -> None:
    text = ("fabric,transfer,temperature_c,dwell_low_s,dwell_high_s\n"
            "tee,film,160,15,12\ntee,foam,160,12,15\n")
    assert reasons(write(tmp_path, text)) == {2: "dwell_high_s is below dwell_low_s"}


def test_every_reason_is_known_by_its_field(tmp_path: Path) -> None:
    found = parsed(write(tmp_path, "fabric,transfer,dwell_low_s,dwell_high_s,peel,valid_from\n"
                                   "silk,film,15,12,lukewarm,soon\ntee,film,12,15,warm,\n"))
    assert list(found.faults) == [0]
    assert [field for field, _ in found.faults[0]] == [
        "fabric", "peel", "valid_from", "dwell_high_s"]
    assert "; ".join(words.replace(";", ",") for _, words in found.faults[0]) == (
        found.rejects[0][1])


def test_lists_need_not_know_their_own_codes(tmp_path: Path) -> None:
    text = "press,heated_lower,platen_width_in\nP9,Yes,15\nP8,maybe,15\n"
    found = parsed(write(tmp_path, text))
    assert found.frame["heated_lower"].tolist() == ["yes"]
    assert found.frame["platen_width_mm"].tolist() == pytest.approx([381.0])
    assert "allowed: yes, no" in found.rejects[1][1]


# --- times

TEXTS = ["2026-03-01T10:00", "2026-03-01 10:00:30.5", "2026-03-01T10:00Z", "2026-03-01T10:00+05:30",
         "2026-03-01T10:00:00-0800", "20260301T100000", "2026-03-01", "2026-05-31T23:59:59.999999"]


@pytest.mark.parametrize(
    "zone", ["Europe/Lisbon", "America/New_York", "Australia/Lord_Howe", "UTC"])
def test_a_column_of_times_reads_as_each_alone(zone: str) -> None:
    found = times_of("t", [*TEXTS, ""], zone=ZoneInfo(zone), latest_us=NOW_US)
    assert found.messages == [None] * (len(TEXTS) + 1)
    assert found.us.tolist() == [parse_instant(text, ZoneInfo(zone)) for text in TEXTS] + [NO_TIME]


@pytest.mark.parametrize("text, said", [
    # the last Sunday of March and of October, 01:00 UTC: EU Directive 2000/84/EC
    ("2026-03-29T01:30", "does not exist in Europe/Lisbon"),
    ("2025-10-26T01:30", "exists twice in Europe/Lisbon"),
    ("2026-02-30T10:00", "not a time"), ("2026-03-01T25:00", "not a time"), ("noon", "not a time"),
    ("2026", "not a time"), ("1772359200", "not a time"), ("01/03/2026 10:00", "not a time"),
    ("now", "not a time"), ("today", "not a time"), ("NaT", "not a time"),
    ("2026-03-01T10:00+99:00", "not a time"), ("2026-06-01T13:06", "ahead of now"),
    ("2026-06-01T12:06Z", "ahead of now"), ("9999-12-31T23:59", "ahead of now"),
    ("1900-01-00T10:00", "not a time"), ("1899-12-31T10:00", "before 1980"),
    ("0001-01-01T00:00", "before 1980"),
])
def test_times_that_cannot_be(text: str, said: str) -> None:
    found = times_of("t", [text, "2026-03-01T10:00"], zone=LISBON, latest_us=NOW_US + 300_000_000)
    assert said in (found.messages[0] or "accepted")
    assert found.messages[1] is None


def test_five_minutes_ahead_is_a_clock_that_differs(tmp_path: Path) -> None:
    for text, ahead in (("2026-06-01T12:05:00Z", False), ("2026-06-01T12:05:01Z", True)):
        path = write(tmp_path, f"{HEADER}\n{ROW.replace('2026-03-01T10:00', text)}\n")
        assert ("ahead of now" in reasons(path).get(2, "")) is ahead


def test_a_time_with_an_offset_is_exact_in_a_clock_change(tmp_path: Path) -> None:
    row = ROW.replace("2026-03-01T10:00", "2025-10-26T01:30+01:00")
    path = write(tmp_path, f"{HEADER}\n{row}\n")
    assert parsed(path).frame["inspected_at"].tolist() == [
        parse_instant("2025-10-26T00:30Z", LISBON)]


def test_a_recipe_may_hold_from_a_day_to_come(tmp_path: Path) -> None:
    text = "fabric,transfer,valid_from\ntee,film,2026-09-01\n"
    assert parsed(write(tmp_path, text)).rejects == {}


@given(st.lists(st.datetimes(min_value=pd.Timestamp("1990-01-01").to_pydatetime(),
                             max_value=pd.Timestamp("2026-05-01").to_pydatetime()), max_size=20),
       st.sampled_from(["Europe/Lisbon", "America/St_Johns", "Africa/Casablanca", "Asia/Kolkata"]))
@settings(max_examples=60, deadline=None)
def test_any_wall_clock_time_reads_or_is_refused_as_alone(moments: list, zone: str) -> None:
    texts = [moment.isoformat() for moment in moments]
    found = times_of("t", texts, zone=ZoneInfo(zone), latest_us=None)
    for text, us, message in zip(texts, found.us.tolist(), found.messages, strict=True):
        try:
            assert parse_instant(text, ZoneInfo(zone)) == us
        except InputError:
            assert message is not None
            assert "clock change" in message
