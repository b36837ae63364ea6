from __future__ import annotations

import pytest

from tests.cli.running import Shell


@pytest.mark.parametrize(("arguments", "message"), [
    (["t.csv", "--kind", "p", "--centre", "abc"], "Invalid value for '--centre'"),
    (["t.csv"], "Missing option '--kind'"),
    ([], "Missing argument 'FILE'"),
    (["t.csv", "--kind"], "'--kind' requires an argument"),
])
def test_an_option_used_wrongly_is_one_line(
    shell: Shell, arguments: list[str], message: str
) -> None:
    outcome = shell.run("chart", *arguments)
    assert outcome.code == 2
    assert outcome.err.startswith("qc: ")
    assert message in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_a_misspelt_option_is_one_line(shell: Shell) -> None:
    outcome = shell.run("pareto", "--as-off", "2026-03-01")
    assert (outcome.code, outcome.out) == (2, "")
    assert "No such option: --as-off" in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_help_is_no_error(shell: Shell) -> None:
    outcome = shell.run("chart", "--help")
    assert (outcome.code, outcome.err) == (0, "")
    assert "--baseline" in outcome.out
