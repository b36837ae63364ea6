from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest

from qc.desk.presses import calibration_signals, platen_drift, press_health, survey_map
from qc.desk.shop import open_shop
from qc.domain.instants import DAY_US, iso
from qc.domain.platens import PLATEN_STATES
from qc.errors import NotFound
from qc.store import open_store
from qc.store.records import add_records
from qc.store.settings import change_setting
from tests.cli.running import Shell
from tests.qc.presses.made import T0, instruments, presses, readings, survey

KEYS = [
    "press", "platen", "last_survey_at", "offset_c", "spread_c", "coldest", "uncertainty_c",
    "slope_c_per_day", "slope_interval", "crosses_at", "crosses_between", "due_at", "state",
    "reason",
]
LOADED_US = T0 + 200 * DAY_US
DRIFTING = [survey(7 * i, -1.0 + 0.6 * i, press="P1") for i in range(6)]
BEYOND = [survey(7 * i, 0.2 if i < 5 else -5.5, press="P2") for i in range(6)]
EVEN = [survey(7 * i, 0.3, press="P3", instrument="K9") for i in range(6)]


@pytest.fixture
def place(place: str) -> str:
    """A real store, SQLite and PostgreSQL, with three surveyed presses and one that is not."""
    opened = open_store(place, create=True)
    given = {"by": "tester", "at_us": LOADED_US, "source": "hand"}
    change_setting(opened, name="timezone", value="Europe/Lisbon", by="tester", at_us=LOADED_US)
    listed = presses("P1", "P2", "P3", "P4").assign(
        name=None, kind=None, platen_width_mm=400.0, platen_height_mm=500.0)
    add_records(opened, "presses", listed, **given)
    add_records(opened, "instruments", instruments(uncertainty_c=1.5, k=3.0), **given)
    add_records(opened, "platen_readings", readings(*DRIFTING, *BEYOND, *EVEN), **given)
    checks = pd.DataFrame({
        "measured_at": [T0 + DAY_US, T0 + 2 * DAY_US], "press": ["P3", "P4"],
        "quantity": ["pressure_kpa", "dwell_s"], "set_value": [280.0, 15.0],
        "measured_value": [200.0, 15.1], "instrument": None, "state": "routine"})
    add_records(opened, "machine_checks", checks, **given)
    opened.close()
    return place


def _time(day: float) -> str:
    return datetime.fromtimestamp(T0 / 1e6 + day * 86400).astimezone().isoformat()


def test_json_is_what_the_contract_says(shell: Shell, place: str) -> None:
    outcome = shell.run("presses", "--store", place, "--as-of", _time(36), "--json")
    assert (outcome.code, outcome.err) == (0, "")
    rows = outcome.json
    assert all(list(row) == KEYS for row in rows)
    assert [row["press"] for row in rows] == ["P2", "P3", "P4", "P1"]
    states = [row["state"] for row in rows]
    assert states == ["recalibrate", "watch", "unknown", "in_tolerance"]
    assert sorted(states, key=PLATEN_STATES.index) == states
    beyond = rows[0]
    assert beyond["offset_c"] == pytest.approx(-5.5) and beyond["coldest"] == [3, 3]
    assert beyond["uncertainty_c"] == pytest.approx(1.0)
    assert beyond["last_survey_at"] == "2026-02-05T00:00:00+00:00"
    assert rows[1]["uncertainty_c"] == 3.8 and "K9" in rows[1]["reason"]
    assert rows[2]["offset_c"] is None and rows[2]["due_at"] is None


def test_a_drift_crosses_where_its_line_does(shell: Shell, place: str) -> None:
    rows = shell.run("presses", "--store", place, "--as-of", _time(36), "--json").json
    (one,) = [row for row in rows if row["press"] == "P1"]
    assert one["slope_c_per_day"] == pytest.approx(0.6 / 7)
    low, high = (datetime.fromisoformat(end) for end in one["crosses_between"])
    crosses = datetime.fromisoformat(one["crosses_at"])
    assert low < crosses < high
    assert crosses.timestamp() == pytest.approx(T0 / 1e6 + 86400 * (35 + 2.0 / (0.6 / 7)), abs=60)


def test_looking_back_uses_nothing_later(shell: Shell, place: str) -> None:
    rows = shell.run("presses", "--store", place, "--as-of", _time(30), "--json").json
    assert {row["press"]: row["state"] for row in rows}["P2"] == "in_tolerance"
    assert all(row["last_survey_at"] is None or row["last_survey_at"] < "2026-01-31"
               for row in rows)


