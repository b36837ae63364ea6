"""`qc baseline` as a shell sees it: shown, frozen, told of a change; wrong use in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from qc.store import open_store
from qc.store.baselines import read_agreed_changes, read_baselines
from tests.cli.running import Shell
from tests.qc.desk.baseline_shop import filled

ANSWER = ["state", "decision", "history", "baseline_from", "changes", "proposal"]
PROPOSAL = ["from", "until", "days", "pieces", "left_out", "defects", "left_stretches", "against",
            "signals", "ready", "wait"]


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """The small steady shop of the desk's tests."""
    path = tmp_path / "shop.db"
    filled(open_store(str(path), create=True)).store.close()
    return path


def test_shown_frozen_and_outdated(shell: Shell, place: Path) -> None:
    first = shell.run("baseline", "--store", place, "--json")
    assert (first.code, first.err) == (0, "")
    assert list(first.json) == ANSWER and list(first.json["proposal"]) == PROPOSAL
    assert (first.json["state"], first.json["decision"], first.json["history"]) == (
        "open", None, [])
    assert first.json["proposal"]["from"] == "2026-03-02T00:00:00+00:00"
    assert (first.json["proposal"]["pieces"], first.json["proposal"]["ready"]) == (3000, True)
    frozen = shell.run("baseline", "--store", place, "--freeze", "--by", "ann", "--why",
                       "a calm month", "--json")
    assert frozen.code == 0 and frozen.err.startswith("frozen: baseline 1;")
    decision = frozen.json["decision"]
    assert (frozen.json["state"], decision["by"], decision["why"]) == (
        "frozen", "ann", "a calm month")
    assert (decision["from"], decision["until"]) == (
        first.json["proposal"]["from"], first.json["proposal"]["until"])
    told = shell.run("baseline", "--store", place, "--changed", "2026-04-10", "--by", "bo",
                     "--why", "new film", "--json")
    assert (told.code, told.json["state"]) == (0, "waiting")
    assert told.json["changes"] == [{"at": "2026-04-10T00:00:00+00:00", "by": "bo",
                                     "why": "new film", "flag_id": None}]
    assert told.json["proposal"]["wait"] == {"days": 9, "pieces": 340}
    again = shell.run("baseline", "--store", place, "--freeze", "--from", "2026-04-10",
                      "--until", "open", "--by", "bo", "--why", "new film", "--json")
    assert (again.json["state"], again.json["decision"]["until"]) == ("frozen", None)
    assert [one["number"] for one in again.json["history"]] == [1, 2]
    before = shell.run("baseline", "--store", place, "--as-of", "2026-04-15", "--json")
    assert (before.json["state"], before.json["history"]) == ("open", [])


def test_text_says_who_and_why_and_what_is_proposed(
    shell: Shell, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    shell.run("baseline", "--store", place, "--freeze", "--by", "ann", "--why", "calm [1]")
    shell.run("baseline", "--store", place, "--changed", "2026-04-10", "--by", "bo", "--why", "x")
    shell.run("baseline", "--store", place, "--freeze", "--from", "2026-04-10", "--by", "bo",
              "--why", "new film")
    done = shell.run("baseline", "--store", place)
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    said = " ".join(done.out.split())
    for words in ("Usual rates rest on the work from 10 Apr 2026 to", "frozen by bo.",
                  "by bo: new film.", "Too early to freeze a baseline", "Earlier baselines",
                  "by ann: calm [1]."):
        assert words in said


@pytest.mark.parametrize(("words", "said"), [
    (["--freeze", "--by", "a"], "a decision needs a reason; say it with --why"),
    (["--changed", "2026-04-10", "--why", " "], "needs a reason"),
    (["--freeze", "--changed", "2026-04-10", "--why", "x"], "are two decisions"),
    (["--freeze", "--as-of", "2026-04-10", "--why", "x"], "--as-of looks back"),
    (["--from", "2026-03-10"], "--from and --until go with --freeze"),
    (["--freeze", "--until", "2026-03-10", "--why", "x"], "--until needs --from"),
    (["--why", "x"], "go with --freeze or --changed"),
    (["--freeze", "--from", "soon", "--why", "x"], "'soon' is not a time"),
    (["--freeze", "--from", "2026-03-20", "--until", "2026-03-10", "--why", "x"],
     "before it begins"),
    (["--freeze", "--from", "2026-03-20", "--until", "2026-03-21", "--why", "x"],
     "only 60 pieces were pressed in that period"),
    (["--freeze", "--from", "2026-03-20", "--until", "2090-03-21", "--why", "x"], "in the future"),
    (["--changed", "2090-03-21", "--why", "x"], "in the future"),
])
def test_wrong_use_is_one_clear_line(
    shell: Shell, place: Path, words: list[str], said: str
) -> None:
    done = shell.run("baseline", "--store", place, *words)
    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert said in done.err
    store = open_store(str(place))
    assert (read_baselines(store), read_agreed_changes(store)) == ((), ())
    store.close()


def test_without_a_store_it_is_exit_3(shell: Shell, tmp_path: Path) -> None:
    for more in ((), ("--freeze", "--why", "x"), ("--json",)):
        done = shell.run("baseline", "--store", tmp_path / "none.db", *more)
        assert (done.code, done.out, done.err.count("\n")) == (3, "", 1)
    assert not list(tmp_path.iterdir())
