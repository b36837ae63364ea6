"""`python -m demo_data`: files that load, the truth in words, plain refusals."""

from __future__ import annotations

import json
import shlex
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from demo_data.__main__ import main
from demo_data.random_shops import RANDOM_FAULTS

SMALL = ["--presses", "3", "--pieces", "3000", "--days", "40"]


def say(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert main(arguments) == 0
    return capsys.readouterr().out


def test_the_printed_commands_load_the_files_and_ask(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "tried"
    said = say(capsys, "--fault", "press_fault", "--seed", "7", "--out", str(folder), *SMALL)
    load, flags = (shlex.split(line.strip()) for line in said.splitlines()[-2:])
    files = [str(path) for path in sorted(folder.glob("*.csv"))]
    at = load.index(f"{folder}/*.csv")
    for command in ([*load[:at], *files, *load[at + 1:]], [*flags, "--json"]):
        done = subprocess.run(
            [sys.executable, "-c", "from qc.cli import main; main()", *command[1:]],
            capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
    assert isinstance(json.loads(done.stdout), list)
    truth = json.loads((folder / "truth.json").read_text())
    assert [one["kind"] for one in truth] == ["press_fault"]
    assert f"press {truth[0]['level']}, from {truth[0]['start'][:16]}" in said
    assert f"{truth[0]['usual']:.0f} lifted_edge usual there" in said


def test_the_same_options_give_the_same_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ["--fault", "size_fault", "--seed", "3", "--until", "2026-03-31", *SMALL]
    for name in ("a", "b"):
        say(capsys, *options, "--out", str(tmp_path / name))
    for path in (tmp_path / "a").iterdir():
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes()
    rows = (tmp_path / "a" / "inspections.csv").read_text()
    assert "2026-03-31T" in rows
    assert "2026-04-02T" not in rows


def test_a_shop_never_ends_in_the_future(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said = say(capsys, "--out", str(tmp_path / "now"), *SMALL)
    last = said.split(" to ")[1][:10]
    assert date.fromisoformat(last) < date.today()
    assert "planted: nothing" in said


def test_dials_are_turned(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    say(capsys, "--fault", "press_fault", "--seed", "5", "--stacks", "1", "--missing", "0",
        "--ratio", "5", "--enough", "4", "--out", str(tmp_path / "d"), *SMALL)
    truth = json.loads((tmp_path / "d" / "truth.json").read_text())[0]
    assert truth["size"] == 5
    assert truth["usual"] == pytest.approx(4, abs=0.4)
    header, *rows = (tmp_path / "d" / "inspections.csv").read_text().splitlines()
    pieces = header.split(",").index("pieces")
    assert max(int(row.split(",")[pieces]) for row in rows) > 5


def test_every_kind_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    said = say(capsys, "--list")
    assert [line.split()[0] for line in said.splitlines()] == list(RANDOM_FAULTS)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [([], "--out names the new folder"),
     (["--out", ".", "--fault", "gremlins"], "invalid choice: 'gremlins'"),
     (["--out", "x", "--stacks", "3"], "3 is not between 0 and 1"),
     (["--out", "x", "--presses", "0"], "0 is not between 1 and 40")],
)
def test_what_cannot_be_is_refused_in_words(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    assert words in capsys.readouterr().err


def test_a_folder_with_files_is_left_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine.csv").write_text("mine")
    with pytest.raises(SystemExit):
        main(["--out", str(tmp_path), *SMALL])
    assert "has files in it already; name a new folder" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.csv"]
