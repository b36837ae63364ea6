"""Every command is documented, and every documented command runs."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import typer
from click import Group

import qc.cli
from demo_data import demo_shop
from demo_data.building import build_store
from qc.cli.demo import DEFAULT_FILE
from tests.docs import reading

SERVERS = frozenset({"demo", "serve"})
"""These run until stopped: their documented options are looked up in their help instead."""


def _commands() -> Group:
    group = typer.main.get_command(qc.cli.build_app())
    assert hasattr(group, "commands")
    return group  # type: ignore[return-value]


def _run(arguments: list[str], monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr(sys, "argv", arguments)
    try:
        qc.cli.main()
    except SystemExit as left:
        return int(left.code or 0)
    return 0


@pytest.mark.parametrize("name", sorted(_commands().commands))
def test_every_command_is_documented(name: str) -> None:
    said = {
        line.split()[1]
        for document in reading.DOCUMENTS
        for line in reading.inline_code(document)
        if line.startswith("qc ")
    }
    assert name in said


@pytest.mark.parametrize("document", reading.DOCUMENTS)
def test_commands_named_in_the_text_exist(document: str) -> None:
    known = {*_commands().commands, "--help", "--version"}
    named = {
        code.split()[1] for code in reading.inline_code(document)
        if code.startswith("qc ") and len(code.split()) > 1
    }
    assert named <= known


@pytest.mark.parametrize("document", reading.DOCUMENTS)
def test_options_named_with_a_command_exist(document: str) -> None:
    commands = _commands().commands
    lines = [code.split() for code in reading.inline_code(document) if code.startswith("qc ")]
    for words in [*lines, *reading.command_lines(document)]:
        if words[1].startswith("-"):
            continue
        command = commands[words[1]]
        if len(words) > 2:  # a group of commands: qc report press
            command = getattr(command, "commands", {}).get(words[2], command)
        known = {name for option in command.params for name in option.opts}
        given = {word.partition("=")[0].strip("[]") for word in words[2:] if "--" in word[:3]}
        assert given <= known | {"--help"}, words


@pytest.mark.parametrize("document", reading.DOCUMENTS)
def test_documented_commands_run(
    document: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    lines = [line for line in reading.command_lines(document) if line[1] not in SERVERS]
    assert lines or document != "README.md", "the README shows commands"
    _lay_out_files(document, tmp_path)
    if any(DEFAULT_FILE in line for line in lines):
        build_store(demo_shop(), tmp_path / DEFAULT_FILE, by="documents")
    monkeypatch.chdir(tmp_path)
    for line in lines:
        code = _run(line, monkeypatch)
        said = capsys.readouterr()
        assert code == 0, f"{' '.join(line)}: {said.err}{said.out}"


def _lay_out_files(document: str, folder: Path) -> None:
    for name, text in reading.example_files(document).items():
        (folder / name).write_text(text, encoding="utf-8")