def test_the_text_says_why_and_warns_of_the_heat(
    shell: Shell, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    outcome = shell.run("presses", "--store", place, "--as-of", _time(36))
    assert outcome.code == 0
    text = " ".join(outcome.out.split())
    assert "P2 upper: Mean −5.5 °C from the setpoint is beyond ±4.0 °C" in text
    assert "Hot platen" in text and "maker's manual" in text and "qualified people" in text
    assert max(map(len, outcome.out.splitlines())) <= 80
    cells = ("P2", "recalibrate", "05 Feb", "2026-02-05", "−5.5", "2.0")
    assert any(all(cell in line for cell in cells) for line in outcome.out.splitlines())


def test_the_decision_follows_the_shops_rule_and_json_keeps_its_keys(
    shell: Shell, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    asked = ("presses", "--store", place, "--as-of", _time(36))
    before = shell.run(*asked, "--json").json
    text = " ".join(shell.run(*asked).out.split())
    assert "Decision: mean in tolerance (risk" in text and "Decided by simple acceptance" in text
    opened = open_store(place)
    change_setting(opened, name="guard_factor", value="1", by="tester", at_us=LOADED_US + 1)
    opened.close()
    outcome = shell.run(*asked)
    text = " ".join(outcome.out.split())
    assert "Decided by guard band of U, at most 2.3 % risk" in text
    assert "P3 upper:" in text and "mean cannot be shown" in text
    assert max(map(len, outcome.out.splitlines())) <= 80
    after = shell.run(*asked, "--json").json
    assert after == before and all(list(row) == KEYS for row in after)


def test_timers_and_gauges_stand_below_in_the_shops_units(
    shell: Shell, place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    opened = open_store(place)
    change_setting(opened, name="pressure_unit", value="psi", by="tester", at_us=LOADED_US + 1)
    opened.close()
    outcome = shell.run("presses", "--store", place, "--as-of", _time(36))
    lines = outcome.out.splitlines()
    gauge, = [line for line in lines if "gauge pressure" in line]
    for cell in ("P3", "41 psi", "−12 psi", "±5 psi", "out", "02 Jan"):
        assert cell in gauge, cell
    dwell, = [line for line in lines if " dwell " in line]
    assert "+0.1 s (±0.4 s)" in dwell and lines.index(gauge) < lines.index(dwell)
    assert max(map(len, lines)) <= 80


def test_pulls_of_paper_are_ranked_not_added_up(
    shell: Shell, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    rows = [f"2026-01-0{day}T07:00Z,P2,{corner},{grip}" for day in (1, 2, 3, 4, 5)
            for corner, grip in (("far_left", 2), ("far_right", 2), ("near_left", 2),
                                 ("near_right", 1), ("centre", 3))]
    pulls = tmp_path / "pulls.csv"
    pulls.write_text("\n".join(["measured_at,press,place,grip", *rows]), encoding="utf-8")
    assert shell.run("load", pulls, "--store", place).code == 0
    outcome = shell.run("presses", "--store", place, "--as-of", _time(36))
    said = " ".join(outcome.out.split())
    assert "P2, paper: weakest near right in 5 rounds, by luck under 1 %" in said
    assert max(map(len, outcome.out.splitlines())) <= 80


def test_an_empty_shop_says_so(shell: Shell, tmp_path: Path) -> None:
    empty = tmp_path / "empty.db"
    open_store(str(empty), create=True).close()
    assert shell.run("presses", "--store", empty, "--json").json == []
    outcome = shell.run("presses", "--store", empty)
    assert (outcome.code, "no platen" in outcome.out) == (0, True)


def test_wrong_use_is_one_clear_line(shell: Shell, place: str, tmp_path: Path) -> None:
    late = shell.run("presses", "--store", place, "--as-of", "soon")
    assert (late.code, late.out) == (2, "") and "'soon' is not a time" in late.err
    gone = shell.run("presses", "--store", tmp_path / "none.db")
    assert (gone.code, len(gone.err.splitlines())) == (3, 1)


def test_the_desk_answers_for_screens_too(place: str) -> None:
    shop, as_of_us = open_shop(place), T0 + 36 * DAY_US
    assert [h.press for h in press_health(shop, as_of_us=as_of_us)] == ["P2", "P3", "P4", "P1"]
    drawn = survey_map(shop, "P2", "upper", as_of_us=as_of_us)
    assert drawn.error_c.shape == (3, 3) and drawn.offset_c == pytest.approx(-5.5)
    first = survey_map(shop, "P2", "upper", as_of_us=as_of_us, survey_id="P2-0-routine")
    assert iso(first.surveyed_at_us, shop.zone).startswith("2026-01-01")
    series = platen_drift(shop, "P1", "upper", as_of_us=as_of_us)
    assert len(series.offset_c) == 6 and series.crosses_at_us is not None
    signals = calibration_signals(shop, as_of_us=as_of_us)
    assert ("P2", "down") in {(s.press, s.direction) for s in signals}
    with pytest.raises(NotFound, match="no survey"):
        survey_map(shop, "P4", "upper", as_of_us=as_of_us)
    with pytest.raises(NotFound, match="'S99'"):
        survey_map(shop, "P2", "upper", as_of_us=as_of_us, survey_id="S99")
    shop.store.close()
