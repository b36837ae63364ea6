"""`qc service` as a shell sees it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd
import pytest

from qc.domain.instants import DAY_US
from qc.store import open_store
from qc.store.records import add_records
from tests.cli.running import Shell
from tests.qc.presses.made import T0, presses, readings, survey

KEYS = ["id", "press", "platen", "reason", "why", "flag", "opened_at", "opened_by", "owner",
        "due_at", "state", "next_step", "evidence", "as_found", "as_left", "check",
        "pressed_meanwhile", "steps"]


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A store with one press whose platen drifts."""
    made = tmp_path / "shop.db"
    opened = open_store(str(made), create=True)
    given = {"by": "tester", "at_us": T0 + 200 * DAY_US, "source": "hand"}
    add_records(opened, "presses", presses("P1"), **given)
    drifting = [survey(7 * i, -1.0 - 0.9 * i, press="P1") for i in range(6)]
    add_records(opened, "platen_readings", readings(*drifting), **given)
    opened.close()
    return made


def load(shell: Shell, folder: Path, place: Path, state: str, offset: float, minutes: int) -> None:
    """A survey made so many minutes ago, through a file."""
    at = datetime.now(UTC) - timedelta(minutes=minutes)
    rows = pd.DataFrame({
        "survey_id": state, "measured_at": at.isoformat(timespec="seconds"), "press": "P1",
        "platen": "upper", "setpoint_c": 160, "row": [1, 1, 1, 2, 2, 2, 3, 3, 3],
        "col": [1, 2, 3] * 3,
        "reading_c": 160 + offset, "state": state})
    rows.to_csv(folder / f"{state}.csv", index=False)
    assert shell.run("load", folder / f"{state}.csv", "--store", place).code == 0


def test_an_order_from_opening_to_paper_and_close(
    shell: Shell, place: Path, tmp_path: Path
) -> None:
    opened = shell.run("service", "--open", "P1:upper", "--store", place, "--by", "Ana",
                       "--owner", "Rui", "--due", "2031-01-31", "--json")
    assert opened.code == 0
    assert list(opened.json) == KEYS
    assert opened.json["state"] == "find"
    assert (opened.json["owner"], opened.json["due_at"][:10]) == ("Rui", "2031-01-31")
    early = shell.run("service", "S1", "--close", "--store", place, "--by", "Ana")
    assert early.code == 2 or early.code == 1
    assert "cannot be closed yet" in early.err
    load(shell, tmp_path, place, "as_found", -6.0, 3)
    out = tmp_path / "order.html"
    printed = shell.run("service", "S1", "--out", out, "--store", place)
    assert "Pressed since the last good check" in printed.out
    assert "mean out of tolerance" in out.read_text(encoding="utf-8")
    load(shell, tmp_path, place, "as_left", 0.3, 1)
    closed = shell.run("service", "S1", "--done", "new relay", "--close", "--store", place,
                       "--by", "Rui", "--json").json
    assert closed["state"] == "closed"
    assert closed["check"]["in_tolerance"] is True
    assert [step["step"] for step in closed["steps"]] == ["owner", "due", "done", "close"]
    listed = shell.run("service", "--store", place)
    assert "S1  upper platen of P1: Closed." in listed.out
    assert all(len(line) <= 80 for line in listed.out.splitlines())


def test_nothing_yet_says_how_to_begin(shell: Shell, place: Path) -> None:
    found = shell.run("service", "--store", place)
    assert "qc service --open PRESS:PLATEN" in " ".join(found.out.split())
    assert shell.run("service", "--store", place, "--json").json == []


@pytest.mark.parametrize(("arguments", "told"), [
    (("--open", "P1"), "as P4:upper"),
    (("--open", "P9:upper"), "no upper platen of press 'P9'"),
    (("S1", "--open", "P1:upper"), "leave ORDER out"),
    (("--why", "smells"), "belong to --open"),
    (("--note", "x"), "say which order"),
    (("S7",), "no service order 'S7'"),
    (("S7", "--note", "x"), "no service order 'S7'"),
    (("--open", "P1:upper", "--as-of", "2025-01-01"), "leave --as-of out"),
])
def test_wrong_use_says_what_to_do(
    shell: Shell, place: Path, arguments: tuple[str, ...], told: str
) -> None:
    found = shell.run("service", *arguments, "--store", place)
    assert found.code != 0
    assert told in found.err
    assert found.out == ""
