"""`qc case` as a shell sees it, on a real shop whose records end long ago."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from qc.cli.demo import _clock
from qc.desk.case_steps import StepWanted, take_step
from qc.desk.flags import current_flags
from qc.desk.shop import open_shop
from qc.store.inspections import read_looks
from tests.cli.running import Shell
from tests.dashboard.small_shop import END_US
from tests.qc.desk.case_shop import case_shop

END = "2026-04-10T16:00:00+00:00"
KEYS = ["id", "state", "overdue", "flag", "opened_at", "acknowledged_by", "cause", "owner",
        "due_at", "closed_at", "check", "steps"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made")
    case_shop(folder, surveyed=False).store.close()
    return folder / "shop.db"


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Path:
    """A store of this test alone."""
    return Path(shutil.copy(made, tmp_path / "shop.db"))


def flag_id(shell: Shell, place: Path) -> str:
    (flag,) = shell.run("flags", "--store", place, "--json").json
    return str(flag["id"])


def test_a_case_from_flag_to_close_in_the_shell(shell: Shell, place: Path) -> None:
    flag = flag_id(shell, place)
    new = shell.run("case", flag, "--store", place, "--json").json
    assert list(new) == [*KEYS, "pieces", "causes"] and new["state"] == "new"
    assert new["pieces"]["in_house"] > 0 and new["causes"][0]["found_here"] == 0
    seen = shell.run("case", flag, "--store", place, "--acknowledge", "--contain", "--by", "Ana",
                     "--json")
    assert (seen.code, seen.err) == (0, "")
    assert seen.json["acknowledged_by"] == ["Ana"] and seen.json["pieces"]["in_house"] == 0
    done = shell.run("case", flag, "--store", place, "--cause", "k005", "--action", "bank changed",
                     "--owner", "Bo", "--due", "2026-04-20", "--by", "Bo", "--json").json
    assert done["cause"]["code"] == "K005" and done["owner"] == "Bo" and done["overdue"]
    assert done["due_at"] == "2026-04-20T23:59:59+01:00"
    assert done["check"]["verdict"] == "too_early"
    closed = shell.run("case", flag, "--store", place, "--close", "--by", "Bo", "--json").json
    assert closed["state"] == "closed" and not closed["overdue"]
    assert [step["step"] for step in closed["steps"]] == [
        "open", "acknowledge", "contain", "cause", "action", "owner", "due", "close"]
    assert all(list(step)[:4] == ["number", "step", "by", "at"] for step in closed["steps"])
    assert shell.run("flags", "--store", place, "--json").json == []
    assert len(shell.run("flags", "--store", place, "--as-of", END, "--json").json) == 1
    assert shell.run("case", "--store", place, "--as-of", END, "--json").json == []
    shop = open_shop(str(place))
    looks = read_looks(shop.store, as_of_us=10**16)
    assert (looks["disposition"] == "hold").sum() > (
        read_looks(shop.store, as_of_us=END_US)["disposition"] == "hold").sum()


def test_the_text_says_what_was_done_and_what_is_missing(shell: Shell, place: Path) -> None:
    flag = flag_id(shell, place)
    new = shell.run("case", flag, "--store", place)
    assert new.code == 0 and "Nobody has taken it up" in new.out and "K001" in new.out
    said = shell.run("case", flag, "--store", place, "--action", "[b]pad[/b] changed",
                     "--note", "=1+1", "--by", "<b>Ana</b>").out
    for part in ("<b>Ana</b> acted: [b]pad[/b] changed", "noted: =1+1",
                 "Before it can be closed: cause", "Check of the action: too early to tell"):
        assert part in said, part
    listed = shell.run("case", "--store", place).out
    assert "Open (1)" in listed and flag in listed and "no owner" in listed
    assert "No flag has become a case" in shell.run("case", "--store", place, "--as-of", END).out


@pytest.mark.parametrize(("arguments", "code", "words"), [
    (["--acknowledge"], 2, "a step needs the flag it is about"),
    (["zz", "--acknowledge"], 2, "there is no flag 'zz'"),
    (["zz"], 2, "there is no flag 'zz'"),
    (["FLAG", "--close"], 1, "say its cause and its action first"),
    (["FLAG", "--reopen", "x"], 1, "only a closed one can be re-opened"),
    (["FLAG", "--note", " "], 2, "needs a text"),
    (["FLAG", "--due", "soon"], 2, "'soon' is not a time"),
    (["FLAG", "--done", "2026-04-01"], 2, "say which with --action"),
    (["FLAG", "--action", "x", "--done", "2999-01-01"], 2, "still to come"),
    (["FLAG", "--acknowledge", "--as-of", END], 2, "leave --as-of out"),
])
def test_what_cannot_be_is_one_clear_line(
    shell: Shell, place: Path, arguments: list[str], code: int, words: str
) -> None:
    given = [flag_id(shell, place) if one == "FLAG" else one for one in arguments]
    outcome = shell.run("case", *given, "--store", place)
    assert outcome.code == code and words in outcome.err
    assert outcome.out == "" and len(outcome.err.splitlines()) == 1
    assert shell.run("case", "--store", place, "--json").json == []


def test_what_was_kept_before_a_step_that_fails_is_said(shell: Shell, place: Path) -> None:
    outcome = shell.run("case", flag_id(shell, place), "--store", place, "--acknowledge", "--close")
    assert outcome.code == 1
    assert outcome.err.splitlines()[0] == "qc: kept: acknowledge"


def test_the_demos_clock_never_runs_behind_what_was_done(place: Path) -> None:
    shop = open_shop(str(place))
    (flag,) = current_flags(shop, as_of_us=END_US).flags
    assert 0 <= _clock(place, END_US)() - END_US < 60_000_000
    done_us = END_US + 3_600_000_000
    take_step(shop, StepWanted(flag_id=flag.id, step="acknowledge"), by="Ana", at_us=done_us)
    shop.store.close()
    assert 0 <= _clock(place, END_US)() - done_us < 60_000_000
