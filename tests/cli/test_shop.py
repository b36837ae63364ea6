"""settings, correct, check, backup and rebuild as a shell sees them."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

import qc.cli
from qc.store import Store, open_store
from qc.store.audit import read_audit
from qc.store.checking import check_store
from qc.store.corrections import versions_of
from tests.qc.store.made import T0, add, findings_of, look

IDENTITY = {"piece_id": "a", "attempt": 1, "location": "left_chest", "stage": "final"}


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


class Shell:
    def __init__(
        self, place: str, patch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        self.place, self.patch, self.capsys = place, patch, capsys
        patch.setattr(qc.cli, "GROUPS", ("shop",))
        patch.setenv("QC_USER", "bo")

    def __call__(self, *words: str) -> Outcome:
        self.patch.setattr(sys, "argv", ["qc", *words, "--store", self.place])
        try:
            qc.cli.main()
            code = 0
        except SystemExit as left:
            code = int(left.code or 0)
        said = self.capsys.readouterr()
        return Outcome(code, said.out, said.err)


@pytest.fixture
def shell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Shell:
    return Shell(str(tmp_path / "shop.db"), monkeypatch, capsys)


@pytest.fixture
def filled(shell: Shell) -> Store:
    store = open_store(shell.place, create=True)
    add(store, [look("a"), look("b"), look("b", stage="wash", location=None)],
        findings_of((0, "scorch", "top", 2.0, 1)))
    return store


def test_settings_shows_all_and_one(shell: Shell, filled: Store) -> None:
    assert shell("settings", "--json").json["timezone"] == "UTC"
    assert "false_flags_per_week" in shell("settings").out
    assert shell("settings", "timezone", "--json").json == {"timezone": "UTC"}


def test_settings_sets_one_and_the_log_says_who(shell: Shell, filled: Store) -> None:
    done = shell("settings", "timezone", "Europe/Lisbon", "--json")
    assert (done.code, done.json) == (0, {"timezone": "Europe/Lisbon"})
    assert read_audit(filled)["changed_by"].tolist()[-1] == "bo"
    shell("settings", "shop_name", "Näherei [1]", "--by", "ann")
    assert "Näherei [1]" in shell("settings", "shop_name").out
    assert read_audit(filled)["changed_by"].tolist()[-1] == "ann"


@pytest.mark.parametrize(("words", "said"), [
    (["colour"], "there is no setting 'colour'; known settings: timezone"),
    (["colour", "red"], "there is no setting 'colour'"),
    (["timezone", "Mars/Base"], "there is no time zone 'Mars/Base'"),
])
def test_settings_refuses_in_one_line(
    shell: Shell, filled: Store, words: list[str], said: str
) -> None:
    done = shell("settings", *words)
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert said in done.err


def test_correct_keeps_both_versions(shell: Shell, filled: Store) -> None:
    done = shell("correct", "a", "--set", "temperature_f=302", "--set", "operator=",
                 "--set", "defects=bubble@left:3*1;wrinkle", "--set",
                 "pressed_at=2025-12-31T23:30:00+00:00", "--why", "read the wrong dial", "--json")
    assert done.code == 0
    assert (done.json["piece_id"], done.json["version"]) == ("a", 2)
    changed = done.json["changed"]
    assert changed["temperature_c"] == [160.0, pytest.approx(150.0)]
    assert changed["operator"] == ["ann", None]
    assert changed["pressed_at"][1] == "2025-12-31T23:30:00+00:00"
    first, second = versions_of(filled, IDENTITY)
    assert second["temperature_c"] == pytest.approx(150.0)  # (302 - 32) * 5 / 9
    assert second["pressed_at"] == T0 - 1_800_000_000
    assert [finding["kind"] for finding in second["findings"]] == ["bubble", "wrinkle"]
    assert (second["changed_by"], second["why"]) == ("bo", "read the wrong dial")
    assert first["operator"] == "ann"
    assert check_store(filled) == []


def test_correct_reads_inches_psi_and_local_times(shell: Shell, filled: Store) -> None:
    shell("settings", "timezone", "America/Lima")  # UTC-5 all year
    done = shell("correct", "a", "--set", "dx_in=0.5", "--set", "pressure_psi=40", "--set",
                 "pressed_at=2025-12-31T18:00", "--why", "x")
    assert done.code == 0
    now = versions_of(filled, IDENTITY)[-1]
    assert now["dx_mm"] == pytest.approx(12.7)  # an inch is 25.4 mm by definition
    assert now["pressure_kpa"] == pytest.approx(275.79, abs=0.005)  # NIST SP 811: 1 psi = 6.894757
    assert now["pressed_at"] == T0 - 3_600_000_000


def test_correct_asks_which_look_and_takes_the_answer(shell: Shell, filled: Store) -> None:
    done = shell("correct", "b", "--set", "note=x", "--why", "x")
    assert done.code == 2
    assert "has 2 looks that fit" in done.err
    assert "stage wash" in done.err
    assert shell("correct", "b", "--set", "note=x", "--why", "x", "--stage", "wash").code == 0


@pytest.mark.parametrize(("words", "said"), [
    (["zz", "--set", "note=x"], "there is no such look at piece zz"),
    (["a", "--set", "note"], "'note' is not a change; write field=value"),
    (["a", "--set", "temperature_k=300"], "a look has no 'temperature_k'"),
    (["a", "--set", "temperature_c=hot"], "temperature_c is 'hot'; it must be a number"),
    (["a", "--set", "temperature_c=nan"], "it must be a number"),
    (["a", "--set", "temperature_c=1", "--set", "temperature_f=9"], "is given twice"),
    (["a", "--set", "pieces=1.5"], "pieces is '1.5'; it must be a whole number"),
    (["a", "--set", "dwell_s=-1"], "dwell_s is -1; allowed: 0 to 600"),
    (["a", "--set", "rotation_deg=400"], "rotation_deg is 400; allowed: -180 to 180"),
    (["a", "--set", "defects=scorch@moon"], "zone 'moon' of"),
    (["a", "--set", "defects=@top"], "defects has '@top'; write kind"),
    (["a", "--set", "stage=wash"], "cannot be corrected"),
    (["a", "--set", "operator=ann"], "nothing would change"),
])
def test_correct_refuses_in_one_line(
    shell: Shell, filled: Store, words: list[str], said: str
) -> None:
    done = shell("correct", *words, "--why", "x")
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert said in done.err
    assert len(versions_of(filled, IDENTITY)) == 1


def test_a_look_is_taken_back_with_a_reason(shell: Shell, filled: Store) -> None:
    done = shell("correct", "a", "--take-back", "--why", "pressed twice by mistake", "--json")
    assert done.code == 0 and done.json == IDENTITY | {
        "taken_back": True, "why": "pressed twice by mistake"}
    last = versions_of(filled, IDENTITY)[-1]
    assert (last["withdrawn"], last["changed_by"]) == (True, "bo")
    assert check_store(filled) == []
    again = shell("correct", "a", "--take-back", "--why", "x")
    assert again.code == 2 and "there is no such look at piece a" in again.err


@pytest.mark.parametrize("words", [["a"], ["a", "--set", "note=x", "--take-back"]])
def test_correct_wants_one_thing_to_do(shell: Shell, filled: Store, words: list[str]) -> None:
    done = shell("correct", *words, "--why", "x")
    assert done.code == 2 and "either what it should be, with --set, or --take-back" in done.err


def test_check_says_sound_or_what_is_wrong(shell: Shell, filled: Store) -> None:
    assert shell("check", "--json").json == {"sound": True, "problems": []}
    assert shell("check").code == 0
    with filled.engine.begin() as connection:
        connection.execute(text("UPDATE inspections SET press = 'P2' WHERE number = 1"))
    done = shell("check", "--json")
    assert done.code == 1
    assert done.json["sound"] is False
    assert any("1 rows were altered" in line for line in done.json["problems"])
    assert "piece_tally" in done.err


def test_rebuild_puts_tallies_right(shell: Shell, filled: Store) -> None:
    with filled.engine.begin() as connection:
        connection.execute(text("DELETE FROM factor_tally"))
    assert shell("check").code == 1
    assert shell("rebuild").code == 0
    assert shell("check").code == 0


def test_backup_makes_a_file_that_opens(shell: Shell, filled: Store, tmp_path: Path) -> None:
    done = shell("backup", str(tmp_path / "kept.db"), "--json")
    assert done.json == {"file": str(tmp_path / "kept.db")}
    assert check_store(open_store(str(tmp_path / "kept.db"))) == []
    assert shell("backup", str(tmp_path / "kept.db")).code == 2


@pytest.mark.parametrize("command", [
    ["settings"], ["check"], ["rebuild"], ["backup", "x.db"],
    ["correct", "a", "--set", "note=x", "--why", "x"],
])
def test_without_a_store_each_command_says_so(shell: Shell, command: list[str]) -> None:
    done = shell(*command)
    assert (done.code, done.out) == (3, "")
    assert "there is no store at" in done.err


def test_a_damaged_store_is_exit_3_with_the_way_to_the_backup(
    shell: Shell, filled: Store, tmp_path: Path
) -> None:
    shell("backup", str(tmp_path / "kept.db"))
    filled.close()
    path = Path(shell.place)
    content = path.read_bytes()
    path.write_bytes(content[:100] + b"\xa5" * (len(content) - 100))
    done = shell("settings")
    assert (done.code, done.err.count("\n")) == (3, 1)
    assert "is damaged" in done.err
    assert f"copy {tmp_path / 'kept.db'} to {path}" in done.err


def test_settings_can_start_a_new_store(shell: Shell) -> None:
    assert shell("settings", "timezone", "Europe/Lisbon").code == 0
    assert shell("settings", "timezone", "--json").json == {"timezone": "Europe/Lisbon"}
