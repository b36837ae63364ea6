"""Run one group of commands in this process as a shell would: exit code, output, messages."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from typing import Any

import pytest

import qc.cli


@dataclass(frozen=True)
class Outcome:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The answer; NaN and infinity are not JSON."""
        return json.loads(self.out, parse_constant=_refuse)


def _refuse(name: str) -> None:
    raise AssertionError(f"{name} in the answer")


class Shell:
    """Runs `qc` with one group registered; the other groups stay unimported."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch, self._capsys = monkeypatch, capsys

    def run(self, group: str, *arguments: object) -> Outcome:
        self._monkeypatch.setattr(qc.cli, "GROUPS", (group,))
        self._monkeypatch.setattr(sys, "argv", ["qc", group, *map(str, arguments)])
        with pytest.raises(SystemExit) as left:
            qc.cli.main()
        said = self._capsys.readouterr()
        return Outcome(int(left.value.code or 0), said.out, said.err)
